"""Two people, or two tabs, change one thing.

What only one of them changed is merged; the rest is for people to decide.
"""

from collections.abc import Mapping
from typing import Any

from intake.errors import Conflict


def merged(began: Mapping[str, Any], typed: Mapping[str, Any], saved: Mapping[str, Any]) -> dict[str, Any]:
    """The values to save: `began` stood in the form, `typed` came back, `saved` stands now.

    Raises Conflict for what was typed and, meanwhile, saved otherwise.
    """
    both = [name for name in typed if typed[name] != saved[name] and began[name] not in (typed[name], saved[name])]
    if both:
        raise Conflict(tuple(both))
    return {name: saved[name] if typed[name] == began[name] else typed[name] for name in typed}
