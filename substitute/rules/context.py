"""Which limits apply: the product or category, the market, the day, and the sets in force then."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..errors import InputError
from ..records import LimitSet, Product, Tables
from ..tables.names import plain
from ..tables.schema import nearest, read_date
from .standing import CAUTIONS, of_product

WORLDWIDE = "worldwide"
HOME_MARKET = "EU"
ANY = "any"  # the category where no product is named: only what holds whatever the product is
OTHER_LAW = (
    "{name} does not touch the skin: rules for cosmetics do not apply. Other law does "
    "(classification, labelling and packaging of "
    "mixtures); it is not judged here"
)


@dataclass(frozen=True)
class AppliedSet:
    """A set of limits and the category that it puts the product into."""

    limit_set: LimitSet
    category: str
    leave_on: bool
    skin: bool


@dataclass(frozen=True)
class Context:
    """What an accord is judged against."""

    on: dt.date
    market: str
    category: str
    leave_on: bool
    skin: bool
    sets: tuple[AppliedSet, ...]
    product: str = ""
    name: str = ""
    notes: tuple[str, ...] = ()

    @property
    def cautions(self) -> tuple[str, ...]:
        """What the numbers cannot say."""
        where = of_product(self.product, self.category, leave_on=self.leave_on, skin=self.skin)
        return (*where, *CAUTIONS)

    def to_dict(self) -> dict[str, object]:
        sets = [
            {
                "id": s.limit_set.id,
                "title": s.limit_set.title,
                "category": s.category,
                "in_force": s.limit_set.in_force.isoformat(),
            }
            for s in self.sets
        ]
        return {
            "product": self.product or None,
            "category": self.category,
            "market": self.market,
            "on": self.on.isoformat(),
            "leave_on": self.leave_on,
            "skin": self.skin,
            "limit_sets": sets,
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }


def check_dose(dose: object) -> float:
    """``dose`` as a number, percent by mass of the finished product.

    Raises :class:`~substitute.errors.InputError` unless it is above 0 and at most 100.
    """
    try:
        value = float(dose)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise InputError(
            f"dose '{dose}' is not a number: allowed is above 0 to 100 percent of the finished product"
        ) from None
    if not (math.isfinite(value) and 0.0 < value <= 100.0):
        raise InputError(
            f"dose {value:g} is out of range: allowed is above 0 to 100 percent of the finished product"
        )
    return value


def resolve_context(
    tables: Tables,
    *,
    product: str | None = None,
    category: str | None = None,
    market: str = HOME_MARKET,
    limit_sets: Iterable[str] = (),
    on: dt.date | str | None = None,
) -> Context:
    """The sets of limits that apply, and the category of each.

    Parameters
    ----------
    product : id or name of a row of ``products.csv``; or
    category : a category of a worldwide set; the other sets follow from the product it stands for, its
    first in ``products.csv``.
    market : worldwide sets apply besides.
    limit_sets : ids of sets to judge by instead of all in force.
    on : the day, a date or ISO text; today by default.

    Raises
    ------
    InputError
        For an unknown product, category, market, set or date, for both or neither of product and category.
    """
    day = read_day(on)
    market = _known(market, _markets(tables), "market")
    if (product is None) == (category is None):
        raise InputError("say either a product or a category" + ("" if product is None else ", not both"))
    chosen = _sets_named(tables, limit_sets) if tuple(limit_sets) else _sets_in_force(tables, market, day)
    if product is not None:
        rows = _rows_of_product(tables, str(product))
        category = _own_category(tables, rows, chosen)
        name = rows[0].name
    else:
        category = _known(str(category), _categories(tables), "category")
        rows = _rows_of_category(tables, category)
        name = f"category {category}"
        others = [
            row.id
            for row in tables.products
            if row.limit_set in _worldwide(tables) and row.category == category
        ]
        others = [name for name in dict.fromkeys(others) if name != rows[0].id] if rows else []
    skin = any(row.skin for row in rows) if rows else True
    leave_on = any(row.leave_on for row in rows) if rows else True
    placed = [(one, _places(tables, one, rows, category, leave_on, skin)) for one in chosen]
    applied = tuple(place for _, places in placed for place in places)
    notes = []
    left_out = [one for one, places in placed if not places]
    if not skin:
        notes.append(OTHER_LAW.format(name=name))
    elif left_out:
        notes.append(
            f"{name} has no category in {', '.join(one.id for one in left_out)}: not judged by these, "
            f"other law may apply"
        )
    if product is None and rows and others:
        notes.append(
            f"{name} is judged as {rows[0].id} where law tells its products apart; for "
            f"{', '.join(others)} name the product"
        )
    if not applied:
        notes.append(
            "no set of limits on file applies: nothing is judged, which does not mean that nothing is limited"
        )
    return Context(
        day,
        market,
        category,
        leave_on,
        skin,
        applied,
        rows[0].id if product is not None else "",
        name,
        tuple(notes),
    )


def general_context(
    tables: Tables,
    *,
    market: str = HOME_MARKET,
    limit_sets: Iterable[str] = (),
    on: dt.date | str | None = None,
) -> Context:
    """The sets that apply where nobody named a product: each in general, see :data:`ANY`. Raises as
    :func:`resolve_context` does.
    """
    day = read_day(on)
    market = _known(market, _markets(tables), "market")
    chosen = _sets_named(tables, limit_sets) if tuple(limit_sets) else _sets_in_force(tables, market, day)
    return Context(day, market, ANY, True, True, tuple(AppliedSet(one, ANY, True, True) for one in chosen))


def read_day(on: dt.date | str | None) -> dt.date:
    """A date, ISO text or ``None`` for today."""
    if on is None:
        return dt.date.today()
    if isinstance(on, dt.datetime):
        return on.date()
    return on if isinstance(on, dt.date) else read_date(str(on).strip(), InputError)


def _known(text: str, allowed: Sequence[str], what: str) -> str:
    for name in allowed:
        if name.casefold() == str(text).strip().casefold():
            return name
    raise InputError(
        f"'{text}' is not a known {what}: one of {', '.join(allowed)}{nearest(str(text), allowed)}"
    )


def _markets(tables: Tables) -> list[str]:
    names = {one.market for one in tables.limit_sets.values()} | {one.market for one in tables.controls}
    return sorted(names | {WORLDWIDE, HOME_MARKET})


def _worldwide(tables: Tables) -> set[str]:
    return {one.id for one in tables.limit_sets.values() if one.market == WORLDWIDE}


def _categories(tables: Tables) -> list[str]:
    """Categories of the worldwide sets, 2 before 10A."""
    sets = _worldwide(tables)
    names = {row.category for row in tables.products if row.limit_set in sets} | {
        row.category for row in tables.limits if row.limit_set in sets
    }
    return sorted(names - {"all"}, key=lambda name: (int("".join(filter(str.isdigit, name)) or 999), name))


def _sets_named(tables: Tables, ids: Iterable[str]) -> tuple[LimitSet, ...]:
    return tuple(
        tables.limit_sets[_known(name, list(tables.limit_sets), "set of limits")]
        for name in dict.fromkeys(ids)
    )


def _sets_in_force(tables: Tables, market: str, day: dt.date) -> tuple[LimitSet, ...]:
    """Sets for the market in force on the day; of sets that replace one another only the newest."""
    standing = [
        one for one in tables.limit_sets.values() if one.market in (WORLDWIDE, market) and one.in_force <= day
    ]
    replaced: set[str] = set()
    for one in standing:
        replaced.update(_earlier(tables, one))
    return tuple(one for one in standing if one.id not in replaced)


def _earlier(tables: Tables, one: LimitSet) -> list[str]:
    """Ids of the sets that ``one`` replaces, newest first."""
    found: list[str] = []
    here: LimitSet | None = one
    while here is not None and here.replaces and here.replaces not in found:
        found.append(here.replaces)
        here = tables.limit_sets.get(here.replaces)
    return found


def _rows_of_product(tables: Tables, text: str) -> tuple[Product, ...]:
    rows = tuple(row for row in tables.products if row.id == text)
    if not rows:
        key = plain(text)
        rows = tuple(row for row in tables.products if key in (plain(row.id), plain(row.name)))
    if not rows:
        names = sorted({row.id for row in tables.products})
        near = nearest(text.strip().lower(), [*names, *(row.name for row in tables.products)])
        raise InputError(f"'{text}' is not a known product: one of {', '.join(names)}{near}")
    return tuple(row for row in rows if row.id == rows[0].id)


def _own_category(tables: Tables, rows: Sequence[Product], chosen: Sequence[LimitSet]) -> str:
    sets, standing = _worldwide(tables), {one.id for one in chosen}
    ranked = sorted(rows, key=lambda row: (row.limit_set not in sets, row.limit_set not in standing))
    return ranked[0].category


def _rows_of_category(tables: Tables, category: str) -> tuple[Product, ...]:
    """The rows of the product a category stands for: the first in ``products.csv`` that a worldwide set
    puts there.
    """
    sets = _worldwide(tables)
    first = next(
        (row.id for row in tables.products if row.limit_set in sets and row.category == category), None
    )
    return tuple(row for row in tables.products if row.id == first)


def _places(
    tables: Tables, one: LimitSet, rows: Sequence[Product], category: str, leave_on: bool, skin: bool
) -> list[AppliedSet]:
    """Where a set puts the product: its own rows, else those of the set it replaces, else the category as
    it is.
    """
    for name in (one.id, *_earlier(tables, one)):
        if not any(row.limit_set == name for row in tables.products):
            continue
        mine = [row for row in rows if row.limit_set == name]
        if one.market == WORLDWIDE and any(row.category == category for row in mine):
            mine = [row for row in mine if row.category == category]
        if any(row.leave_on for row in mine):  # mixed: the stricter
            mine = [row for row in mine if row.leave_on]
        if not mine and not rows and one.market == WORLDWIDE:  # a category that no product on file has
            break
        names = dict.fromkeys(row.category for row in mine)
        return [
            AppliedSet(one, name, mine[0].leave_on, any(row.skin for row in mine if row.category == name))
            for name in names
        ]
    return [AppliedSet(one, category, leave_on, skin)]
