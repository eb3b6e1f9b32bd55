"""The one orchestrator: a library of materials that answers every question of the commands.

Each command is a method of the same name; files may be given as paths or as records already read. What is
slow to build (the space, the exposure matrix, the staged odours) is built once, when first asked for.
"""

from __future__ import annotations

import datetime as dt
import math
import shlex
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .errors import InputError
from .records import Accord, Material, Shelf, Swap, Tables
from .shown import Plain, draw_with
from .tables.formulas import read_accord, read_accords, read_labels, read_shelf
from .tables.load import demo_folder, load_tables
from .tables.names import Names

if TYPE_CHECKING:
    import pandas as pd

    from .accords.adjusted import Adjusted
    from .accords.compare import Comparison
    from .book.book import Book
    from .book.overlay import Lessons
    from .book.shown import BookShown
    from .odour.likeness import Likeness
    from .odour.space import Space
    from .odour.staging import Staged
    from .rules.context import Context
    from .rules.exposure import Exposure
    from .rules.screening import Screening
    from .standins.answer import SwapAnswer
    from .standins.bench import Bench
    from .standins.card import Card
    from .standins.neighbours import Neighbourhood
    from .tables.check_files import Checked
    from .rules.label import Label
    from .rules.reach import Reach
    from .rules.situation import Situation
    from .shelf.listing import ShelfList

DEFAULT_MARKET = "EU"

AccordSource = Accord | str | Path | bytes
"""An accord, its file, its name in the bench book, or a file's bytes."""

ShelfSource = Shelf | str | Path | bytes | bool | None
"""A shelf or its file; ``None`` for the bench book's bottles where there is a book, ``False`` or ``'-'``
for everything on file."""

Day = dt.date | str | None
"""A date, ISO text, or ``None`` for today."""

Smell = str | Iterable[str] | Mapping[str, float]
"""A material, materials equally strong, or active grams by material."""


def _html(kind: str, answer: Mapping[str, Any]) -> str:
    from .answers.notebook import html

    return html(kind, answer)


def _frame(kind: str, answer: Mapping[str, Any]) -> pd.DataFrame:
    from .answers.notebook import frame

    return frame(kind, answer)


draw_with(_html, _frame)


def load(
    tables: str | Path | None = None,
    evidence: bool = True,
    labels: str | Path | None = None,
    book: Path | str | bool | None = None,
) -> Library:
    """The shipped tables with a person's own laid over them, and what their bench book taught.

    Parameters
    ----------
    tables : path, optional
        A folder with a person's own tables; then the environment's ``SUBSTITUTE_TABLES``, then none.
    evidence : bool
        Whether documented swaps (``swaps.csv``) count.
    labels : path, optional
        A ``labels.csv`` (label, cas) for the names on a person's own bottles.
    book : path, optional
        A person's bench book; then the environment's ``SUBSTITUTE_BOOK``, then none. Its tables and labels are laid over ours, its
        bottles are the shelf where none is given, its verdicts count. ``False``: none, whatever the environment says.

    Raises
    ------
    TableError
        With every complaint about the tables.
    """
    from .book.book import open_book

    found = open_book(book, tables)
    library = Library(load_tables(found.tables if found and found.tables else tables), evidence, found)
    if labels is not None:
        library.names.add_labels(read_labels(labels))
    return library


class Library:
    """Materials, rules and evidence, and every question that can be asked of them."""

    def __init__(self, tables: Tables, evidence: bool = True, book: Book | None = None) -> None:
        self.on_file = tables  # without what a person's nose taught
        self.tables = tables
        self.evidence = evidence
        self.book = book
        self.lessons: Lessons | None = None
        self._situations: dict[tuple[object, ...], Situation] = {}
        if book is not None:
            book.add_labels(self.names)
            self._learn()

    @property
    def taught(self) -> Lessons:
        """What the book's verdicts taught; raises where no book is open."""
        self._own_book()
        assert self.lessons is not None
        return self.lessons

    def _learn(self) -> None:
        """Lay what the book's verdicts teach over the tables; what was built on the tables of before is
        built anew."""
        from .book.overlay import lay_over, lessons

        assert self.book is not None
        self.lessons = lessons(self.on_file, self.book.verdicts())
        self.tables = lay_over(self.on_file, self.lessons)
        for built in ("space", "graph", "staged", "bench", "_likeness"):
            self.__dict__.pop(built, None)

    # -- what is in it ---------------------------------------------------------------------------------------------------

    @cached_property
    def names(self) -> Names:
        return Names(self.tables)

    @cached_property
    def materials(self) -> pd.DataFrame:
        """All materials, indexed by ``id``; ``cas`` is ``;``-separated, '' if none."""
        import pandas as pd

        rows = []
        for m in self.tables.materials.values():
            rows.append(
                {
                    "id": m.id,
                    "name": m.name,
                    "kind": m.kind,
                    "cas": ";".join(m.cas),
                    "synonyms": ";".join(m.synonyms),
                    "botanical": m.botanical,
                    "part": m.part,
                    "process": m.process,
                    "family": m.family,
                    "structure": m.structure,
                    "smiles": m.smiles,
                    "stocked": m.stocked,
                    "assessed": ";".join(sorted(m.assessed)),
                    "description": m.description,
                    "basis": m.basis,
                    "source": m.source,
                }
            )
        return pd.DataFrame(rows).set_index("id")

    def find(self, text: str) -> Material:
        """The material that an id, name, synonym, label or CAS number names; raises
        :class:`~substitute.errors.NotFound`."""
        return self.names.find(text)

    def profile(self, material: str) -> dict[str, float]:
        """Descriptor -> weight (1-10) of a material; empty if none is on file."""
        return dict(self.tables.profiles.get(self.find(material).id, {}))

    def similarity(self, ids: Iterable[str] | None = None) -> pd.DataFrame:
        """Square table of similarities, 0 to 1; NaN for a material without profile."""
        import numpy as np
        import pandas as pd

        chosen = [self.find(name).id for name in ids] if ids is not None else list(self.tables.materials)
        row = self.space.row
        known = [name for name in chosen if name in row]
        found = pd.DataFrame(np.nan, index=chosen, columns=chosen)
        places = [row[name] for name in known]
        at = [i for i, name in enumerate(chosen) if name in row]
        values = found.to_numpy(copy=True)
        values[np.ix_(at, at)] = self.space.similarity[np.ix_(places, places)]
        return pd.DataFrame(values, index=chosen, columns=chosen)

    # -- built once ------------------------------------------------------------------------------------------------------

    @cached_property
    def space(self) -> Space:
        """The vector space of profiles (:class:`substitute.odour.space.Space`)."""
        from .odour.space import load_space

        return load_space(self.tables)

    @cached_property
    def _likeness(self) -> Likeness:
        from .odour.likeness import Likeness

        return Likeness(self.tables, self.space)

    def likeness(self, a: Smell, b: Smell) -> float | None:
        """How alike people would find two smells, 0 to 1 (about the part of 100 they would give); 1 for
        the same.

        Each is a material by any of its names, an iterable of materials equally strong, or a mapping of
        material to active grams. ``None`` where nothing of one has a profile. See
        :mod:`substitute.odour.likeness`.
        """
        return self._likeness.of(self._perceived(a), self._perceived(b))

    def _perceived(self, smell: Smell) -> dict[str, float]:
        """Perceived shares by id (any scale)."""
        if isinstance(smell, str):
            return {self.find(smell).id: 1.0}
        if not isinstance(smell, Mapping):
            return dict.fromkeys((self.find(name).id for name in smell), 1.0)
        from .odour.perception import HEARING

        found: dict[str, float] = {}
        for name, grams in smell.items():
            material = self.find(name).id
            if not (math.isfinite(grams) and grams >= 0):
                raise InputError(f"'{name}' has {grams:g} grams: allowed is 0 or more")
            found[material] = found.get(material, 0.0) + grams
        power = HEARING.power
        return {
            name: ((self.tables.value(name, "potency") or 0.0) * grams) ** power
            for name, grams in found.items()
        }

    @cached_property
    def graph(self) -> Any:
        """The typed graph (``networkx.Graph``)."""
        from .odour.graph import build_graph

        return build_graph(self.tables)

    @cached_property
    def staged(self) -> Staged:
        """Potency and profile of every material at the three stages."""
        return self.stage_odour()

    def stage_odour(self, **changes: Any) -> Staged:
        """:func:`substitute.odour.staging.stage_odour` over these tables and their space."""
        from .odour.staging import stage_odour

        return stage_odour(self.tables, self.space.profiles(), len(self.space.words), **changes)

    @cached_property
    def exposure(self) -> Exposure:
        """What every material puts of every substance (:class:`substitute.rules.exposure.Exposure`)."""
        from .rules.exposure import Exposure

        return Exposure(self.tables)

    @cached_property
    def swaps_by_missing(self) -> dict[str, tuple[Swap, ...]]:
        """Documented swaps by what is missing; none with ``evidence=False``."""
        found: dict[str, list[Swap]] = {}
        for row in self.tables.swaps if self.evidence else ():
            found.setdefault(row.missing, []).append(row)
        return {name: tuple(rows) for name, rows in found.items()}

    @cached_property
    def bench(self) -> Bench:
        """What stand-ins are worked out on."""
        from .standins.bench import Bench
        from .standins.features import Features

        return Bench(
            self.tables,
            self.space,
            Features(self.tables, self.space),
            self.exposure,
            self.staged,
            self.swaps_by_missing,
        )

    # -- files -----------------------------------------------------------------------------------------------------------

    def read_accord(self, source: Any, name: str | None = None, *, fill: bool = False) -> Accord:
        """An accord from a path, bytes with their ``name``, or a record passed through.

        With ``fill``, lines that name a note are kept apart in ``to_fill``; without, they are faults.
        """
        if isinstance(source, Accord):
            return source
        place = source if isinstance(source, bytes) else self.accord_file(source)
        return read_accord(place, self.names, name=name, fill=fill)

    def accord_file(self, source: Any) -> Path:
        """The file of an accord: the path itself, else the accord of that name in the book."""
        path = Path(source)
        if self.book is None or path.exists():
            return path
        return self.book.accord_path(str(source)) or path

    def read_accords(self, folder: str | Path) -> tuple[list[Accord], list[tuple[str, str]]]:
        """All accords of a folder, and (name, message) of those that cannot be read."""
        return read_accords(folder, self.names)

    def read_shelf(self, source: Any, name: str | None = None) -> Shelf | None:
        """A shelf from a path, bytes with their ``name``, or a record or ``None`` passed through."""
        return (
            source
            if source is None or isinstance(source, Shelf)
            else read_shelf(source, self.names, name=name)
        )

    def schema(self, kind: str) -> dict[str, Any]:
        """JSON Schema of the answer to ``kind``, a command's name; see
        :func:`substitute.answers.schema.schema`."""
        from .answers.schema import schema

        return schema(kind)

    def shelf_for(self, source: Any) -> Shelf | None:
        """The shelf of a question: the one given, else the book's bottles; ``False`` or ``'-'`` asks for
        everything on file."""
        if source is False or (source == "-" and not Path("-").exists()):
            return None
        if source is None and self.book is not None:
            return self.book.shelf(self.names)
        return self.read_shelf(source)

    @property
    def demo(self) -> Path:
        """The demo's folder."""
        return demo_folder()

    # -- for a face that edits in tables -----------------------------------------------------------------------------------

    def accord_of(self, rows: Sequence[Mapping[str, str]], name: str = "accord") -> Accord:
        """An accord from cells as typed, a mapping of column to text each; complaints name the row,
        counted from 1."""
        from .tables.files import Row
        from .tables.formulas import accord_from_rows

        return accord_from_rows(
            [Row(name, number, dict(cells)) for number, cells in enumerate(rows, 1)],
            self.names,
            name,
            name,
            None,
        )

    def shelf_of(self, rows: Sequence[Mapping[str, str]], name: str = "shelf") -> Shelf:
        """A shelf from cells as typed; complaints name the row, counted from 1."""
        from .tables.files import Row
        from .tables.formulas import shelf_from_rows

        return shelf_from_rows(
            [Row(name, number, dict(cells)) for number, cells in enumerate(rows, 1)], self.names, name, name
        )

    def compare(
        self,
        before: Mapping[str, float],
        after: Mapping[str, float],
        *,
        hours: float | None = None,
        top: int = 10,
    ) -> Comparison:
        """Two mixtures (id -> grams) side by side: in their own words, or as heard at ``hours`` on the
        strip."""
        from .accords.compare import compare_at, compare_words

        if hours is None:
            return compare_words(self.tables, self.staged, before, after, top)
        return compare_at(
            self.tables, self.stage_odour(hours=(hours,), ids=tuple({**before, **after})), before, after, top
        )

    # -- rules -----------------------------------------------------------------------------------------------------------

    def context(
        self,
        *,
        product: str | None = None,
        category: str | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on: Day = None,
    ) -> Context:
        """The sets of rules that apply to a product or category on a date
        (:class:`substitute.rules.context.Context`)."""
        from .rules import resolve_context

        return resolve_context(
            self.tables,
            product=product,
            category=category,
            market=market or DEFAULT_MARKET,
            limit_sets=tuple(limits),
            on=on,
        )

    def situate(
        self,
        *,
        product: str | None = None,
        category: str | None = None,
        dose: float | None = None,
        market: str | None = None,
        on: dt.date | str | None = None,
        limits: Sequence[str] = (),
        because: str = "unavailable",
        shelf: Shelf | None = None,
    ) -> Situation:
        """What a question is asked for, resolved once; see :func:`substitute.rules.situation.situate`."""
        from .rules.context import read_day
        from .rules.situation import situate

        key = (product, category, dose, market, read_day(on), tuple(limits), because, shelf)
        if key not in self._situations:
            self._situations[key] = situate(
                self.exposure,
                product=product,
                category=category,
                dose=dose,
                market=market,
                on=on,
                limits=limits,
                because=because,
                shelf=shelf,
            )
        return self._situations[key]

    def judged_in(self, **where: Any) -> Situation:
        """:meth:`situate` for a question that makes no sense without a product and a dose."""
        found = self.situate(**where)
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

    # -- questions -------------------------------------------------------------------------------------------------------

    def swap(
        self,
        material: str,
        *,
        because: str = "unavailable",
        shelf: ShelfSource = None,
        blend: int = 1,
        accord: AccordSource | None = None,
        dose: float | None = None,
        category: str | None = None,
        product: str | None = None,
        market: str | None = None,
        top: int = 5,
    ) -> SwapAnswer:
        """What stands in for ``material``; see :func:`substitute.standins.swap.swap`."""
        from .standins.ask import Ask
        from .standins.swap import swap

        for name, value, most in (("`blend`", blend, 6), ("`top`", top, 1000)):
            if not 1 <= value <= most:
                raise InputError(f"{name} {value} is out of range: allowed is 1 to {most}")
        missing = self.find(material).id
        given = shelf
        shelf, accord = (
            self.shelf_for(shelf),
            self.read_accord(accord, fill=True) if accord is not None else None,
        )
        situation = self.situate(
            product=product, category=category, dose=dose, market=market, because=because, shelf=shelf
        )
        found = swap(self.bench, Ask(missing, situation, because, accord), blend=blend, top=top)
        return replace(found, notes=(*found.notes, *self._from_own(given)))

    def _from_own(self, given: object) -> tuple[str, ...]:
        """The note that an answer is from the book's own bottles, where no shelf was ``given``."""
        if given is not None or self.book is None:
            return ()
        return (
            f"from the bottles of your book, {self.book.about.name}; the shelf '-' is everything on file",
        )

    def neighbours(self, name: str, *, to: str | None = None, top: int = 10) -> Neighbourhood:
        """What lies near a material, descriptor or constituent, and the path to another."""
        from .standins.neighbours import neighbours

        if not 1 <= top <= 1000:
            raise InputError(f"`top` {top} is out of range: allowed is 1 to 1000")
        return neighbours(self.tables, self.space, self.names, name, to=to, top=top)

    def stand_ins_for_adjust(
        self, situation: Situation, n: int = 14
    ) -> Callable[[str, str], list[tuple[str, float | None]]]:
        """A function (material, because) -> [(id, grams per gram)] of ranked single stand-ins; what law
        holds only from the shelf."""
        from .standins.ask import Ask
        from .standins.swap import swap

        def ranked(material: str, because: str) -> list[tuple[str, float | None]]:
            answer = swap(self.bench, Ask(material, situation, because), top=n)
            return [
                (s.members[0].id, s.members[0].amount.grams if s.members[0].amount else None)
                for s in answer.stand_ins
                if situation.shelf or not situation.status(s.members[0].id)
            ]

        return ranked

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
        from .accords.adjust import adjust
        from .accords.gaps import Wanted
        from .rules.cautions import of_accord

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
        from .rules.report import report
        from .rules.several import Several

        accord = self.read_accord(accord)
        where = [{"product": name} for name in _several(product)]
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
        product: str | None = None,
        category: str | None = None,
        market: str | None = None,
        on: dt.date | str | None = None,
        base: Mapping[str, float] | None = None,
    ) -> Label:
        """The text for a bottle, a draft; ``base`` are the product's other ingredients: label name ->
        percent.

        See :func:`substitute.rules.label.label`.
        """
        from .rules.label import label

        situation = self.judged_in(product=product, category=category, dose=dose, market=market, on=on)
        return label(situation, self.read_accord(accord), base)

    def reach(
        self, accord: AccordSource, *, market: str | None = None, on: dt.date | str | None = None
    ) -> Reach:
        """How far an accord reaches in every product, worst and unknown first; see
        :func:`substitute.rules.reach.reach`."""
        from .rules.reach import ASKED_AT, reach

        record = self.read_accord(accord)
        found = self.limits(record, dose=ASKED_AT, product=self.product_ids(), market=market, on=on)
        return reach(self.situate(market=market, on=on), record, found.reports)

    def ask(
        self,
        accords: Any,
        *,
        product: str | None = None,
        category: str | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on: Day = None,
    ) -> Any:
        """What to ask a supplier about ``accords`` in a product; see
        :func:`substitute.rules.ask.questions`."""
        from .rules.ask import questions

        # at any dose the same is unknown
        situation = self.judged_in(
            product=product, category=category, dose=100.0, market=market, on=on, limits=limits
        )
        return questions(situation, [self.read_accord(one) for one in accords])

    def answered(self, path: Any, folder: str | Path, *, force: bool = False) -> list[Path]:
        """Writes a supplier's answers, a page of :meth:`ask` filled in, into ``folder`` as a person's own
        tables.

        Raises :class:`~substitute.errors.InputError` for a file that is there already, unless ``force``.
        """
        from .rules.ask import answered
        from .tables.files import write_whole

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

    def screen(
        self,
        portfolio: str | Path,
        *,
        dose: float,
        category: str | None = None,
        product: str | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on: Day = None,
        since: str | None = None,
        mend: str | Path | None = None,
        shelf: ShelfSource = None,
        force: bool = False,
        workers: int | None = None,
        progress: Any = None,
    ) -> Screening:
        """Which accords of a folder, a long CSV or XLSX, or a Parquet file break a limit; see
        :func:`substitute.rules.screening.screen`.

        ``since`` names the older set to compare with; ``mend`` a folder for adjusted copies of what is
        broken (from ``shelf`` if given).
        """
        from .rules.changes import compare_with
        from .rules.screening import screen
        from .tables.portfolios import Portfolio

        situation = self.judged_in(
            product=product, category=category, dose=dose, market=market, on=on, limits=limits
        )
        context, dose, shelf = situation.context, situation.dose, self.shelf_for(shelf)
        older = (
            compare_with(self.tables, context, since, product=product, category=category)
            if since is not None
            else None
        )
        source = Portfolio(portfolio, self.names, self.tables.materials)
        found = screen(situation.compiled, source, dose, since=older, workers=workers, progress=progress)
        if mend is None:
            return found
        from .accords.mend import check_folder, worst_first
        from .accords.mend import mend as mend_all

        files = check_folder(mend, portfolio, found.broken_names, force=force)
        mended = []
        for one in mend_all(
            source.accords(files),
            lambda accord: self.adjust(
                accord,
                because="limit",
                shelf=shelf,
                dose=dose,
                category=category,
                product=product,
                market=market,
                limits=limits,
                on=on,
                rivals=0,
                hold_dose=True,
            ),
            files,
            force=force,
        ):
            mended.append(one.to_dict())
            if progress:
                progress(len(mended) / len(files), len(mended), len(mended))
        return replace(found, mended=tuple(worst_first(mended)))

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
        ``ratio`` names lines whose ratio stays (``a:b``). The trial is bracketed by ``history`` (trials,
        oldest first), else by the family in the accord's folder, for an accord of the book by what was
        said in it.
        """
        from .accords.rebalance import Batch, Heard, rebalance
        from .accords.trials import next_trial_path, trial_number
        from .book.desk import heard_of, ratios_of
        from .rules.cautions import of_accord

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
        kept = seen[-1].ratios if seen and not ratio else ratios_of(self.names, record, ratio)
        found = rebalance(
            record,
            Heard(heard_of(self.names, record, said, before), kept, same_total),
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

    def keep_trial(self, trial: Any, accord: AccordSource) -> Path:
        """Keep a trial beside its accord under the next free number; in the book, with what was said of
        the accord in its verdicts."""
        from .accords.trials import base_name, next_trial_path, save_trial, trial_number, write_trial
        from .book.records import Verdict

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
        from .accords.trials import read_family

        path = self.accord_file(accord)
        own = self.book is not None and self.book.holds(path)
        return read_family(path, self.names, self.book.said_of if own and self.book else None)

    def history(self, accord: AccordSource) -> Plain:
        """The whole family of an accord's trials, side by side."""
        from .accords.trials import history_record

        family = self.family(accord)
        words = self.book.words_of(family.stem) if self.book is not None else {}
        return Plain("history", history_record(family, self.tables, words))

    def compare_trials(self, accord: AccordSource, one: str, other: str) -> Plain:
        """What changed between two trials of an accord, line by line."""
        from .accords.trials import compare_record, find_trial

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

    def show(self, material: str, *, market: str | None = None, on: Day = None) -> Card:
        """A material's card; see :func:`substitute.standins.card.card`."""
        from .standins.card import card

        return card(
            self.tables,
            self.situate(market=market, on=on),
            self.swaps_by_missing,
            self.find(material).id,
        )

    def check(self, *files: str | Path, fix: str | None = None, force: bool = False) -> Checked:
        """Everything wrong with a person's own files; see
        :func:`substitute.tables.check_files.check_files`."""
        from .book.check import check_book, is_book
        from .tables.check_files import Checked, check_files

        books = [Path(file) for file in files if is_book(Path(file))]
        found = [check_book(folder, self.names) for folder in books]
        rest = [file for file in files if Path(file) not in books]
        if rest or not books:
            found.append(check_files(rest, self.names, tables=self.tables, fix=fix, force=force))
        return Checked(
            tuple(line for one in found for line in one.lines),
            tuple(complaint for one in found for complaint in one.complaints),
        )

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
        from .accords.weigh import weigh
        from .rules.cautions import of_accord

        record = self.read_accord(accord)
        if take and shelf is not None:
            raise InputError("`take` is from the bottles of your own book; leave `shelf` out")
        found = weigh(
            record, self.tables, grams=grams, balance=balance, shelf=self.shelf_for(shelf), stretch=stretch
        )
        taken = self._take(found, found.total_g) if take else ()
        cautions = (*of_accord(self.situate(), record.active()), *found.cautions)
        return replace(found, cautions=cautions, taken=taken)

    def _take(self, weighed: Any, grams: float) -> tuple[str, ...]:
        """Take a weighing from the book's bottles; what was taken, in words."""
        from .book.desk import draws_of, told_moves

        book = self._own_book()
        names = {id: material.name for id, material in self.tables.materials.items()}
        draws = draws_of(weighed, book.bottles(self.names), self.tables)
        return told_moves(book.take(draws, self.names, accord=weighed.accord, batch=grams, titles=names))

    def cost(self, *accords: AccordSource, grams: float = 10.0, shelf: ShelfSource = None) -> Plain:
        """What ``grams`` of each accord cost by the shelf's prices, and all together; a missing price
        makes a range.

        Of a folder the accords are priced, not their trials.
        """
        from .accords.cost import cost_of, scale_of, total_of
        from .accords.trials import trial_number
        from .accords.weigh import MOST_GRAMS, check_number

        check_number("`grams`", grams, 0.0, MOST_GRAMS)
        held = self.shelf_for(shelf)
        scale = scale_of(self.tables, held)
        found, rejected = [], []
        for source in accords:
            if not isinstance(source, Accord) and Path(source).is_dir():
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
                "A range where a price is missing: rough words for prices, scaled by the prices of your own bottles; no quote."
            )
        rows = [{"accord": name, "grams": grams, **cost.to_dict()} for name, cost in costs.items()]
        return Plain("cost", {"accords": rows, "total": total_of(costs).to_dict(), "notes": notes})

    # -- the bench book ----------------------------------------------------------------------------------------------------

    def _own_book(self) -> Book:
        if self.book is None:
            raise InputError(
                "no bench book is open: name its folder with `book`, or in the environment as SUBSTITUTE_BOOK; "
                "`substitute book new FOLDER` begins one"
            )
        return self.book

    def tried(
        self,
        what: Any,
        *,
        instead_of: str | None = None,
        nearness: str = "",
        amount: str = "",
        degree: str = "",
        used: float | None = None,
        needs: float | None = None,
        words: str = "",
        too_strong: Sequence[str] = (),
        too_weak: Sequence[str] = (),
        right: Sequence[str] = (),
        trial: int | None = None,
        on: str = "",
        elsewhere: bool = False,
    ) -> Any:
        """What the nose said, put down in the bench book, and what it changes
        (:class:`substitute.book.shown.TriedAnswer`).

        With ``instead_of``, ``what`` is a stand-in tried in the place of that material: ``nearness``
        (near, fair, far, not_smelled), ``amount`` (too_strong, right, too_weak) with ``degree``
        (slightly, clearly, far) at ``used`` grams, ``needs`` the grams that are right, both for 1 g. Else
        ``what`` is an accord of the book, with lines ``too_strong``, ``too_weak``, ``right`` in
        ``trial``. ``words`` are the person's own; what is plain in them is read.

        Raises :class:`~substitute.errors.InputError` for what was never tried: no bottle of it, no such
        trial, no such line.
        """
        from .book.desk import Spoken, accord_verdicts, swap_verdict
        from .book.shown import TriedAnswer, moved

        book = self._own_book()
        spoken = Spoken(words.strip(), nearness, amount, degree, used, needs, on)
        lines = {"too_strong": too_strong, "too_weak": too_weak, "right": right}
        if instead_of is not None:
            if any(lines.values()) or trial is not None:
                raise InputError("`trial` and verdicts on lines are of an accord; of a swap say `amount`")
            pair = instead_of, what
            one, notes = swap_verdict(
                book, self.names, self.tables, pair, spoken, elsewhere=elsewhere, usual=self._usual
            )
            said: tuple = (one,)
        else:
            if amount or used is not None or needs is not None:
                raise InputError("an amount is of a swap: name the material it was tried `instead_of`")
            said, notes = accord_verdicts(book, self.names, what, spoken, lines, trial)
        before = self.lessons
        kept = book.add_verdicts(said)
        self._learn()
        return TriedAnswer(kept, moved(self.on_file, before, self.lessons), notes)

    def _usual(self, missing: str, stand_in: str) -> float | None:
        """The grams that answers name for a pair today."""
        from .book.learn import on_file

        amount = on_file(self.tables)(missing, stand_in)
        return amount.grams if amount else None

    def book_forget(self, id: int) -> Any:
        """Take a verdict back; what it changed goes back with it."""
        from .book.shown import TriedAnswer, moved

        before = self.lessons if self._own_book() else None
        one = self._own_book().take_back(id)
        self._learn()
        assert before is not None
        return TriedAnswer((one,), moved(self.on_file, before, self.lessons))

    def book_show(self) -> BookShown:
        """What stands in the book, and what was learned from what
        (:class:`substitute.book.shown.BookShown`)."""
        from .book.shown import show_book

        book = self._own_book()
        return show_book(book, self.on_file, self.lessons, book.bottles(self.names))

    def book_undo(self) -> Plain:
        """Put back what the last weighing took from the bottles."""
        book = self._own_book()
        moves = book.undo(self.names)
        left = {bottle.label: bottle.grams for bottle in book.bottles(self.names)}
        rows = [{"label": m.label, "grams": m.grams, "left": left.get(m.label)} for m in moves]
        return Plain("taken", {"id": moves[0].id, "accord": moves[0].accord, "moves": rows, "notes": []})

    def book_new(
        self, folder: str | Path, *, name: str = "", shelf: ShelfSource = None, accords: Any = None
    ) -> Book:
        """A new book (:class:`substitute.book.book.Book`), with the bottles of a ``shelf`` and the
        ``accords`` of a folder to begin with."""
        from .book.book import Book
        from .book.desk import files_of_accords

        stock = self.read_shelf(shelf)
        files = files_of_accords(accords) if accords is not None else {}
        names = {id: material.name for id, material in self.tables.materials.items()}
        return Book.begin(folder, name=name, shelf=stock, names=names, accords=files)

    def book_add(self, *files: str | Path) -> list[Path]:
        """Take accords, each with its trials, into the book."""
        from .accords.trials import read_family
        from .book.desk import texts_of

        book = self._own_book()
        texts: dict[str, str | bytes] = {}
        for file in files:
            path = Path(file)
            family = read_family(path, self.names)  # complains of what cannot be read
            texts.update(texts_of(path.parent, [trial.name for trial in family.trials]))
        return book.add_accords(texts)

    def book_find(self, text: str) -> Plain:
        """Accords and trials of the book by what was said of them, by name or by material."""
        from .book.search import find_in

        return Plain("found", find_in(self._own_book(), self.names, self.tables, text))

    # -- the shelf ---------------------------------------------------------------------------------------------------------

    def plan(
        self,
        accords: Any,
        *,
        shelf: ShelfSource = None,
        buy: int | None = None,
        from_nothing: int | None = None,
        budget: float | None = None,
        must: Sequence[str] = (),
        must_not: Sequence[str] = (),
        include_controlled: bool = False,
        prices: ShelfSource = None,
        exact: bool = True,
        progress: Any = None,
        product: str | None = None,
        category: str | None = None,
        dose: float | None = None,
        market: str | None = None,
        on: Day = None,
    ) -> Any:
        """What a shelf makes of ``accords`` (a folder, or accords), and what to buy; see
        :func:`substitute.shelf.plan.plan`.

        ``prices`` is a table like a shelf's: material, price_per_gram and grams of one purchase.
        ``progress(done, of, what)`` hears how far it is. With a product and a dose the accords are made
        within its known limits, and nothing counts for more than they let through.
        """
        from .rules.cautions import of_situation
        from .shelf.plan import plan, rules_for_plan
        from .shelf.wish import Wish, check_wish

        wish = Wish(
            buy,
            from_nothing,
            budget,
            tuple(dict.fromkeys(self.find(text).id for text in must)),
            tuple(self.find(text).id for text in must_not),
            include_controlled,
            exact,
        )
        check_wish(self.tables, wish, shelf is not None or self.book is not None)
        where = {"product": product, "category": category, "dose": dose, "market": market, "on": on}
        situation = self.situate(**where)
        record = self.shelf_for(False if from_nothing and shelf is None else shelf)
        found, rejected, folder = self._accords_of(accords)
        files = (
            self._accord_files(folder)
            if folder is not None and record is not None and not isinstance(shelf, Shelf)
            else {}
        )

        flags = [
            text for word, value in where.items() if value is not None for text in (f"--{word}", f"{value}")
        ]

        def command(name: str) -> str | None:
            return (
                shlex.join(["substitute", "adjust", str(files[name]), "--shelf", str(shelf), *flags])
                if name in files
                else None
            )

        answer = plan(
            self.bench,
            found,
            shelf=record,
            wish=wish,
            rules=rules_for_plan(situation),
            adjusted=self._adjusted_many(where),
            prices=self.read_shelf(prices),
            rejected=rejected,
            command=command,
            progress=progress,
        )
        return replace(answer, cautions=of_situation(situation))

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

    @staticmethod
    def _accord_files(folder: Path) -> dict[str, Path]:
        """Name -> file of the accords of a folder."""
        from .tables.formulas import accord_files

        return {path.stem: path for path in accord_files(folder)}

    def _adjusted_many(self, where: Mapping[str, object]) -> Any:
        """:meth:`adjust` to a shelf for many accords: stand-ins are ranked once a shelf, and the range
        over naturals' constituents is left out."""
        from functools import cache

        from .accords.adjust import adjust
        from .accords.gaps import Wanted

        ranked: dict[Shelf, object] = {}
        wanted = Wanted(rivals=0)

        def adjusted(accord: Accord, shelf: Shelf) -> Any:
            situation = self.situate(shelf=shelf, **where)
            if shelf not in ranked:
                ranked[shelf] = cache(self.stand_ins_for_adjust(situation))
            return adjust(self.staged, accord, situation, ranked[shelf], wanted)

        return adjusted

    def lift(
        self,
        accord: AccordSource,
        *,
        shelf: ShelfSource = None,
        top: int = 3,
        product: str | None = None,
        category: str | None = None,
        dose: float | None = None,
        market: str | None = None,
    ) -> Any:
        """What lifts the line of an accord that carries most weakly; see
        :func:`substitute.shelf.lift.lift`."""
        from .shelf.lift import lift

        if not 1 <= top <= 50:
            raise InputError(f"`top` {top} is out of range: allowed is 1 to 50")
        return lift(
            self.bench,
            self.read_accord(accord, fill=True),
            shelf=self.read_shelf(shelf),
            top=top,
            situation=self.situate(product=product, category=category, dose=dose, market=market),
        )

    def lesson(
        self,
        accord: AccordSource,
        intent: str | None = None,
        *,
        shelf: ShelfSource = None,
        places: int | None = None,
        budget: float | None = None,
    ) -> Any:
        """An accord to teach by, to a class of ``places`` if that is given; see
        :func:`substitute.shelf.lesson.lesson`.

        ``intent`` is a line on what it is to smell of, by default the accord's own.
        """
        from .accords.weighing import CAUTIONS
        from .rules.cautions import of_accord
        from .shelf.lesson import lesson

        accord, shelf = self.read_accord(accord, fill=True), self.shelf_for(shelf)
        found = lesson(
            self.bench,
            accord,
            accord.intent if intent is None else intent,
            shelf=shelf,
            swapped=lambda name: self.swap(name, shelf=shelf, accord=accord, top=1),
            places=places,
            budget=budget,
        )
        new = {row["id"] for row in found.room.batch}
        return replace(
            found,
            cautions=(*of_accord(self.situate(), {**accord.active(), **dict.fromkeys(new, 1.0)}), *CAUTIONS),
        )

    def sheets(
        self,
        accords: Any,
        out,
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
        from .answers import lay_out
        from .answers.files import ENDINGS, write_answer

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

    def shelf_list(self, shelf: Any) -> ShelfList:
        """A shelf to print: materials with cautions, and dilutions to prepare."""
        from .shelf.listing import shelf_list

        return shelf_list(self.tables, self.shelf_for(shelf), self.status())


def _several(named: str | Sequence[str] | None) -> list[str]:
    return [] if named is None else [named] if isinstance(named, str) else list(dict.fromkeys(named))


def _only(named: str | Sequence[str] | None) -> str | None:
    return named if named is None or isinstance(named, str) else next(iter(named), None)


def today() -> dt.date:
    """The date that rules are asked for when none is given."""
    return dt.date.today()
