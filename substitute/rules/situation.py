"""What an answer is asked for, resolved once: product or category, dose, market, date, sets, reason and
shelf.

A :class:`Situation` owns what is forbidden in it, how much of each material the known limits let through,
and what is not known. Every
command asks it; none asks for a product that nobody named. Where no product is named, the sets of the
market speak in general: what
they prohibit whatever the product is forbidden, and how hard two materials press on the same limit can
still be compared.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Unpack

import numpy as np

from ..errors import InputError
from ..frozen import frozen
from ..records import Control, Shelf, Tables, Where
from ..tables.near import nearest
from .compiled import Compiled, compiled_for
from .context import Context, check_dose, general_context, resolve_context
from .controls import WORDS, controls_in_force
from .exposure import Exposure
from .kinds import LABEL, NEVER, Term, ban_words

if TYPE_CHECKING:
    from .verdict import Verdict

REASONS = ("unavailable", "limit", "law", "price")
HALF = 0.5  # a relief takes up less than this part of what the missing one took up of its limits
NEGLIGIBLE = 0.05  # of the hardest press of the missing one: below it a limit counts as not pressed
ITSELF_SHARE = 0.08  # a natural with this much of a molecule is that molecule again
BULK_SHARE = 0.5  # and a natural is again what makes up this much of it

Limited = tuple[str, str]
"""A limit by its substance (a material or a group) and the id of its set."""


@frozen
class Ban:
    """Why no amount of a material may be used here.

    ``by`` is the id of a limit set or the word of a control; ``through`` how the substance gets there:
    itself, constituent, release.
    """

    substance: str
    by: str
    words: str
    through: str = "itself"
    basis: str = ""
    source: str = ""


@frozen(eq=False)
class Situation:
    """See the module; made by :func:`situate`. ``dose`` is percent of the finished product, ``None`` where
    none was given.
    """

    exposure: Exposure = field(repr=False)
    context: Context
    dose: float | None = None
    because: str = "unavailable"
    shelf: Shelf | None = None
    named: bool = False  # a product or category was named
    _bans: dict[str, tuple[Ban, ...]] = field(default_factory=dict, repr=False)
    _pressures: dict[str, Mapping[Limited, float]] = field(default_factory=dict, repr=False)

    @property
    def tables(self) -> Tables:
        return self.exposure.tables

    @property
    def market(self) -> str:
        return self.context.market

    @property
    def on(self) -> dt.date:
        return self.context.on

    @property
    def judged(self) -> bool:
        """Whether a product and a dose were given, so that amounts can be held against limits."""
        return self.named and self.dose is not None

    @cached_property
    def compiled(self) -> Compiled:
        """The rules that count here."""
        return compiled_for(self.exposure, self.context)

    # -- what is forbidden
    # -----------------------------------------------------------------------------------------------

    def forbidden(self, material: str) -> tuple[Ban, ...]:
        """Why no amount of ``material`` may be used, by itself, by what it holds or by what it gives back.

        Empty if nothing on file says so.
        """
        if material not in self._bans:
            found = [self._ban(term, material) for term in self.compiled.banned_by(material)]
            found += self._bans_by_controls(material)
            self._bans[material] = tuple(dict.fromkeys(found))
        return self._bans[material]

    def _ban(self, term: Term, material: str) -> Ban:
        rule, words = term.rule, ban_words(self.exposure, term, material)
        via = self.exposure.share(material, rule.substance).via
        return Ban(rule.substance, rule.limit_set, words, via, rule.basis, rule.source)

    @cached_property
    def _controls(self) -> Mapping[str, tuple[Control, ...]]:
        found: dict[str, list[Control]] = {}
        for one in controls_in_force(self.tables, self.context):
            found.setdefault(one.material, []).append(one)
        return {name: tuple(rows) for name, rows in found.items()}

    def _bans_by_controls(self, material: str) -> Iterable[Ban]:
        for one in self._controls.get(material, ()):
            if one.control == "ban":
                yield Ban(material, "ban", WORDS["ban"], "itself", one.basis, one.source)

    def status(self, material: str) -> tuple[str, ...]:
        """The words that go with ``material`` here: ``prohibited (set)``, ``protected (CITES)``,
        ``precursor``; none if it is free.
        """
        found = [ban.words for ban in self.forbidden(material)]
        found += [WORDS[one.control] for one in self._controls.get(material, ()) if one.control in WORDS]
        return tuple(dict.fromkeys(found))

    # -- how much ------------------------------------------------------------------------------------------
    # --------------

    def pressure(self, material: str) -> Mapping[Limited, float]:
        """(substance, set) -> the part of that limit which 1 % of ``material`` in the product takes up;
        infinite where prohibited.

        Without a product the strictest figure of each set speaks, whatever product it is for: then only
        pressures on the same limit
        may be compared.
        """
        if material not in self._pressures:
            found: dict[Limited, float] = {}
            for number, press in self.compiled.pressures(material).items():
                rule = self.compiled.terms[number].rule
                key = rule.substance, rule.limit_set
                found[key] = max(found.get(key, 0.0), press)
            for ban in self.forbidden(material):
                if ban.by in self.tables.limit_sets:
                    found[ban.substance, ban.by] = math.inf
            self._pressures[material] = found
        return self._pressures[material]

    def most_pct(self, material: str) -> float | None:
        """The highest percent of ``material``, alone, in the product by the known limits, at most 100;
        ``None`` where none on file bears on it.
        """
        if self.forbidden(material):
            return 0.0
        pressed = self.pressure(material) if self.named else {}
        return min(100.0, 1.0 / max(pressed.values())) if pressed else None

    def unknown(self, material: str) -> tuple[str, ...]:
        """Substances that ``material`` brings and that a rule of the situation limits without a figure on
        file.
        """
        if not self.named:
            return ()
        return self._substances(self.compiled.entry(material).open)

    def unassessed(self, material: str) -> tuple[str, ...]:
        """Limited substances that nobody on file looked for in ``material`` though it makes sense to ask."""
        terms = self.compiled.terms
        return self._substances(n for n in self.compiled.blind(material) if terms[n].how != LABEL)

    def _substances(self, numbers: Iterable[int]) -> tuple[str, ...]:
        terms = [self.compiled.terms[number] for number in sorted(numbers)]
        return tuple(dict.fromkeys(term.rule.substance for term in terms if term.how != NEVER))

    def rows(self, ids: Sequence[str]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """``(A, limit, forbidden)`` over ``ids``: ``A @ percent <= limit``, shapes (rows, ids), (rows,),
        (ids,).

        Without a product no row stands in it, only what is forbidden.
        """
        forbidden = np.array([bool(self.forbidden(name)) for name in ids], bool)
        if not self.named:
            return np.zeros((0, len(ids))), np.zeros(0), forbidden
        known = self.compiled.rows(ids)
        return known.A, known.limit, known.forbidden | forbidden

    def judge(self, active: Mapping[str, float], total: float, dose: float | None = None) -> Verdict:
        """:func:`substitute.rules.judge.judge` here, at the situation's dose unless another is given.

        Raises :class:`~substitute.errors.InputError` where no product or no dose is named.
        """
        dose = self.dose if dose is None else dose
        if not self.named or dose is None:
            raise InputError("limits need a product or a category, and a dose")
        from .judge import judge

        return judge(self.compiled, active, total, dose)

    # -- relief --------------------------------------------------------------------------------------------
    # --------------

    def relieves(self, missing: str, grams_missing: float, stand_in: str, grams: float) -> bool | None:
        """Whether ``grams`` of ``stand_in`` in place of ``grams_missing`` of ``missing`` is a way out of a
        limit.

        It is if every limit that the missing one presses is pressed by less than half of that, and no other
        limit is pressed harder
        than before (a press under a twentieth of the hardest one counts as none). The same molecule in an
        oil, a natural's bulk, and a
        member of the same limited group are no way out. ``None``: not known, because a limit, or what the
        stand-in holds, is not.
        """
        if self.forbidden(stand_in) or self.same_again(missing, stand_in):
            return False
        old = {key: press * grams_missing for key, press in self.pressure(missing).items()}
        new = {key: press * grams for key, press in self.pressure(stand_in).items()}
        if any(key[0] in self.tables.groups and self._both_in(key[0], missing, stand_in) for key in old):
            return False
        slight = NEGLIGIBLE * max((press for press in old.values() if math.isfinite(press)), default=math.inf)
        for key, press in new.items():
            before = old.get(key, 0.0)
            most = HALF * before if before > slight else max(before, slight if math.isfinite(slight) else 0.0)
            if press >= most > 0 or (most == 0 and press > 0):
                return False
        pressed = {substance for substance, _ in old}
        if not old or self.unknown(stand_in) or pressed & set(self.unassessed(stand_in)):
            return None
        return True

    def same_again(self, missing: str, stand_in: str) -> bool:
        """Whether ``stand_in`` is ``missing`` again: a natural that holds it, or the bulk of one."""
        inside, bulk = self.exposure.share(stand_in, missing), self.exposure.share(missing, stand_in)
        return stand_in == missing or inside.typical >= ITSELF_SHARE or bulk.typical >= BULK_SHARE

    def _both_in(self, group: str, one: str, other: str) -> bool:
        members = self.exposure.members(group)
        return one in members and other in members


def check_reason(because: str) -> str:
    """``because`` as a known reason; raises :class:`~substitute.errors.InputError` for another."""
    if because not in REASONS:
        raise InputError(
            f"because '{because}' is not allowed: one of {', '.join(REASONS)}{nearest(because, REASONS)}"
        )
    return because


def situate(
    exposure: Exposure,
    *,
    dose: float | None = None,
    because: str = "unavailable",
    shelf: Shelf | None = None,
    **where: Unpack[Where],
) -> Situation:
    """A situation; nothing of it is guessed.

    Raises
    ------
    InputError
        For an unknown reason, product, category, market, set or date, a dose out of range, a product
        without dose or the reverse.
    """
    check_reason(because)
    named = where.get("product") is not None or where.get("category") is not None
    if named and dose is None:
        raise InputError(
            "a product or category needs a dose too: the accord's percent of the finished product"
        )
    dose = None if dose is None else check_dose(dose)
    if dose is not None and not named:
        ids = list(dict.fromkeys(one.id for one in exposure.tables.products))
        raise InputError(
            f"a dose needs a product or category too: {', '.join(ids[:3])} …, or a category such as 4"
        )
    if named:
        context = resolve_context(exposure.tables, **where)
    else:
        law: dict[str, Any] = {
            word: value for word, value in where.items() if word not in ("product", "category")
        }
        context = general_context(exposure.tables, **law)
    return Situation(exposure, context, dose, because, shelf, named)
