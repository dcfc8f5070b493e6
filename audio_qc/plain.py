"""Turns frozen dataclasses into JSON-ready data and back, guided by their type hints."""

import math
import types
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from audio_qc.errors import StoredDataError


def to_plain(value: Any) -> Any:
    """Return dicts, lists, strings and numbers only; a number that is not finite is a mistake of ours and raises."""
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: to_plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple):
        return [to_plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("A measurement must be a finite number or None with a reason.")
    return value


def from_plain(hint: Any, data: Any) -> Any:
    """Build the value that `hint` (a dataclass, tuple[...], X | None or plain type) describes from JSON data."""
    if is_dataclass(hint):
        return _dataclass_from_plain(hint, data)
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        return None if data is None else from_plain(_only_type(hint), data)
    if origin is tuple:
        return _tuple_from_plain(get_args(hint), data)
    return _scalar_from_plain(hint, data)


@cache
def _hints(cls: type) -> dict[str, Any]:
    return get_type_hints(cls)


def _dataclass_from_plain(cls: Any, data: Any) -> Any:
    if not isinstance(data, dict):
        raise StoredDataError(f"{cls.__name__} needs named values.")
    names = {field.name for field in fields(cls)}
    if missing := names - data.keys():
        raise StoredDataError(f"{cls.__name__} lacks {', '.join(sorted(missing))}.")
    hints = _hints(cls)
    return cls(**{name: from_plain(hints[name], data[name]) for name in names})


def _only_type(hint: Any) -> Any:
    return next(arg for arg in get_args(hint) if arg is not types.NoneType)


def _tuple_from_plain(args: tuple[Any, ...], data: Any) -> tuple[Any, ...]:
    if not isinstance(data, list | tuple):
        raise StoredDataError("A list was expected.")
    if len(args) == 2 and args[1] is Ellipsis:
        return tuple(from_plain(args[0], item) for item in data)
    if len(args) != len(data):
        raise StoredDataError(f"A list of {len(args)} was expected.")
    return tuple(from_plain(arg, item) for arg, item in zip(args, data, strict=True))


def _scalar_from_plain(hint: Any, data: Any) -> Any:
    if hint is float and isinstance(data, int) and not isinstance(data, bool):
        return float(data)
    if not isinstance(data, hint) or (hint is not bool and isinstance(data, bool)):
        raise StoredDataError(f"{hint.__name__} was expected.")
    return data
