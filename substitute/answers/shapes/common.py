"""Records that several answers hold."""

from __future__ import annotations

from typing import Literal, NotRequired, TypedDict

Basis = Literal["published", "practice", "memory", "estimate"]
Verdict = Literal["good", "fair", "poor", "none"]


class Brief(TypedDict):
    """A material as answers name it; ``cas`` is '' if none is on file."""

    id: str
    name: str
    cas: str


class Stages(TypedDict):
    """Something at the three stages; ``None`` where there is nothing to judge."""

    opening: float | None
    heart: float | None
    drydown: float | None


class Match(Stages):
    """How much of the old smell and strength is kept, 0 to 1."""

    overall: float


class Share(TypedDict):
    """What a line brings of a substance, percent of the product."""

    id: str
    pct: float


class Wall(TypedDict):
    """The limit in the way, and the line that brings most of it."""

    substance: str
    name: str
    limit_set: str
    line: str


class Figure(TypedDict):
    """A figure on file and how it is known."""

    property: str
    value: float
    at: str
    basis: Basis
    source: str


class Control(TypedDict):
    """A rule of trade or supply."""

    control: str
    market: str
    detail: str
    in_force: str | None
    basis: Basis
    source: str


class ReadAs(TypedDict):
    """A short or misspelt name, the material it was taken for, and ids of others that may be meant."""

    text: str
    id: str
    name: str
    strength_pct: float | None
    others: list[str]


class ToFill(TypedDict):
    """A line of a file that names a note: it is not counted; ``suggestions`` are ids of what gives the
    note."""

    file: str
    row: int
    text: str
    parts: float
    suggestions: list[str]


class Told(TypedDict):
    """What the command line adds to any answer of how names were read."""

    read_as: NotRequired[list[ReadAs]]
    to_fill: NotRequired[list[ToFill]]
