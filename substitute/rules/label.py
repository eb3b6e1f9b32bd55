"""The text for a bottle: the list of ingredients in the order the law asks, allergens above their threshold,
and what else a label says.

Order (Regulation (EC) No 1223/2009, Article 19(1)(g), recalled): by weight when added, largest first; what is
under 1 % may stand in any order after what is over 1 %. The composition is one ingredient, 'parfum';
allergens of it that exceed 0.001 % of what stays on or 0.01 % of what is rinsed off are named besides (Annex
III as amended by Regulation (EU) 2023/1545; new products from 31 July 2026, those sold before until 31 July
2028; the list before had 26 names, 24 of them kept).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from typing import ClassVar

from ..errors import InputError
from ..frozen import frozen
from ..records import Accord
from ..shown import Shown
from .cautions import of_accord
from .compiled import Compiled, compiled_for
from .context import resolve_context
from .declare import Declarations, declare
from .label_words import SIGNED, Kind, LabelWord, kind_of, words_for
from .situation import Situation

ANY_ORDER_UNDER = 1.0  # percent of the product
COMPOSITION = {"EU": "Parfum", "UK": "Parfum", "US": "Fragrance"}
OLDER_SET = "eu-declare-2003"
NEWER_SET = "eu-2023-1545"
RINSED = "rinse_off"
OLD_STOCK_UNTIL = dt.date(
    2028, 7, 31
)  # Regulation (EU) 2023/1545: products placed on the market before 31 July 2026
# of the mixture: Regulation (EC) No 1272/2008, Annex I, Table 3.4.6 (recalled); 0.01 for sub-category 1A
SENSITISER_PCT = 0.1
STRONG_SENSITISER_PCT = 0.01
MOST_BASE = 100.5  # percent: rounding of what a person gives is forgiven


@frozen
class LabelName:
    """A name of the list: percent by mass of the product, ``role`` composition, allergen or base; ``state``
    is declare or between.

    ``between``: only the high constituents of a natural call for it. ``threshold_pct`` is ``None`` but for
    allergens.
    """

    name: str
    pct: float
    role: str
    state: str = "declare"
    threshold_pct: float | None = None
    sources: tuple[str, ...] = ()
    limit_set: str = ""
    basis: str = ""

    @property
    def any_order(self) -> bool:
        """Whether the law leaves its place among the last free."""
        return self.pct < ANY_ORDER_UNDER

    def to_dict(self) -> dict[str, object]:
        return {
            "name": self.name,
            "pct": self.pct,
            "role": self.role,
            "any_order": self.any_order,
            "state": self.state,
            "threshold_pct": self.threshold_pct,
            "from": list(self.sources),
            "limit_set": self.limit_set,
            "basis": self.basis,
        }


@frozen
class Contained:
    """A line of the accord in the product, for the assessor, never for the label; ``botanical`` is '' where
    none is on file.
    """

    id: str
    name: str
    cas: str
    botanical: str
    pct: float

    def to_dict(self) -> dict[str, object]:
        return {name: getattr(self, name) for name in self.__dataclass_fields__}


@frozen
class Label(Shown):
    """All that ``label`` answers. ``names_before`` is the list by the rules before Regulation (EU) 2023/1545,
    empty where the same.
    """

    asked_by: ClassVar[str] = "label"

    accord: str
    product: str
    kind: Kind
    market: str
    dose_pct: float
    on: dt.date
    names: tuple[LabelName, ...]
    names_before: tuple[str, ...]
    maybe: tuple[str, ...]
    sensitisers: tuple[str, ...]
    words: tuple[LabelWord, ...]
    undecided: tuple[str, ...]
    contained: tuple[Contained, ...]
    laws: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def text(self) -> str:
        """The list as it would be printed; '' where no law on file asks for one."""
        return f"Ingredients: {', '.join(one.name for one in self.names)}." if self.names else ""

    def to_dict(self) -> dict[str, object]:
        return {
            "accord": self.accord,
            "product": self.product,
            "kind": self.kind,
            "market": self.market,
            "dose_pct": self.dose_pct,
            "on": self.on.isoformat(),
            "text": self.text,
            "names": [one.to_dict() for one in self.names],
            "names_before": list(self.names_before),
            "maybe": list(self.maybe),
            "sensitisers": list(self.sensitisers),
            "words": [one.to_dict() for one in self.words],
            "undecided": list(self.undecided),
            "contained": [one.to_dict() for one in self.contained],
            "laws": list(self.laws),
            "cautions": list(self.cautions),
        }


def label(situation: Situation, accord: Accord, base: Mapping[str, float] | None = None) -> Label:
    """What the label of ``accord`` in the situation's product says; ``base`` are the other ingredients: label
    name -> percent of the product.

    Raises :class:`~substitute.errors.InputError` where no product or dose is named, or for a base that is not
    below 100 % with the dose.
    """
    if not situation.judged or situation.dose is None:
        raise InputError("a label needs a product or a category, and a dose")
    if accord.total <= 0:
        raise InputError(f"{accord.name}: nothing in it has any parts, so there is nothing to label")
    where, dose, active = situation.context, situation.dose, accord.active()
    others = check_base(base or {}, dose)
    cosmetic = any(one.limit_set.market != "worldwide" for one in where.sets)
    kind = kind_of(where.product, skin=where.skin, cosmetic=cosmetic or (bool(where.sets) and where.skin))
    found = declare(_lists(situation, kind), active, accord.total, dose)
    names = in_order([*_composition(situation.market, dose, kind), *_allergens(found, kind), *others])
    known = [one for one in accord.lines if one.active > 0]
    return Label(
        accord.name,
        where.product or f"category {where.category}",
        kind,
        situation.market,
        dose,
        where.on,
        names,
        _before(situation, accord, names),
        tuple(f"{one.label}: {', '.join(one.unassessed)} not looked into for it" for one in found.unknown),
        _sensitisers(situation, accord, dose) if kind in ("home", "detergent") else (),
        words_for(where.product, kind, situation.market),
        _undecided(situation, accord, kind, bool(others), found),
        tuple(_contained(situation, accord, dose, [one.material for one in known])),
        _laws(situation, kind, found),
        (SIGNED, *of_accord(situation, active)),
    )


def check_base(base: Mapping[str, float], dose: float) -> list[LabelName]:
    """The other ingredients as names; raises :class:`~substitute.errors.InputError` for one without name or
    amount, or over 100 % together.
    """
    names = []
    for name, pct in base.items():
        printed = " ".join(name.split())
        if not printed:
            raise InputError(f"`base` '{name}={pct:g}': an ingredient needs its label name, such as Aqua")
        if not (math.isfinite(pct) and 0.0 < pct <= 100.0):
            raise InputError(f"`base` {printed}: {pct:g} % is out of range: allowed is above 0 to 100")
        names.append(LabelName(printed, pct, "base"))
    whole = sum(one.pct for one in names) + dose
    if whole > MOST_BASE:
        raise InputError(
            f"`base`: with the dose of {dose:g} % the ingredients make {whole:.4g} %, more than the whole"
        )
    return names


def in_order(names: Iterable[LabelName]) -> tuple[LabelName, ...]:
    """Over 1 % by amount, largest first; what may stand in any order after it: the base and composition by
    amount, then allergens by name.
    """
    names = list(names)
    above = sorted((one for one in names if not one.any_order), key=lambda one: (-one.pct, one.name))
    below = sorted(
        (one for one in names if one.any_order),
        key=lambda one: (one.role == "allergen", 0.0 if one.role == "allergen" else -one.pct, one.name),
    )
    return (*above, *below)


def _composition(market: str, dose: float, kind: Kind) -> list[LabelName]:
    if kind == "home" or kind == "other":
        return []
    return [
        LabelName(
            "Perfumes" if kind == "detergent" else COMPOSITION.get(market, "Parfum"), dose, "composition"
        )
    ]


def _lists(situation: Situation, kind: Kind) -> Compiled:
    """The rules that name allergens: the product's own, for a detergent those of what is rinsed off."""
    return situation.compiled if kind != "detergent" else _listed(situation, ()) or situation.compiled


def _listed(situation: Situation, sets: tuple[str, ...]) -> Compiled | None:
    """The rules of a product that the cosmetics list rinses off, by ``sets`` alone if any are named; ``None``
    without such a product.
    """
    tables, where = situation.tables, situation.context
    wanted = {NEWER_SET: RINSED, OLDER_SET: RINSED} if where.market == "EU" else {"uk-declare": RINSED}
    product = next((one.id for one in tables.products if wanted.get(one.limit_set) == one.category), None)
    if product is None or where.market not in ("EU", "UK"):
        return None
    context = resolve_context(tables, product=product, market=where.market, limits=sets, on=where.on)
    return compiled_for(situation.exposure, context)


def _allergens(found: Declarations, kind: Kind) -> list[LabelName]:
    """Each printed name once, with the larger amount where two entries print the same."""
    best: dict[str, LabelName] = {}
    for row in found.rows if kind in ("cosmetic", "detergent") else ():
        one = LabelName(
            row.label,
            row.found_pct,
            "allergen",
            row.state,
            row.threshold_pct,
            tuple(name for name, _ in row.sources),
            row.limit_set,
            row.basis,
        )
        if row.label not in best or best[row.label].pct < one.pct:
            best[row.label] = one
    return list(best.values())


def _before(situation: Situation, accord: Accord, names: tuple[LabelName, ...]) -> tuple[str, ...]:
    """Allergen names by the list of 26, where it differs and stock sold before the new list may still carry
    it.
    """
    now = [one.name for one in names if one.role == "allergen"]
    sets = {one.limit_set.id for one in situation.context.sets}
    if (
        NEWER_SET not in sets
        or situation.on > OLD_STOCK_UNTIL
        or OLDER_SET not in situation.tables.limit_sets
    ):
        return ()
    where = situation.context
    named = {"product": where.product} if where.product else {"category": where.category}
    context = resolve_context(
        situation.tables, **named, market=situation.market, limits=(OLDER_SET,), on=situation.on
    )
    rules = compiled_for(situation.exposure, context)
    rows = declare(rules, accord.active(), accord.total, situation.dose or 0.0)
    was = list(dict.fromkeys(row.label for row in rows.rows))
    return tuple(was) if set(was) != set(now) else ()


def _sensitisers(situation: Situation, accord: Accord, dose: float) -> tuple[str, ...]:
    """What may have to be named as a sensitiser in a mixture for the home, largest first."""
    tables = situation.tables
    amounts: dict[str, float] = {}
    for name, parts in accord.active().items():
        for substance, share in situation.exposure.shares(name).items():
            if substance in tables.materials:
                amounts[substance] = amounts.get(substance, 0.0) + dose * parts / accord.total * share.high
    told = []
    for substance, pct in sorted(amounts.items(), key=lambda item: (-item[1], item[0])):
        rows = tables.hazards.get(substance, ())
        if pct >= STRONG_SENSITISER_PCT and any(one.hazard == "sensitises" for one in rows):
            sure = "" if pct >= SENSITISER_PCT else ", only if it is classed as a strong one (1A)"
            told.append(f"{tables.materials[substance].name}: {pct:.2g} %{sure}")
    return tuple(told)


def _undecided(
    situation: Situation, accord: Accord, kind: Kind, base: bool, found: Declarations
) -> tuple[str, ...]:
    tables = situation.tables
    told = []
    if kind in ("cosmetic", "detergent") and not base:
        told.append(
            "what else is in the product: the other ingredients take their places in the list by "
            "their amounts"
        )
    if kind in ("cosmetic", "detergent") and not _lists(situation, kind).labels:
        told.append(
            f"which allergens are named in {situation.market}: no list is on file for this product there"
        )
    if kind == "other":
        told.append("under which law this product is labelled")
    if kind == "detergent":
        told.append(
            "whether the longer list of allergens of 2023 holds for detergents yet: the law refers "
            "to the cosmetics list (recalled)"
        )
    if kind in ("home", "detergent", "other"):
        told.append(
            "whether the mixture is classed as hazardous: that comes from the safety data sheet of "
            "what is really in it"
        )
    carriers = [
        line.material
        for line in accord.lines
        if line.parts > 0 and (line.strength < 100 or tables.materials[line.material].kind == "solvent")
    ]
    if carriers:
        told.append("whether the carrier of the composition must be named by itself")
    if any(row.state == "between" for row in found.rows):
        told.append("names called for only by high constituents: the lot's own analysis may drop them")
    naturals = [
        n for n, parts in accord.active().items() if parts > 0 and tables.materials[n].kind == "natural"
    ]
    if naturals:
        told.append(
            f"what the lots of {', '.join(naturals)} hold: the tables have usual ranges, the "
            "supplier's analysis decides"
        )
    told.append("spelling, language, type size and place: read them in the official text of the country")
    return tuple(told)


def _contained(situation: Situation, accord: Accord, dose: float, ids: Iterable[str]) -> Iterable[Contained]:
    active = accord.active()
    for name in sorted(dict.fromkeys(ids), key=lambda one: (-active[one], one)):
        material = situation.tables.materials[name]
        yield Contained(
            name, material.name, material.main_cas, material.botanical, dose * active[name] / accord.total
        )


def _laws(situation: Situation, kind: Kind, found: Declarations) -> tuple[str, ...]:
    """The documents behind the list, a line each."""
    tables, told = situation.tables, []
    if kind == "cosmetic":
        told.append(
            "Regulation (EC) No 1223/2009, Article 19(1)(g): order and the word for the composition "
            "(recalled)"
            if situation.market in ("EU", "UK")
            else "order and the word for the composition as recalled for this market"
        )
    for limit_set in dict.fromkeys(
        [row.limit_set for row in found.rows] + [row.limit_set for row in found.unknown]
    ):
        one = tables.limit_sets[limit_set]
        source = tables.sources.get(one.source)
        told.append(
            f"{one.title}; since {one.in_force.isoformat()}: {source.citation if source else one.source}"
        )
    return tuple(told)
