"""What law, trade and the industry's own standards say: dated sets of limits, products and controls."""

from __future__ import annotations

import datetime as dt

from ..frozen import frozen


@frozen
class LimitSet:
    """A dated collection of limits for a market."""

    id: str
    title: str
    market: str
    in_force: dt.date
    replaces: str
    source: str


@frozen
class Limit:
    """A maximum in the finished product; ``max_pct`` is ``None`` where it is not known, ``own`` marks a
    person's own row.
    """

    limit_set: str
    substance: str
    category: str
    max_pct: float | None
    rule: str
    note: str
    basis: str
    source: str
    own: bool = False


@frozen
class Product:
    """Something people make, and where one set of limits puts it."""

    id: str
    name: str
    limit_set: str
    category: str
    leave_on: bool
    skin: bool


@frozen
class Control:
    """A rule of trade or supply about a material: CITES, precursor, ban, supply."""

    material: str
    control: str
    market: str
    detail: str
    in_force: dt.date | None
    basis: str
    source: str
