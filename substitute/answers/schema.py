"""JSON Schema (draft 2020-12) of every answer, made from its typed records."""

from __future__ import annotations

import dataclasses
import types
from functools import cache
from typing import Any, Literal, NotRequired, Union, get_args, get_origin, get_type_hints, is_typeddict

from ..errors import InputError
from .shapes import SHAPES
from .shapes.common import Told

DIALECT = "https://json-schema.org/draft/2020-12/schema"
SIMPLE: dict[Any, dict[str, Any]] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    float: {"type": "number"},
    type(None): {"type": "null"},
}


@cache
def schema(kind: str) -> dict[str, Any]:
    """The schema of the JSON that answers ``kind``, a command's name.

    Raises :class:`~substitute.errors.InputError` for a kind that there is not.
    """
    if kind not in SHAPES:
        raise InputError(f"'{kind}' is no answer: one of {', '.join(SHAPES)}")
    parts: dict[str, Any] = {}
    whole = _of(SHAPES[kind], parts)
    for name, hint in get_type_hints(Told, include_extras=True).items():
        parts[SHAPES[kind].__name__]["properties"][name] = _of(hint, parts)
    return {"$schema": DIALECT, "title": kind, **whole, "$defs": dict(sorted(parts.items()))}


def _of(kind: Any, parts: dict[str, Any]) -> dict[str, Any]:
    """The schema of a type; records go to ``parts`` and are referred to."""
    if kind in SIMPLE:
        return dict(SIMPLE[kind])
    if is_typeddict(kind) or dataclasses.is_dataclass(kind):
        _record(kind, parts)
        return {"$ref": f"#/$defs/{kind.__name__}"}
    origin, inside = get_origin(kind), get_args(kind)
    if origin is NotRequired:
        return _of(inside[0], parts)
    if origin is Literal:
        return {"enum": list(inside)}
    if origin is list:
        return {"type": "array", "items": _of(inside[0], parts)}
    if origin in (Union, types.UnionType):
        return {"anyOf": [_of(one, parts) for one in inside]}
    raise TypeError(f"{kind} has no schema")


def _record(kind: Any, parts: dict[str, Any]) -> None:
    if kind.__name__ in parts:
        return
    parts[kind.__name__] = {}  # so that a record may hold itself
    hints = get_type_hints(kind, include_extras=True)
    must = [name for name, hint in hints.items() if get_origin(hint) is not NotRequired]
    parts[kind.__name__] = {
        "type": "object",
        "description": " ".join((kind.__doc__ or "").split("\n\n")[0].split()),
        "properties": {name: _of(hint, parts) for name, hint in hints.items()},
        "required": must,
        "additionalProperties": False,
    }


__all__ = ["schema"]
