"""The JSON Schema (draft 2020-12) of reports, made from the dataclasses' type hints and docstrings.

`report.schema.json` beside this file is what `schema()` gives; a test keeps it true.
"""

import types
from dataclasses import dataclass, fields, is_dataclass
from inspect import getdoc
from typing import Any, Union, get_args, get_origin, get_type_hints

from audio_qc.finding import STANDINGS, Finding
from audio_qc.measurement import SCHEMA, Measurement

SCALARS = {str: "string", int: "integer", float: "number", bool: "boolean"}


@dataclass(frozen=True)
class Verdict:
    """The worst standing of any finding, and one sentence that names the worst findings first."""

    standing: str
    sentence: str


@dataclass(frozen=True)
class Printed:
    """What `--json` prints of a file that could be measured: facts and a target profile's opinion of them."""

    audio_qc: str
    file: str
    verdict: Verdict
    measurement: Measurement
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Refused:
    """What `--json` prints of a file that cannot be measured: one sentence why."""

    file: str
    error: str


def schema() -> dict[str, Any]:
    """Return the schema of what `--json` prints: an object for one file, an array of them for several."""
    known: dict[str, Any] = {}
    one = {"oneOf": [schema_of(Printed, known), schema_of(Refused, known)]}
    known["Measurement"]["properties"]["schema"] = {"const": SCHEMA}
    known["Measurement"]["required"].insert(0, "schema")
    for name in ("Finding", "Verdict"):
        known[name]["properties"]["standing"] = {"enum": list(STANDINGS)}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:audio_qc:report:{SCHEMA}",
        "title": "Report of audio_qc",
        "oneOf": [{"$ref": "#/$defs/File"}, {"type": "array", "items": {"$ref": "#/$defs/File"}}],
        "$defs": {"File": one, **dict(sorted(known.items()))},
    }


def schema_of(hint: Any, known: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of a type hint; dataclasses are entered in `known` by their names and referred to."""
    if is_dataclass(hint) and isinstance(hint, type):
        if hint.__name__ not in known:
            known[hint.__name__] = {}  # entered first, for types that hold themselves
            known[hint.__name__].update(_object(hint, known))
        return {"$ref": f"#/$defs/{hint.__name__}"}
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        return {"anyOf": [schema_of(arg, known) for arg in get_args(hint)]}
    if origin is tuple:
        return _array(get_args(hint), known)
    return {"type": "null"} if hint is types.NoneType else {"type": SCALARS[hint]}


def _object(cls: Any, known: dict[str, Any]) -> dict[str, Any]:
    hints = get_type_hints(cls)
    return {
        "description": getdoc(cls) or "",
        "type": "object",
        "properties": {field.name: schema_of(hints[field.name], known) for field in fields(cls)},
        "required": [field.name for field in fields(cls)],
        "additionalProperties": False,
    }


def _array(args: tuple[Any, ...], known: dict[str, Any]) -> dict[str, Any]:
    if len(args) == 2 and args[1] is Ellipsis:
        return {"type": "array", "items": schema_of(args[0], known)}
    return {
        "type": "array",
        "prefixItems": [schema_of(arg, known) for arg in args],
        "minItems": len(args),
        "items": False,
    }
