"""Records that several answers hold."""

from __future__ import annotations

from typing import Literal, TypedDict

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
