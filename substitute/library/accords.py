"""Questions about one accord: adjusted, rebalanced, its trials."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Unpack

from ..errors import InputError
from ..records import Accord
from ..shown import Plain

if TYPE_CHECKING:
    from ..accords.adjusted import Adjusted
    from ..accords.rebalance import Batch
    from ..accords.trials import Family
    from ..rules.situation import Situation

from .asked import AdjustOptions, Asked, Freedom, LineVerdicts, RebalanceOptions, split
from .core import AccordSource, ShelfSource, today
from .standins import StandInQuestions


class AccordQuestions(StandInQuestions):
    """An accord adjusted and rebalanced, and its trials."""

    def adjust(
        self,
        accord: AccordSource,
        *,
        without: Sequence[str] = (),
        because: str = "unavailable",
        keep: Sequence[str] = (),
        use: Sequence[str] = (),
        shelf: ShelfSource = None,
        **options: Unpack[AdjustOptions],
    ) -> Adjusted:
        """The accord, swapped; see :func:`substitute.accords.adjust.adjust` and
        :class:`substitute.accords.gaps.Wanted`."""
        from ..accords.adjust import adjust
        from ..accords.gaps import Wanted
        from ..rules.cautions import of_accord

        freedom, asked = split(options, Freedom, Asked)
        situation = self.situate(because=because, shelf=self.shelf_for(shelf), **asked)
        ids = {"without": without, "keep": keep, "use": use}
        named: dict[str, Any] = {
            word: tuple(dict.fromkeys(self.find(text).id for text in texts)) for word, texts in ids.items()
        }
        wanted = Wanted(**named, **freedom)
        wider = self.stand_ins_for_adjust(replace(situation, shelf=None)) if situation.shelf else None
        record = self.read_accord(accord, fill=asked.get("dose") is None)
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
        ratio: Sequence[str] = (),
        same_total: bool = False,
        grams: float | None = None,
        balance: float | None = None,
        history: Sequence[Any] = (),
        **options: Unpack[RebalanceOptions],
    ) -> Any:
        """The next trial of an accord; see :func:`substitute.accords.rebalance.rebalance`.

        Lines are named as typed, with a degree behind a colon (``ionone:far``; slightly, clearly, far).
        ``ratio`` names lines whose ratio stays (``a:b``) or is set anew, neat for neat (``a:b=2:1``). The
        trial is bracketed by ``history`` (trials, oldest first), else by the family in the accord's folder,
        for an accord of the book by what was said in it.
        """
        from ..accords.rebalance import Heard, rebalance
        from ..accords.trial_files import next_trial_path
        from ..accords.trials import trial_number
        from ..book.desk import heard_of, ratios_of
        from ..rules.cautions import of_accord

        batch = _batch(grams, balance)
        path = None if isinstance(accord, Accord) else self.accord_file(accord)
        record = self.read_accord(accord, fill=True)
        said, asked = split(options, LineVerdicts, Asked)
        situation = self.situate(**asked)
        family = self.family(path) if path else None
        seen = family.evidence(path.name) if family and path else tuple(history)
        before = self._said_before(path, family, said)
        ratios = ratios_of(self.names, record, ratio)
        kept = seen[-1].ratios if seen and not ratio else tuple(ratios)
        anew = {group: figures for group, figures in ratios.items() if figures}
        found = rebalance(
            record,
            Heard(heard_of(self.names, record, said, before), kept, same_total, anew),
            history=seen[:-1] if family else seen,
            tables=self.tables,
            ceiling=self.most_parts(record, situation),
            batch=batch,
            trial=trial_number(next_trial_path(path)) if path else None,
            parent=path.name if path else None,
        )
        warnings = found.warnings
        if family and seen[-1].orphan:
            gone = f"{seen[-1].name}: the file it came from is gone; what was said before it is not counted."
            warnings = (gone, *warnings)
        return replace(found, warnings=warnings, cautions=of_accord(situation, record.active()))

    def _said_before(
        self, path: Path | None, family: Family | None, said: Mapping[str, Sequence[str]]
    ) -> dict[str, tuple[str, str]]:
        """What was said of a trial's lines: in the book all that holds, in plain files what led on from
        it if nothing is ``said`` now."""
        if family is None or path is None:
            return {}
        in_book = self.book is not None and self.book.holds(path)
        if any(said.values()) and not in_book:
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
        from ..accords.trial_files import next_trial_path, save_trial, write_trial
        from ..accords.trials import base_name, trial_number
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
        from ..accords.trial_files import read_family

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


def _batch(grams: float | None, balance: float | None) -> Batch | None:
    """The batch that the balance is judged against, if one is weighed."""
    from ..accords.rebalance import Batch

    if grams is None and balance is None:
        return None
    if grams is None or balance is None:
        raise InputError(
            "`grams` and `balance`: give both or neither; the balance's step is judged against the batch"
        )
    return Batch(grams, balance)
