"""Which limits apply: the product or category, the market, the day, and the sets in force then."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from ..errors import InputError
from ..frozen import frozen
from ..records import LimitSet, Product, Tables
from ..tables.near import nearest
from ..tables.spelling import plain
from .standing import CAUTIONS, of_product

WORLDWIDE = "worldwide"
HOME_MARKET = "EU"
ANY = "any"  # the category where no product is named: only what holds whatever the product is
OTHER_LAW = (
    "{name} does not touch the skin: rules for cosmetics do not apply. Other law does "
    "(classification, labelling and packaging of "
    "mixtures); it is not judged here"
)


@frozen
class AppliedSet:
    """A set of limits and the category that it puts the product into."""

    limit_set: LimitSet
    category: str
    leave_on: bool
    skin: bool


@frozen
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
    market: str | None = None,
    limits: Sequence[str] = (),
    on: dt.date | str | None = None,
) -> Context:
    """The sets of limits that apply, and the category of each.

    Parameters
    ----------
    product : id or name of a row of ``products.csv``; or
    category : a category of a worldwide set; the other sets follow from the product it stands for, its
    first in ``products.csv``.
    market : worldwide sets apply besides; ours by default.
    limits : ids of sets to judge by instead of all in force.
    on : the day, a date or ISO text; today by default.

    Raises
    ------
    InputError
        For an unknown product, category, market, set or date, for both or neither of product and category.
    """
    day, market = read_day(on), _market(tables, market)
    if (product is None) == (category is None):
        raise InputError("say either a product or a category" + ("" if product is None else ", not both"))
    chosen = _chosen(tables, market, limits, day)
    meant = (
        _meant_by_product(tables, str(product), chosen)
        if product is not None
        else _meant_by_category(tables, str(category))
    )
    placed = {one: _places(tables, one, meant) for one in chosen}
    return Context(
        day,
        market,
        meant.category,
        meant.leave_on,
        meant.skin,
        tuple(place for places in placed.values() for place in places),
        meant.product,
        meant.name,
        tuple(_notes(meant, placed)),
    )


def general_context(
    tables: Tables,
    market: str | None = None,
    limits: Sequence[str] = (),
    on: dt.date | str | None = None,
) -> Context:
    """The sets that apply where nobody named a product: each in general, see :data:`ANY`. Raises as
    :func:`resolve_context` does.
    """
    day, market = read_day(on), _market(tables, market)
    sets = tuple(AppliedSet(one, ANY, True, True) for one in _chosen(tables, market, limits, day))
    return Context(day, market, ANY, True, True, sets)


def read_day(on: dt.date | str | None) -> dt.date:
    """A date, ISO text or ``None`` for today."""
    if on is None:
        return dt.date.today()
    if isinstance(on, dt.datetime):
        return on.date()
    if isinstance(on, dt.date):
        return on
    from ..tables.schema import read_date

    return read_date(str(on).strip(), InputError)


def _known(text: str, allowed: Sequence[str], what: str) -> str:
    for name in allowed:
        if name.casefold() == str(text).strip().casefold():
            return name
    raise InputError(
        f"'{text}' is not a known {what}: one of {', '.join(allowed)}{nearest(str(text), allowed)}"
    )


def _market(tables: Tables, named: str | None) -> str:
    """A market as it is written here; ours where none is ``named``."""
    return _known(named or HOME_MARKET, _markets(tables), "market")


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


def _chosen(tables: Tables, market: str, limits: Iterable[str], day: dt.date) -> tuple[LimitSet, ...]:
    """The sets that were named, each once; where none was, those in force."""
    known = list(tables.limit_sets)
    named = [_known(name, known, "set of limits") for name in dict.fromkeys(limits)]
    return tuple(tables.limit_sets[name] for name in named) or _sets_in_force(tables, market, day)


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


@frozen
class _Meant:
    """What a question means: the rows of ``products.csv``, the category, and how people call it.

    ``product`` is the id of the product where one was named; where a category was, ``stands_for`` is the
    product that the other sets are asked about, and ``beside`` are those that share the category with it.
    """

    rows: tuple[Product, ...]
    category: str
    name: str
    product: str = ""
    stands_for: str = ""
    beside: tuple[str, ...] = ()

    @property
    def skin(self) -> bool:
        return any(row.skin for row in self.rows) if self.rows else True

    @property
    def leave_on(self) -> bool:
        return any(row.leave_on for row in self.rows) if self.rows else True


def _meant_by_product(tables: Tables, text: str, chosen: Sequence[LimitSet]) -> _Meant:
    rows = _rows_of_product(tables, text)
    return _Meant(rows, _own_category(tables, rows, chosen), rows[0].name, rows[0].id)


def _meant_by_category(tables: Tables, text: str) -> _Meant:
    category = _known(text, _categories(tables), "category")
    sets = _worldwide(tables)
    sharing = dict.fromkeys(
        row.id for row in tables.products if row.limit_set in sets and row.category == category
    )
    first = next(iter(sharing), "")  # the category stands for its first product in products.csv
    rows = tuple(row for row in tables.products if row.id == first)
    beside = tuple(name for name in sharing if name != first)
    return _Meant(rows, category, f"category {category}", stands_for=first, beside=beside)


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


def _places(tables: Tables, one: LimitSet, meant: _Meant) -> list[AppliedSet]:
    """Where a set puts the product: its own rows, else those of the set it replaces, else the category as
    it is.
    """
    for name in (one.id, *_earlier(tables, one)):
        if not any(row.limit_set == name for row in tables.products):
            continue
        mine = [row for row in meant.rows if row.limit_set == name]
        if one.market == WORLDWIDE and any(row.category == meant.category for row in mine):
            mine = [row for row in mine if row.category == meant.category]
        if any(row.leave_on for row in mine):  # mixed: the stricter
            mine = [row for row in mine if row.leave_on]
        if not mine and not meant.rows and one.market == WORLDWIDE:  # a category that no product on file has
            break
        names = dict.fromkeys(row.category for row in mine)
        return [
            AppliedSet(one, name, mine[0].leave_on, any(row.skin for row in mine if row.category == name))
            for name in names
        ]
    return [AppliedSet(one, meant.category, meant.leave_on, meant.skin)]


def _notes(meant: _Meant, placed: Mapping[LimitSet, Sequence[AppliedSet]]) -> Iterator[str]:
    """What the sets that apply leave open."""
    left_out = [one.id for one, places in placed.items() if not places]
    if not meant.skin:
        yield OTHER_LAW.format(name=meant.name)
    elif left_out:
        yield (
            f"{meant.name} has no category in {', '.join(left_out)}: not judged by these, other law may apply"
        )
    if meant.beside:
        yield (
            f"{meant.name} is judged as {meant.stands_for} where law tells its products apart; for "
            f"{', '.join(meant.beside)} name the product"
        )
    if not any(placed.values()):
        yield (
            "no set of limits on file applies: nothing is judged, which does not mean that nothing is limited"
        )
