"""Frozen records that are cheap to make.

:func:`dataclasses.dataclass` writes and compiles six functions for a frozen class. A short command meets a
hundred such classes, and that was a seventh of its time. Here only the constructor is compiled, and the rest
is shared by all; it fills a record at once, which halves what a record of the tables costs. A frozen record
stays a dataclass: ``fields``, ``replace``, ``asdict`` and ``match`` know it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, FrozenInstanceError, dataclass, field, fields
from operator import attrgetter
from typing import Any, NoReturn, TypeVar, dataclass_transform, overload

T = TypeVar("T")


@overload
def frozen(kind: type[T], /) -> type[T]: ...


@overload
def frozen(*, eq: bool = True) -> Callable[[type[T]], type[T]]: ...


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def frozen(kind: type[T] | None = None, /, *, eq: bool = True) -> type[T] | Callable[[type[T]], type[T]]:
    """A class decorator: ``dataclass(frozen=True)``. With ``eq=False`` a record equals itself alone.

    Fields may have a ``default``, a ``default_factory``, ``init=False``, ``repr=False`` and
    ``compare=False``; slots are not for them.
    """
    if kind is None:
        return lambda given: _made(given, eq)
    return _made(kind, eq)


def _made(kind: type[T], eq: bool) -> type[T]:
    dataclass(init=False, repr=False, eq=False)(kind)
    shared: dict[str, Any] = {"__repr__": _repr}
    if eq:
        compared = [one.name for one in fields(kind) if one.compare]  # type: ignore[arg-type]
        # of a single name attrgetter gives no tuple
        kind._compared = attrgetter(*(compared * 2 if len(compared) == 1 else compared or ["__class__"]))  # type: ignore[attr-defined]
        shared |= {"__eq__": _equal, "__hash__": _hash}
    for name, function in shared.items():
        if name not in kind.__dict__:
            setattr(kind, name, function)
    for name, function in (
        ("__setattr__", _refuse),
        ("__delattr__", _refuse),
        ("__init__", _constructor(kind)),
    ):
        setattr(kind, name, function)
    return kind


def _constructor(kind: type[Any]) -> Callable[..., None]:
    known: dict[str, Any] = {"_MISSING": MISSING}
    asked, lines = ["self"], ["_record = self.__dict__"]
    for one in fields(kind):
        name, value = one.name, one.name
        if one.default is not MISSING:
            known[f"_{name}"] = one.default
            default = f"=_{name}"
        elif one.default_factory is not MISSING:
            known[f"_{name}"] = one.default_factory
            default = "=_MISSING"
            value = f"_{name}() if {name} is _MISSING else {name}" if one.init else f"_{name}()"
        else:
            default = ""
        if one.init:
            asked.append(name + default)
            lines.append(f"_record[{name!r}] = {value}")
        elif default:
            lines.append(f"_record[{name!r}] = {value if default == '=_MISSING' else '_' + name}")
    if hasattr(kind, "__post_init__"):
        lines.append("self.__post_init__()")
    exec(f"def __init__({', '.join(asked)}):\n " + "\n ".join(lines), known)
    made: Callable[..., None] = known["__init__"]
    made.__qualname__ = f"{kind.__qualname__}.__init__"
    made.__module__ = kind.__module__
    return made


def _refuse(self: object, name: str, *_: object) -> NoReturn:
    raise FrozenInstanceError(f"{type(self).__name__} is frozen: '{name}' cannot be changed")


def _repr(self: Any) -> str:
    shown = (f"{one.name}={getattr(self, one.name)!r}" for one in fields(self) if one.repr)
    return f"{type(self).__qualname__}({', '.join(shown)})"


def _equal(self: Any, other: Any) -> Any:
    if other.__class__ is not self.__class__:
        return NotImplemented
    return self._compared(self) == self._compared(other)


def _hash(self: Any) -> int:
    return hash(self._compared(self))
