"""Questions about rules: which apply, where an accord stands, what a bottle has to say, what to ask a
supplier."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

from ..errors import InputError
from ..records import Asked, Shelf, Where

if TYPE_CHECKING:
    from ..rules.context import Context
    from ..rules.label import Label
    from ..rules.reach import Reach
    from ..rules.situation import Situation

from .core import AccordSource, Core, Day


class RuleQuestions(Core):
    """Which rules apply, and where an accord stands by them."""

    def context(self, **where: Unpack[Where]) -> Context:
        """The sets of rules that apply to a product or category on a date
        (:class:`substitute.rules.context.Context`)."""
        from ..rules.context import resolve_context

        return resolve_context(self.tables, **where)

    def situate(
        self, *, because: str = "unavailable", shelf: Shelf | None = None, **asked: Unpack[Asked]
    ) -> Situation:
        """What a question is asked for, resolved once; see :func:`substitute.rules.situation.situate`."""
        from ..rules.context import read_day
        from ..rules.situation import situate

        asked["on"] = read_day(asked.get("on"))  # what was resolved today is not tomorrow's answer
        asked["limits"] = tuple(asked.get("limits", ()))
        said = frozenset((word, value) for word, value in asked.items() if value is not None)
        key = (said, because, shelf)
        if key not in self._situations:
            self._situations[key] = situate(self.exposure, because=because, shelf=shelf, **asked)
        return self._situations[key]

    def judged_in(self, **asked: Unpack[Asked]) -> Situation:
        """:meth:`situate` for a question that makes no sense without a product and a dose."""
        found = self.situate(**asked)
        if not found.judged:
            raise InputError("limits need a product or a category, and a dose")
        return found

    def product_ids(self) -> list[str]:
        """Ids of the products that rules know, each once."""
        return list(dict.fromkeys(product.id for product in self.tables.products))

    def status(self, market: str | None = None, on: Day = None) -> Callable[[str], tuple[str, ...]]:
        """A function id -> words of law ('prohibited …', 'protected …', 'precursor'), for a market,
        whatever the product."""
        return self.situate(market=market, on=on).status

    def limits(
        self,
        accord: AccordSource,
        *,
        dose: float,
        category: str | Sequence[str] | None = None,
        product: str | Sequence[str] | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on: Day = None,
    ) -> Any:
        """Where an accord stands in a product; see :func:`substitute.rules.report.report`.

        Where several products or categories are named, one line for each
        (:class:`substitute.rules.several.Several`).
        """
        from ..rules.report import report
        from ..rules.several import Several

        accord = self.read_accord(accord)
        where: list[dict[str, str | None]] = [{"product": name} for name in _several(product)]
        where += [{"category": name} for name in _several(category)]
        several = len(where) > 1 and not (isinstance(product, str) and isinstance(category, str))
        if not several:
            where = [{"product": _only(product), "category": _only(category)}]
        reports = [
            report(self.judged_in(dose=dose, market=market, on=on, limits=limits, **one), accord)
            for one in where
        ]
        return Several(accord.name, tuple(reports)) if several else reports[0]

    def label(
        self,
        accord: AccordSource,
        *,
        dose: float,
        base: Mapping[str, float] | None = None,
        **where: Unpack[Where],
    ) -> Label:
        """The text for a bottle, a draft; ``base`` are the product's other ingredients: label name ->
        percent.

        See :func:`substitute.rules.label.label`.
        """
        from ..rules.label import label

        return label(self.judged_in(dose=dose, **where), self.read_accord(accord), base)

    def reach(self, accord: AccordSource, *, market: str | None = None, on: Day = None) -> Reach:
        """How far an accord reaches in every product, worst and unknown first; see
        :func:`substitute.rules.reach.reach`."""
        from ..rules.reach import ASKED_AT, reach

        record = self.read_accord(accord)
        found = self.limits(record, dose=ASKED_AT, product=self.product_ids(), market=market, on=on)
        return reach(self.situate(market=market, on=on), record, found.reports)

    def ask(self, accords: Any, **where: Unpack[Where]) -> Any:
        """What to ask a supplier about ``accords`` in a product; see
        :func:`substitute.rules.ask.questions`."""
        from ..rules.ask import questions

        situation = self.judged_in(dose=100.0, **where)  # at any dose the same is unknown
        return questions(situation, [self.read_accord(one) for one in accords])

    def answered(self, path: Any, folder: str | Path, *, force: bool = False) -> list[Path]:
        """Writes a supplier's answers, a page of :meth:`ask` filled in, into ``folder`` as a person's own
        tables.

        Raises :class:`~substitute.errors.InputError` for a file that is there already, unless ``force``.
        """
        from ..rules.ask import answered
        from ..tables.writing import write_whole

        found = answered(self.tables, path)
        if not found:
            raise InputError(f"{path}: no line has an answer in the column answer_pct")
        there = [name for name in found if (Path(folder) / name).exists()]
        if there and not force:
            raise InputError(
                f"{Path(folder) / there[0]}: exists already; another folder, or force to write over it"
            )
        Path(folder).mkdir(parents=True, exist_ok=True)
        return [write_whole(Path(folder) / name, text, force=force) for name, text in found.items()]


def _several(named: str | Sequence[str] | None) -> list[str]:
    return [] if named is None else [named] if isinstance(named, str) else list(dict.fromkeys(named))


def _only(named: str | Sequence[str] | None) -> str | None:
    return named if named is None or isinstance(named, str) else next(iter(named), None)
