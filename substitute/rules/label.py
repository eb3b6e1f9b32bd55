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
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import ClassVar

from ..errors import InputError
from ..figures import percent
from ..frozen import frozen
from ..records import Accord, Tables
from ..shown import Shown
from .cautions import of_accord
from .compiled import Compiled, compiled_for
from .context import resolve_context
from .declare import Declarations, declare
from .label_list import LabelName, allergens, check_base, composition, in_order
from .label_words import SIGNED, Kind, LabelWord, kind_of, words_for
from .situation import Situation

OLDER_SET = "eu-declare-2003"
NEWER_SET = "eu-2023-1545"
RINSED = "rinse_off"
OLD_STOCK_UNTIL = dt.date(
    2028, 7, 31
)  # Regulation (EU) 2023/1545: products placed on the market before 31 July 2026
# of the mixture: Regulation (EC) No 1272/2008, Annex I, Table 3.4.6 (recalled); 0.01 for sub-category 1A
SENSITISER_PCT = 0.1
STRONG_SENSITISER_PCT = 0.01


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
    names = in_order([*composition(situation.market, dose, kind), *allergens(found, kind), *others])
    known = [one for one in accord.lines if one.active > 0]
    return Label(
        accord=accord.name,
        product=where.product or f"category {where.category}",
        kind=kind,
        market=situation.market,
        dose_pct=dose,
        on=where.on,
        names=names,
        names_before=_before(situation, accord, names),
        maybe=tuple(
            f"{one.label}: {', '.join(one.unassessed)} not looked into for it" for one in found.unknown
        ),
        sensitisers=_sensitisers(situation, accord, dose) if kind in ("home", "detergent") else (),
        words=words_for(where.product, kind, situation.market),
        undecided=(
            *_undecided_by_law(situation, kind, others),
            *_undecided_by_accord(situation.tables, accord, found),
            "spelling, language, type size and place: read them in the official text of the country",
        ),
        contained=tuple(_contained(situation, accord, dose, [one.material for one in known])),
        laws=_laws(situation, kind, found),
        cautions=(SIGNED, *of_accord(situation, active)),
    )


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
            told.append(f"{tables.materials[substance].name}: {percent(pct, 2)}{sure}")
    return tuple(told)


def _undecided_by_law(situation: Situation, kind: Kind, others: Sequence[LabelName]) -> Iterator[str]:
    """What the law of such a product leaves to a qualified person; ``others`` are its other ingredients."""
    if kind in ("cosmetic", "detergent"):
        if not others:
            yield (
                "what else is in the product: the other ingredients take their places in the list by "
                "their amounts"
            )
        if not _lists(situation, kind).labels:
            yield (
                f"which allergens are named in {situation.market}: no list is on file for this product there"
            )
    if kind == "other":
        yield "under which law this product is labelled"
    if kind == "detergent":
        yield (
            "whether the longer list of allergens of 2023 holds for detergents yet: the law refers "
            "to the cosmetics list (recalled)"
        )
    if kind in ("home", "detergent", "other"):
        yield (
            "whether the mixture is classed as hazardous: that comes from the safety data sheet of "
            "what is really in it"
        )


def _undecided_by_accord(tables: Tables, accord: Accord, found: Declarations) -> Iterator[str]:
    """What depends on the lots and bottles that the accord is made of."""
    if any(
        line.parts > 0 and (line.strength < 100 or tables.materials[line.material].kind == "solvent")
        for line in accord.lines
    ):
        yield "whether the carrier of the composition must be named by itself"
    if any(row.state == "between" for row in found.rows):
        yield "names called for only by high constituents: the lot's own analysis may drop them"
    naturals = [
        name
        for name, parts in accord.active().items()
        if parts > 0 and tables.materials[name].kind == "natural"
    ]
    if naturals:
        yield (
            f"what the lots of {', '.join(naturals)} hold: the tables have usual ranges, the "
            "supplier's analysis decides"
        )


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
