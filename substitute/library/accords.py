"""Questions about one accord: adjusted, rebalanced, weighed, priced, checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import InputError
from ..records import Accord
from ..shown import Plain

if TYPE_CHECKING:
    from ..accords.adjusted import Adjusted
    from ..rules.situation import Situation
    from ..tables.check_files import Checked

from .core import AccordSource, Day, ShelfSource, today
from .standins import StandInQuestions


class AccordQuestions(StandInQuestions):
    """An accord adjusted, rebalanced, weighed and priced."""

    def adjust(
        self,
        accord: AccordSource,
        *,
        without: Sequence[str] = (),
        because: str = "unavailable",
        keep: Sequence[str] = (),
        move: float = 25.0,
        use: Sequence[str] = (),
        same_total: bool = False,
        rivals: int = 3,
        max_new: int | None = None,
        shelf: ShelfSource = None,
        dose: float | None = None,
        category: str | None = None,
        product: str | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on: Day = None,
        hold_dose: bool = False,
    ) -> Adjusted:
        """The accord, swapped; see :func:`substitute.accords.adjust.adjust` and
        :class:`substitute.accords.gaps.Wanted`."""
        from ..accords.adjust import adjust
        from ..accords.gaps import Wanted
        from ..rules.cautions import of_accord

        situation = self.situate(
            product=product,
            category=category,
            dose=dose,
            market=market,
            on=on,
            limits=limits,
            because=because,
            shelf=self.shelf_for(shelf),
        )
        ids = {"without": without, "keep": keep, "use": use}
        named = {
            word: tuple(dict.fromkeys(self.find(text).id for text in texts)) for word, texts in ids.items()
        }
        wanted = Wanted(
            **named, move=move, same_total=same_total, max_new=max_new, rivals=rivals, hold_dose=hold_dose
        )
        wider = self.stand_ins_for_adjust(replace(situation, shelf=None)) if situation.shelf else None
        record = self.read_accord(accord, fill=dose is None)
        found = adjust(
            self.staged,
            record,
            situation,
            self.stand_ins_for_adjust(situation),
            wanted,
            wider=wider,
            restage=lambda share, ids: self.stage_odour(share=share, ids=ids),
        )
        after = found.formula().active()
        return replace(
            found,
            cautions=(*of_accord(situation, after), *found.cautions),
            likeness=self.likeness(record.active(), after),
        )

    def rebalance(
        self,
        accord: AccordSource,
        *,
        too_strong: Sequence[str] = (),
        too_weak: Sequence[str] = (),
        right: Sequence[str] = (),
        ratio: Sequence[str] = (),
        same_total: bool = False,
        grams: float | None = None,
        balance: float | None = None,
        dose: float | None = None,
        category: str | None = None,
        product: str | None = None,
        market: str | None = None,
        on: Day = None,
        history: Sequence[Any] = (),
    ) -> Any:
        """The next trial of an accord; see :func:`substitute.accords.rebalance.rebalance`.

        Lines are named as typed, with a degree behind a colon (``ionone:far``; slightly, clearly, far).
        ``ratio`` names lines whose ratio stays (``a:b``) or is set anew, neat for neat (``a:b=2:1``). The
        trial is bracketed by ``history`` (trials, oldest first), else by the family in the accord's folder,
        for an accord of the book by what was said in it.
        """
        from ..accords.rebalance import Batch, Heard, rebalance
        from ..accords.trials import next_trial_path, trial_number
        from ..book.desk import heard_of, ratios_of
        from ..rules.cautions import of_accord

        if (grams is None) != (balance is None):
            raise InputError(
                "`grams` and `balance`: give both or neither; the balance's step is judged against the batch"
            )
        path = None if isinstance(accord, Accord) else self.accord_file(accord)
        record = self.read_accord(accord, fill=True)
        situation = self.situate(product=product, category=category, dose=dose, market=market, on=on)
        family = self.family(path) if path else None
        seen = family.evidence(path.name) if family and path else tuple(history)
        said = {"too_strong": too_strong, "too_weak": too_weak, "right": right}
        before = self._said_before(path, family, any(said.values()))
        asked = ratios_of(self.names, record, ratio)
        kept = seen[-1].ratios if seen and not ratio else tuple(asked)
        anew = {group: figures for group, figures in asked.items() if figures}
        found = rebalance(
            record,
            Heard(heard_of(self.names, record, said, before), kept, same_total, anew),
            history=seen[:-1] if family else seen,
            tables=self.tables,
            ceiling=self.most_parts(record, situation),
            batch=Batch(grams, balance) if grams is not None and balance is not None else None,
            trial=trial_number(next_trial_path(path)) if path else None,
            parent=path.name if path else None,
        )
        lost = seen[-1].name if family and seen[-1].orphan else ""
        told = (
            f"{lost}: the file it came from is gone; what was said before it is not counted." if lost else ""
        )
        warnings = (told, *found.warnings) if told else found.warnings
        return replace(found, warnings=warnings, cautions=of_accord(situation, record.active()))

    def _said_before(self, path: Any, family: Any, more: bool) -> dict[str, tuple[str, str]]:
        """What was said of a trial's lines: in the book all that holds, in plain files what led on from
        it if nothing ``more`` is said."""
        if family is None or (more and not (self.book is not None and self.book.holds(path))):
            return {}
        here = next(trial for trial in family.trials if trial.name == path.name)
        return {id: (verdict, here.degrees.get(id, "")) for id, verdict in here.verdicts.items()}

    def _accords_of(self, accords: Any) -> Any:
        """Accords from a folder or a sequence, (name, message) of the rejected, and the folder if it was
        one."""
        if isinstance(accords, (str, Path)):
            return *self.read_accords(accords), Path(accords)
        found, rejected = [], []
        for source in accords:
            try:
                found.append(self.read_accord(source))
            except InputError as error:
                rejected.append((Path(str(source)).stem, str(error)))
        return found, rejected, None

    def keep_trial(self, trial: Any, accord: AccordSource) -> Path:
        """Keep a trial beside its accord under the next free number; in the book, with what was said of
        the accord in its verdicts."""
        from ..accords.trials import base_name, next_trial_path, save_trial, trial_number, write_trial
        from ..book.records import Verdict

        path = self.accord_file(accord)
        if self.book is None or not self.book.holds(path):
            return save_trial(trial, path)
        stem, number = base_name(path.name), trial_number(path)
        known = self.book.said_of(stem, number)
        day = today().isoformat()
        said = [
            Verdict(0, day, "line", stem, line.id, number, "", line.verdict, line.degree)
            for line in trial.lines
            if line.verdict and known.get(line.id) != (line.verdict, line.degree)
        ]
        if said:
            self.book.add_verdicts(said)
        place = next_trial_path(path)
        return self.book.keep_accord(
            place.stem, write_trial(replace(trial, parent=path.name), verdicts=False)
        )

    def family(self, accord: AccordSource) -> Any:
        """An accord and all its trials (:class:`substitute.accords.trials.Family`), from any of their
        files or the name in the book."""
        from ..accords.trials import read_family

        path = self.accord_file(accord)
        own = self.book is not None and self.book.holds(path)
        return read_family(path, self.names, self.book.said_of if own and self.book else None)

    def history(self, accord: AccordSource) -> Plain:
        """The whole family of an accord's trials, side by side."""
        from ..accords.family import history_record

        family = self.family(accord)
        words = self.book.words_of(family.stem) if self.book is not None else {}
        return Plain("history", history_record(family, self.tables, words))

    def compare_trials(self, accord: AccordSource, one: str, other: str) -> Plain:
        """What changed between two trials of an accord, line by line."""
        from ..accords.family import compare_record
        from ..accords.trials import find_trial

        family = self.family(accord)
        return Plain(
            "compare", compare_record(find_trial(family, one), find_trial(family, other), self.tables)
        )

    def most_parts(self, accord: Accord, situation: Situation) -> dict[str, float] | None:
        """Active parts that each line may reach alone by the known limits; ``None`` where nothing is
        judged."""
        if situation.dose is None or not situation.judged:
            return None
        most = {name: situation.most_pct(name) for name in accord.active()}
        return {
            name: value * accord.total / situation.dose for name, value in most.items() if value is not None
        }

    def weigh(
        self,
        accord: AccordSource,
        *,
        grams: float,
        balance: float = 0.01,
        shelf: ShelfSource = None,
        take: bool = False,
        stretch: bool = False,
    ) -> Any:
        """A weighing sheet in solutions, and a strip sheet, with what the batch costs.

        ``stretch`` lets the batch weigh more, so that the solutions at hand fit. ``take`` takes what is
        weighed from the book's bottles, and puts what is left of solutions made for it among them. Raises
        :class:`~substitute.errors.InputError`, and takes nothing, if a bottle does not hold enough.
        """
        from ..accords.weigh import weigh
        from ..rules.cautions import of_accord

        record = self.read_accord(accord)
        if take and shelf is not None:
            raise InputError("`take` is from the bottles of your own book; leave `shelf` out")
        found = weigh(
            record, self.tables, grams=grams, balance=balance, shelf=self.shelf_for(shelf), stretch=stretch
        )
        taken = self._take(found, found.total_g) if take else ()
        cautions = (*of_accord(self.situate(), record.active()), *found.cautions)
        return replace(found, cautions=cautions, taken=taken)

    def sheets(
        self,
        accords: Any,
        out: str | Path,
        *,
        grams: float,
        balance: float = 0.01,
        shelf: ShelfSource = None,
        kind: str = "html",
        force: bool = False,
    ) -> tuple[list[Path], list[tuple[str, str]]]:
        """A weighing sheet of every accord of a folder, written into the folder ``out``; (name, message)
        of those that cannot be read.

        ``kind`` is html, xlsx, md or csv. Nothing is written if a sheet is there already, unless
        ``force``.
        """
        from ..answers import lay_out
        from ..answers.files import ENDINGS, write_answer

        if f".{kind}" not in ENDINGS:
            known = ", ".join(one[1:] for one in ENDINGS)
            raise InputError(f"`kind` '{kind}' is not a kind of sheet: one of {known}")
        found, rejected, _ = self._accords_of(accords)
        folder = Path(out)
        targets = [folder / f"{accord.name}.{kind}" for accord in found]
        there = [path for path in targets if path.exists()]
        if there and not force:
            raise InputError(f"{there[0]}: exists already; another folder, or `force` to write over it")
        laid = []
        for accord in found:
            try:
                answer = self.weigh(accord, grams=grams, balance=balance, shelf=shelf).to_dict()
            except InputError as error:
                rejected.append((accord.name, str(error)))
            else:
                laid.append((folder / f"{accord.name}.{kind}", lay_out("weigh", answer)))
        if not laid:
            raise InputError(
                f"no accord could be weighed: {rejected[0][0]}: {rejected[0][1]}"
                if rejected
                else "no accords were given"
            )
        folder.mkdir(parents=True, exist_ok=True)
        return [write_answer(path, answer, force=force) for path, answer in laid], list(rejected)

    def _take(self, weighed: Any, grams: float) -> tuple[str, ...]:
        """Take a weighing from the book's bottles; what was taken, in words."""
        from ..book.desk import draws_of, told_moves

        book = self._own_book()
        names = {id: material.name for id, material in self.tables.materials.items()}
        draws = draws_of(weighed, book.bottles(self.names), self.tables)
        return told_moves(book.take(draws, self.names, accord=weighed.accord, batch=grams, titles=names))

    def cost(self, *accords: AccordSource, grams: float = 10.0, shelf: ShelfSource = None) -> Plain:
        """What ``grams`` of each accord cost by the shelf's prices, and all together; a missing price
        makes a range.

        Of a folder the accords are priced, not their trials.
        """
        from ..accords.cost import cost_of, scale_of, total_of
        from ..accords.trials import trial_number
        from ..accords.weigh import MOST_GRAMS, check_number

        check_number("`grams`", grams, 0.0, MOST_GRAMS)
        held = self.shelf_for(shelf)
        scale = scale_of(self.tables, held)
        found, rejected = [], []
        for source in accords:
            if isinstance(source, (str, Path)) and Path(source).is_dir():
                read, wrong = self.read_accords(source)
                found += [accord for accord in read if trial_number(accord.name) == 1]
                rejected += wrong
            else:
                found.append(self.read_accord(source))
        costs = {
            accord.name: cost_of(
                self.tables,
                held,
                [(line.material, line.strength, line.parts / accord.total * grams) for line in accord.lines],
                scale,
            )
            for accord in found
        }
        notes = [f"{name}: not read, {message}" for name, message in rejected]
        if any(cost.unpriced for cost in costs.values()):
            notes.append(
                "A range where a price is missing: rough words for prices, scaled by the prices of your own "
                "bottles; no quote."
            )
        rows = [{"accord": name, "grams": grams, **cost.to_dict()} for name, cost in costs.items()]
        return Plain("cost", {"accords": rows, "total": total_of(costs).to_dict(), "notes": notes})

    def check(self, *files: str | Path, fix: str | None = None, force: bool = False) -> Checked:
        """Everything wrong with a person's own files; see
        :func:`substitute.tables.check_files.check_files`."""
        from ..book.check import check_book, is_book
        from ..tables.check_files import Checked, check_files

        books = [Path(file) for file in files if is_book(Path(file))]
        found = [check_book(folder, self.names) for folder in books]
        rest = [file for file in files if Path(file) not in books]
        if rest or not books:
            found.append(check_files(map(str, rest), self.names, tables=self.tables, fix=fix, force=force))
        return Checked(
            tuple(line for one in found for line in one.lines),
            tuple(complaint for one in found for complaint in one.complaints),
        )
