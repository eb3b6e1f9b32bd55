"""What each kind of rule means, stated once: what a material adds to it, its limit, when it is in doubt,
its words, and what it is beside other rules.

A rule has one or two terms. A term adds up ``coefficient × percent of the material in the product`` over an
accord and holds the sum against ``limit`` (``SUM``), looks at each material by itself (``EACH``), has no
maximum (``FREE``), cannot be worked out from tables (``NEVER``), or is a threshold of the label (``LABEL``).
Judging, the optimiser, screening and declaring read terms. What is asked of a rule before it has terms (which
of two rows counts, what may stand in its place, how it is compared with an older one) is a fact of its
:class:`Kind`: no other module compares with a kind's name (``tests/test_house.py`` lists what may say one of
these words).
"""

# ruff: noqa: ARG002  (a kind need not look at all it is handed)
from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from ..figures import given, percent
from ..frozen import frozen
from .rule import Rule, substance_name

if TYPE_CHECKING:
    from ..records import Limit
    from .exposure import Exposure  # answers ask a kind for its words and need no arrays for that

SLACK = 1.0 + 1e-12  # equal figures may differ in the last bits of a float
WHOLE = 100.0
SUM, EACH, FREE, NEVER, LABEL = "sum", "each", "free", "never", "label"
NONE_ALLOWED, NO_FIGURE = "prohibited", "no figure on file"  # words of a limit that need no note
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
    """A kind of rule; each method speaks of one rule, each attribute of all of its kind.

    Attributes
    ----------
    name
        The word in the column ``rule`` of ``limits.csv``.
    limits_amount
        It says how much of its substance there may be. Rules of all such kinds about one substance are
        compared with each other when a newer set is held against an older one; and a substance that has
        one for other categories only is unknown in this one.
    own_figure
        It is *the* figure of a set for a substance: one is picked, the strictest; it is the limit of a
        member of a sum. A person's own for all categories counts beside ours for one.
    maximum
        An own figure that says the most there may be. A category's is estimated from another's, and a
        supplier can be asked for it (the answer becomes a row of the kind ``FIGURE``).
    bans
        No amount is let in, whatever stands in ``max_pct``.
    of_parts
        It holds the members of a group together, each by its own figure: it has ``parts``, and counts in
        fractions of these, not in percent of the product.
    if_measured
        It speaks only where every lot was measured, in the place of rules of the same set that give way.
    gives_way
        A rule that is ``if_measured`` may speak in its place.
    of_lot
        It is about a lot of the material; without a figure nothing found in the product bears on it.
    on_label
        It limits nothing and asks for a name on the label, which is its ``note``.
    """

    name = ""
    limits_amount = False
    own_figure = False
    maximum = False
    bans = False
    of_parts = False
    if_measured = False
    gives_way = False
    of_lot = False
    on_label = False

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
        """Whether ``material`` brings something whose limit has no figure on file.

        A kind whose figure may be missing says so here: a portfolio counts it as unknown and a stand-in that
        brings it is told to be asked about; else both take it for unlimited.
        """
        return False

    def asks(self, exposure: Exposure, rule: Rule, material: str) -> tuple[str, ...]:
        """Substances that matter if nobody looked for them in ``material``."""
        return (rule.substance,)


class Max(Kind):
    """At most so much in the finished product; without a figure unknown, with 100 % a stated absence of
    restriction.
    """

    name = "max"
    limits_amount = True
    own_figure = True
    maximum = True
    gives_way = True

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        if rule.max_pct is None:
            words = NO_FIGURE
            if rule.estimate_pct is not None:
                words = f"unknown, about {percent(rule.estimate_pct, 2)} by estimate"
            return (Term(rule, SUM, None, words),)
        if rule.max_pct >= WHOLE:
            return (Term(rule, FREE, WHOLE, "no restriction stated"),)
        if rule.max_pct == 0:
            return (Term(rule, SUM, 0.0, NONE_ALLOWED, ban="prohibited"),)
        return (Term(rule, SUM, rule.max_pct, f"{given(rule.max_pct)}"),)

    def is_open(self, exposure: Exposure, rule: Rule, material: str) -> bool:
        return rule.max_pct is None and exposure.share(material, rule.substance).high > 0

    def asks(self, exposure: Exposure, rule: Rule, material: str) -> tuple[str, ...]:
        return () if rule.max_pct is not None and rule.max_pct >= WHOLE else (rule.substance,)


class Prohibited(Kind):
    """None at all, from naturals neither."""

    name = "prohibited"
    limits_amount = True
    own_figure = True
    bans = True

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        return (Term(rule, SUM, 0.0, NONE_ALLOWED, ban="prohibited"),)


class AsSuch(Kind):
    """Not to be added, nor given back by what is added; a natural's own share is tolerated, to a stated
    figure or without one.
    """

    name = "prohibited_as_such"
    limits_amount = True

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
    of_parts = True
    gives_way = True

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
    if_measured = True

    def terms(self, rule: Rule) -> tuple[Term, ...]:
        words = NO_FIGURE if rule.max_pct is None else f"{given(rule.max_pct)} where every lot is measured"
        return (Term(rule, SUM, rule.max_pct, words),)


class Grade(Kind):
    """What a single material may hold; without a figure it is a rule in words about the materials named."""

    name = "grade"
    of_lot = True

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
    on_label = True

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


FIGURE = Max.name
"""The kind of a figure that no row of ours states: one that is missing, one that a supplier told."""


def kind_of(rule: Rule | Limit) -> Kind:
    """The kind that ``rule``, or a row of the limit tables, names."""
    return KINDS[rule.rule]


def ban_words(exposure: Exposure, term: Term, material: str) -> str:
    """Why ``term`` lets no amount of ``material`` in, with what brings it there."""
    via = exposure.share(material, term.rule.substance).via
    words = f"{term.ban} ({term.rule.limit_set})"
    if via == "itself":
        return words
    verb = "holds" if via == "constituent" else "gives back"
    return f"{words}: {verb} {substance_name(exposure.tables, term.rule.substance)}"
