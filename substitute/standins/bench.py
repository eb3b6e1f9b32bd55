"""What stand-ins are worked out on: built once by the library, passed along whole."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import field
from functools import cached_property

from ..frozen import frozen
from ..odour.perception import HEARING, Hearing
from ..odour.space import Space
from ..odour.staging import Staged
from ..records import Swap, Tables
from ..rules.context import Context
from ..rules.exposure import Exposure
from ..rules.kinds import kind_of
from ..rules.situation import Situation, situate
from .candidates import smellable
from .evidence import Evidence
from .features import Features


class Law:
    """What law says of what can stand in; each material is looked up when it is first asked for."""

    def __init__(self, situation: Situation):
        self._situation = situation
        self._rules: dict[str, str] = {}
        self._held: dict[str, bool] = {}

    def forbids(self, material: str) -> str:
        """The rule that lets no amount of ``material`` in; '' if none does."""
        if material not in self._rules:
            bans = self._situation.forbidden(material)
            self._rules[material] = bans[0].words.split(":")[0] if bans else ""
        return self._rules[material]

    def holds(self, material: str) -> bool:
        """Whether ``material`` is no more than protected, or a precursor."""
        if material not in self._held:
            self._held[material] = not self.forbids(material) and bool(self._situation.status(material))
        return self._held[material]


@frozen
class Bench:
    """Tables, space, features, exposure, staged odours and documented swaps (missing -> rows, best first)."""

    tables: Tables
    space: Space
    features: Features
    exposure: Exposure
    staged: Staged
    evidence: Mapping[str, tuple[Swap, ...]]
    hearing: Hearing = HEARING
    _laws: dict[Context, Law] = field(default_factory=dict, repr=False, compare=False)
    _scales: dict[Context, Situation] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def known(self) -> Evidence:
        """What is documented around any pair."""
        return Evidence(self.tables, self.space, self.evidence)

    @cached_property
    def smellable(self) -> tuple[str, ...]:
        """Materials that can stand in for anything."""
        return tuple(smellable(self.tables))

    def law(self, situation: Situation) -> Law:
        """One for each set of rules."""
        if situation.context not in self._laws:
            self._laws[situation.context] = Law(situation)
        return self._laws[situation.context]

    @cached_property
    def scale_category(self) -> str:
        """The category that most limits have a figure for."""
        known = Counter(
            row.category
            for row in self.tables.limits
            if kind_of(row).maximum and row.max_pct is not None and row.category[:1].isdigit()
        )
        return known.most_common(1)[0][0] if known else ""

    def scale(self, situation: Situation) -> Situation:
        """Where limits of different substances are compared: the product asked for, else the category
        with most figures.

        The strictest figures of a market come from different categories, so that only presses on one and
        the same limit compare.
        """
        if situation.named or not self.scale_category:
            return situation
        if situation.context not in self._scales:
            self._scales[situation.context] = situate(
                self.exposure,
                category=self.scale_category,
                dose=1.0,
                market=situation.market,
                on=situation.on,
                because=situation.because,
            )
        return self._scales[situation.context]

    def relieves(self, situation: Situation, missing: str, stand_in: str, grams: float) -> bool | None:
        """Whether ``grams`` of the stand-in for one gram are a way out of a limit; ``None`` where that is
        not known.
        """
        here = situation.relieves(missing, 1.0, stand_in, grams)
        scale = self.scale(situation)
        if here is False or scale is situation:
            return here
        there = scale.relieves(missing, 1.0, stand_in, grams)
        return False if there is False else here and there
