"""What each kind of rule means, stated once: what a material adds to it, its limit, when it is in doubt,
and its words.

A rule has one or two terms. A term adds up ``coefficient × percent of the material in the product`` over an
accord and holds the sum
against ``limit`` (``SUM``), looks at each material by itself (``EACH``), has no maximum (``FREE``), cannot
be worked out from tables
(``NEVER``), or is a threshold of the label (``LABEL``). Judging, the optimiser, screening and declaring
read terms; none of them knows
a kind by name.
"""

# ruff: noqa: ARG002  (a kind need not look at all it is handed)
from __future__ import annotations

from collections.abc import Iterator

from ..figures import given, percent
from ..frozen import frozen
from .exposure import Exposure
from .rule import Rule, substance_name

SLACK = 1.0 + 1e-12  # equal figures may differ in the last bits of a float
WHOLE = 100.0
SUM, EACH, FREE, NEVER, LABEL = "sum", "each", "free", "never", "label"
PRODUCT, FRACTION, MATERIAL = "percent of the product", "sum of fractions", "percent of the material itself"


def over(amount: float, limit: float) -> bool:
    """Whether ``amount`` exceeds ``limit``; equal does not."""
    return amount > limit * SLACK


@frozen
class Term:
    """One comparison of a rule; ``unless`` is how many places before it stands the term that speaks in its
    place (0: none).
    """

    rule: Rule
    how: str
    limit: float | None
    words: str
    unit: str = PRODUCT
    unless: int = 0
    note: str = ""
    ban: str = ""  # why no amount at all is let in, where that is so

    @property
    def bounds(self) -> bool:
        """Whether a lower dose can mend it."""
        return self.how == SUM and self.limit is not None

    @property
    def limit_pct(self) -> float | None:
        """The limit in percent; ``None`` where it is unknown, is none, or counts in something else."""
        return None if self.unit == FRACTION else self.limit


@frozen
class Brought:
    """What one percent of a material in the product adds to a term; ``place`` counts the rule's terms."""

    place: int
    high: float
    typical: float


class Kind:
    """A kind of rule; each method speaks of one rule."""

    name = ""

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        raise NotImplementedError

    def substances(self, rule: Rule) -> tuple[str, ...]:
        """What a material must hold to touch the rule."""
        return (rule.substance,)

    def brings(self, exposure: Exposure, rule: Rule, material: str) -> Iterator[Brought]:
        """What ``material`` adds to each term."""
        share = exposure.share(material, rule.substance)
        if share.high > 0:
            yield Brought(0, share.high, share.typical)

    def is_open(self, exposure: Exposure, rule: Rule, material: str) -> bool:
        """Whether ``material`` brings something whose limit has no figure on file."""
        return False

    def asks(self, exposure: Exposure, rule: Rule, material: str) -> tuple[str, ...]:
        """Substances that matter if nobody looked for them in ``material``."""
        return (rule.substance,)


class Max(Kind):
    """At most so much in the finished product; without a figure unknown, with 100 % a stated absence of
    restriction.
    """

    name = "max"

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        if rule.max_pct is None:
            words = "no figure on file"
            if rule.estimate_pct is not None:
                words = f"unknown, about {percent(rule.estimate_pct, 2)} by estimate"
            return (Term(rule, SUM, None, words),)
        if rule.max_pct >= WHOLE:
            return (Term(rule, FREE, WHOLE, "no restriction stated"),)
        if rule.max_pct == 0:
            return (Term(rule, SUM, 0.0, "prohibited", ban="prohibited"),)
        return (Term(rule, SUM, rule.max_pct, f"{given(rule.max_pct)}"),)

    def is_open(self, exposure: Exposure, rule: Rule, material: str) -> bool:
        return rule.max_pct is None and exposure.share(material, rule.substance).high > 0

    def asks(self, exposure: Exposure, rule: Rule, material: str) -> tuple[str, ...]:
        return () if rule.max_pct is not None and rule.max_pct >= WHOLE else (rule.substance,)


class Prohibited(Kind):
    """None at all, from naturals neither."""

    name = "prohibited"

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        return (Term(rule, SUM, 0.0, "prohibited", ban="prohibited"),)


class AsSuch(Kind):
    """Not to be added, nor given back by what is added; a natural's own share is tolerated, to a stated
    figure or without one.
    """

    name = "prohibited_as_such"

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        added = Term(rule, SUM, 0.0, "not to be added", note="prohibited as such", ban="prohibited as such")
        if rule.max_pct:
            words, note = (
                f"not to be added; from naturals at most {given(rule.max_pct)}",
                "from naturals only",
            )
            return added, Term(rule, SUM, rule.max_pct, words, unless=1, note=note)
        words = "not to be added; natural traces tolerated"
        return added, Term(rule, FREE, None, words, unless=1, note="tolerated from naturals")

    def brings(self, exposure: Exposure, rule: Rule, material: str) -> Iterator[Brought]:
        share = exposure.share(material, rule.substance)
        if share.high > 0:
            added = material in exposure.members(rule.substance) or share.via == "release"
            yield Brought(0 if added else 1, share.high, share.typical)

    def asks(self, exposure: Exposure, rule: Rule, material: str) -> tuple[str, ...]:
        # an untold natural share is tolerated, what stands in a base of unknown make was added by somebody
        return (rule.substance,) if rule.max_pct or exposure.of_unknown_make(material) else ()


class SumOfFractions(Kind):
    """Each member's percent over its own limit, added up: at most 1."""

    name = "sum_of_fractions"

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        most = 1.0 if rule.max_pct is None else rule.max_pct / WHOLE
        words = f"sum of fractions at most {most:g}"
        return (
            Term(rule, SUM, most, words, FRACTION, note="each member's percent over its own limit, added up"),
        )

    def substances(self, rule: Rule) -> tuple[str, ...]:
        return tuple(part.substance for part in rule.parts)

    def brings(self, exposure: Exposure, rule: Rule, material: str) -> Iterator[Brought]:
        high = typical = 0.0
        for part in rule.parts:
            if part.max_pct:  # a member with limit 0 breaks by itself
                share = exposure.share(material, part.substance)
                high, typical = high + share.high / part.max_pct, typical + share.typical / part.max_pct
        if high > 0:
            yield Brought(0, high, typical)

    def is_open(self, exposure: Exposure, rule: Rule, material: str) -> bool:
        unknown = (part.substance for part in rule.parts if part.max_pct is None)
        return any(exposure.share(material, substance).high > 0 for substance in unknown)

    def asks(self, exposure: Exposure, rule: Rule, material: str) -> tuple[str, ...]:
        return self.substances(rule)


class Alternative(Kind):
    """A limit on a constituent that stands in for a sum of fractions where every lot was measured (see
    :mod:`.compiled`).
    """

    name = "alternative"

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        words = (
            "no figure on file"
            if rule.max_pct is None
            else f"{given(rule.max_pct)} where every lot is measured"
        )
        return (Term(rule, SUM, rule.max_pct, words),)


class Grade(Kind):
    """What a single material may hold; without a figure it is a rule in words about the materials named."""

    name = "grade"

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        if rule.max_pct is None:
            return (Term(rule, NEVER, None, rule.note or "a grade in words", MATERIAL),)
        words = f"at most {given(rule.max_pct)} in any material"
        return (Term(rule, EACH, rule.max_pct, words, MATERIAL, note=MATERIAL, ban="prohibited grade"),)

    def brings(self, exposure: Exposure, rule: Rule, material: str) -> Iterator[Brought]:
        inside = material in exposure.members(rule.substance)
        share = exposure.share(material, rule.substance)
        if rule.max_pct is None and inside:
            yield Brought(0, 0.0, 0.0)
        elif rule.max_pct is not None and not inside and share.high > 0:
            yield Brought(0, WHOLE * share.high, WHOLE * share.typical)

    def is_open(self, exposure: Exposure, rule: Rule, material: str) -> bool:
        return rule.max_pct is None and material in exposure.members(rule.substance)

    def asks(self, exposure: Exposure, rule: Rule, material: str) -> tuple[str, ...]:
        return () if rule.max_pct is None else (rule.substance,)


class NotWith(Kind):
    """Something else that must not stand beside it: words, never worked out from tables."""

    name = "not_with"

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        return (Term(rule, NEVER, rule.max_pct, rule.note or "not with something else"),)

    def is_open(self, exposure: Exposure, rule: Rule, material: str) -> bool:
        return exposure.share(material, rule.substance).high > 0

    def asks(self, exposure: Exposure, rule: Rule, material: str) -> tuple[str, ...]:
        return ()


class Declare(Kind):
    """Named on the label above a threshold; it limits nothing."""

    name = "declare"

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        threshold = "an unknown threshold" if rule.max_pct is None else f"{given(rule.max_pct)}"
        return (Term(rule, LABEL, rule.max_pct, f"named on the label above {threshold}"),)


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Max(),
        Prohibited(),
        AsSuch(),
        SumOfFractions(),
        Alternative(),
        Grade(),
        NotWith(),
        Declare(),
    )
}


def kind_of(rule: Rule) -> Kind:
    """The kind that ``rule`` names."""
    return KINDS[rule.rule]


def ban_words(exposure: Exposure, term: Term, material: str) -> str:
    """Why ``term`` lets no amount of ``material`` in, with what brings it there."""
    via = exposure.share(material, term.rule.substance).via
    words = f"{term.ban} ({term.rule.limit_set})"
    if via == "itself":
        return words
    verb = "holds" if via == "constituent" else "gives back"
    return f"{words}: {verb} {substance_name(exposure.tables, term.rule.substance)}"
