"""The one orchestrator: a library of materials that answers every question of the commands.

Each command is a method of the same name; files may be given as paths or as records already read. What is slow to build (the
space, the exposure matrix, the staged odours) is built once, when first asked for.
"""

from __future__ import annotations

import datetime as dt
import math
import shlex
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .errors import InputError
from .records import Accord, Material, Shelf, Swap, Tables
from .shown import draw_with
from .tables.formulas import read_accord, read_accords, read_labels, read_shelf
from .tables.load import demo_folder, load_tables
from .tables.names import Names

if TYPE_CHECKING:
    from .odour.likeness import Likeness
    import pandas as pd

    from .rules.situation import Situation

DEFAULT_MARKET = "EU"

Smell = str | Iterable[str] | Mapping[str, float]
"""A material, materials equally strong, or active grams by material."""


def _html(kind: str, answer: Mapping[str, Any]) -> str:
    from .answers.notebook import html

    return html(kind, answer)


def _frame(kind: str, answer: Mapping[str, Any]) -> pd.DataFrame:
    from .answers.notebook import frame

    return frame(kind, answer)


draw_with(_html, _frame)


def load(tables=None, evidence: bool = True, labels=None) -> Library:
    """The shipped tables with a person's own laid over them.

    Parameters
    ----------
    tables : path, optional
        A folder with a person's own tables; then the environment's ``SUBSTITUTE_TABLES``, then none.
    evidence : bool
        Whether documented swaps (``swaps.csv``) count.
    labels : path, optional
        A ``labels.csv`` (label, cas) for the names on a person's own bottles.

    Raises
    ------
    TableError
        With every complaint about the tables.
    """
    library = Library(load_tables(tables), evidence=evidence)
    if labels is not None:
        library.names.add_labels(read_labels(labels))
    return library


class Library:
    """Materials, rules and evidence, and every question that can be asked of them."""

    def __init__(self, tables: Tables, evidence: bool = True):
        self.tables = tables
        self.evidence = evidence
        self._situations: dict[tuple[object, ...], Situation] = {}

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
        """The material that an id, name, synonym, label or CAS number names; raises :class:`~substitute.errors.NotFound`."""
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
    def space(self):
        """The vector space of profiles (:class:`substitute.odour.space.Space`)."""
        from .odour.space import load_space

        return load_space(self.tables)

    @cached_property
    def _likeness(self) -> Likeness:
        from .odour.likeness import Likeness

        return Likeness(self.tables, self.space)

    def likeness(self, a: Smell, b: Smell) -> float | None:
        """How alike people would find two smells, 0 to 1 (about the part of 100 they would give); 1 for the same.

        Each is a material by any of its names, an iterable of materials equally strong, or a mapping of material to active grams.
        ``None`` where nothing of one has a profile. See :mod:`substitute.odour.likeness`.
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
    def graph(self):
        """The typed graph (``networkx.Graph``)."""
        from .odour.graph import build_graph

        return build_graph(self.tables)

    @cached_property
    def staged(self):
        """Potency and profile of every material at the three stages."""
        return self.stage_odour()

    def stage_odour(self, **changes):
        """:func:`substitute.odour.staging.stage_odour` over these tables and their space."""
        from .odour.staging import stage_odour

        return stage_odour(self.tables, self.space.profiles(), len(self.space.words), **changes)

    @cached_property
    def exposure(self):
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
    def bench(self):
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

    def read_accord(self, source, name: str | None = None, *, fill: bool = False) -> Accord:
        """An accord from a path, bytes with their ``name``, or a record passed through.

        With ``fill``, lines that name a note are kept apart in ``to_fill``; without, they are faults.
        """
        return source if isinstance(source, Accord) else read_accord(source, self.names, name=name, fill=fill)

    def read_accords(self, folder) -> tuple[list[Accord], list[tuple[str, str]]]:
        """All accords of a folder, and (name, message) of those that cannot be read."""
        return read_accords(folder, self.names)

    def read_shelf(self, source, name: str | None = None) -> Shelf | None:
        """A shelf from a path, bytes with their ``name``, or a record or ``None`` passed through."""
        return (
            source
            if source is None or isinstance(source, Shelf)
            else read_shelf(source, self.names, name=name)
        )

    def schema(self, kind: str) -> dict[str, Any]:
        """JSON Schema of the answer to ``kind``, a command's name; see :func:`substitute.answers.schema.schema`."""
        from .answers.schema import schema

        return schema(kind)

    @property
    def demo(self) -> Path:
        """The demo's folder."""
        return demo_folder()

    # -- for a face that edits in tables -----------------------------------------------------------------------------------

    def accord_of(self, rows: Sequence[Mapping[str, str]], name: str = "accord") -> Accord:
        """An accord from cells as typed, a mapping of column to text each; complaints name the row, counted from 1."""
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
    ):
        """Two mixtures (id -> grams) side by side: in their own words, or as heard at ``hours`` on the strip."""
        from .accords.compare import compare_at, compare_words

        if hours is None:
            return compare_words(self.tables, self.staged, before, after, top)
        return compare_at(
            self.tables, self.stage_odour(hours=(hours,), ids=tuple({**before, **after})), before, after, top
        )

    # -- rules -----------------------------------------------------------------------------------------------------------

    def context(
        self, *, product=None, category=None, market: str | None = None, limits: Sequence[str] = (), on=None
    ):
        """The sets of rules that apply to a product or category on a date (:class:`substitute.rules.context.Context`)."""
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

    def judged_in(self, **where) -> Situation:
        """:meth:`situate` for a question that makes no sense without a product and a dose."""
        found = self.situate(**where)
        if not found.judged:
            raise InputError("limits need a product or a category, and a dose")
        return found

    def product_ids(self) -> list[str]:
        """Ids of the products that rules know, each once."""
        return list(dict.fromkeys(product.id for product in self.tables.products))

    def status(self, market: str | None = None, on=None):
        """A function id -> words of law ('prohibited …', 'protected …', 'precursor'), for a market, whatever the product."""
        return self.situate(market=market, on=on).status

    # -- questions -------------------------------------------------------------------------------------------------------

    def swap(
        self,
        material: str,
        *,
        because: str = "unavailable",
        shelf=None,
        blend: int = 1,
        accord=None,
        dose: float | None = None,
        category: str | None = None,
        product: str | None = None,
        market: str | None = None,
        top: int = 5,
    ):
        """What stands in for ``material``; see :func:`substitute.standins.swap.swap`."""
        from .standins.ask import Ask
        from .standins.swap import swap

        for name, value, most in (("`blend`", blend, 6), ("`top`", top, 1000)):
            if not 1 <= value <= most:
                raise InputError(f"{name} {value} is out of range: allowed is 1 to {most}")
        missing = self.find(material).id
        shelf, accord = (
            self.read_shelf(shelf),
            self.read_accord(accord, fill=True) if accord is not None else None,
        )
        situation = self.situate(
            product=product, category=category, dose=dose, market=market, because=because, shelf=shelf
        )
        return swap(self.bench, Ask(missing, situation, because, accord), blend=blend, top=top)

    def neighbours(self, name: str, *, to: str | None = None, top: int = 10):
        """What lies near a material, descriptor or constituent, and the path to another."""
        from .standins.neighbours import neighbours

        if not 1 <= top <= 1000:
            raise InputError(f"`top` {top} is out of range: allowed is 1 to 1000")
        return neighbours(self.tables, self.space, self.names, name, to=to, top=top)

    def stand_ins_for_adjust(self, situation: Situation, n: int = 14):
        """A function (material, because) -> [(id, grams per gram)] of ranked single stand-ins; what law holds only from the shelf."""
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
        accord,
        *,
        without: Sequence[str] = (),
        because: str = "unavailable",
        keep: Sequence[str] = (),
        move: float = 25.0,
        use: Sequence[str] = (),
        same_total: bool = False,
        rivals: int = 3,
        max_new: int | None = None,
        shelf=None,
        dose: float | None = None,
        category: str | None = None,
        product: str | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on=None,
        hold_dose: bool = False,
    ):
        """The accord, swapped; see :func:`substitute.accords.adjust.adjust` and :class:`substitute.accords.gaps.Wanted`."""
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
            shelf=self.read_shelf(shelf),
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
        accord,
        *,
        dose: float,
        category: str | Sequence[str] | None = None,
        product: str | Sequence[str] | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on=None,
    ):
        """Where an accord stands in a product; see :func:`substitute.rules.report.report`.

        Where several products or categories are named, one line for each (:class:`substitute.rules.several.Several`).
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

    def ask(
        self,
        accords,
        *,
        product: str | None = None,
        category: str | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on=None,
    ):
        """What to ask a supplier about ``accords`` in a product; see :func:`substitute.rules.ask.questions`."""
        from .rules.ask import questions

        # at any dose the same is unknown
        situation = self.judged_in(
            product=product, category=category, dose=100.0, market=market, on=on, limits=limits
        )
        return questions(situation, [self.read_accord(one) for one in accords])

    def answered(self, path, folder, *, force: bool = False) -> list[Path]:
        """Writes a supplier's answers, a page of :meth:`ask` filled in, into ``folder`` as a person's own tables.

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
        portfolio,
        *,
        dose: float,
        category: str | None = None,
        product: str | None = None,
        market: str | None = None,
        limits: Sequence[str] = (),
        on=None,
        since: str | None = None,
        mend=None,
        shelf=None,
        force: bool = False,
        workers: int | None = None,
        progress=None,
    ):
        """Which accords of a folder, a long CSV or XLSX, or a Parquet file break a limit; see :func:`substitute.rules.screening.screen`.

        ``since`` names the older set to compare with; ``mend`` a folder for adjusted copies of what is broken (from ``shelf`` if given).
        """
        from .rules.changes import compare_with
        from .rules.screening import screen
        from .tables.portfolios import Portfolio

        situation = self.judged_in(
            product=product, category=category, dose=dose, market=market, on=on, limits=limits
        )
        context, dose, shelf = situation.context, situation.dose, self.read_shelf(shelf)
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
        accord,
        *,
        too_strong: Sequence[str] = (),
        too_weak: Sequence[str] = (),
        right: Sequence[str] = (),
        grams: float | None = None,
        balance: float | None = None,
        dose: float | None = None,
        category: str | None = None,
        product: str | None = None,
        market: str | None = None,
        on=None,
        history: Sequence = (),
    ):
        """The next trial of an accord, bracketed by ``history`` (trials, oldest first) or the earlier ones in its folder; see :func:`substitute.accords.rebalance.rebalance`."""
        from .accords.rebalance import rebalance
        from .accords.trials import next_trial_path, read_history, trial_number
        from .rules.cautions import of_accord

        path = None if isinstance(accord, Accord) else Path(accord)
        record = self.read_accord(accord, fill=True)
        situation = self.situate(product=product, category=category, dose=dose, market=market, on=on)
        verdicts = {"too_strong": too_strong, "too_weak": too_weak, "right": right}
        named = {verdict: [self.find(text).id for text in texts] for verdict, texts in verdicts.items()}
        place = (
            {
                "trial": trial_number(next_trial_path(path)),
                "parent": path.name,
                "history": read_history(path, self.names),
            }
            if path
            else {"history": tuple(history)}
        )
        found = rebalance(
            record,
            **named,
            **place,
            tables=self.tables,
            grams=grams,
            balance=balance,
            ceiling=self.most_parts(record, situation),
        )
        return replace(found, cautions=of_accord(situation, record.active()))

    def most_parts(self, accord: Accord, situation: Situation) -> dict[str, float] | None:
        """Active parts that each line may reach alone by the known limits; ``None`` where nothing is judged."""
        if situation.dose is None or not situation.judged:
            return None
        most = {name: situation.most_pct(name) for name in accord.active()}
        return {
            name: value * accord.total / situation.dose for name, value in most.items() if value is not None
        }

    def show(self, material: str, *, market: str | None = None, on=None):
        """A material's card; see :func:`substitute.standins.card.card`."""
        from .standins.card import card

        return card(
            self.tables,
            self.situate(market=market, on=on),
            self.swaps_by_missing,
            self.find(material).id,
        )

    def check(self, *files, fix: str | None = None, force: bool = False):
        """Everything wrong with a person's own files; see :func:`substitute.tables.check_files.check_files`."""
        from .tables.check_files import check_files

        return check_files(files, self.names, tables=self.tables, fix=fix, force=force)

    def weigh(self, accord, *, grams: float, balance: float = 0.01, shelf=None):
        """A weighing sheet in solutions, and a strip sheet."""
        from .accords.weigh import weigh
        from .rules.cautions import of_accord

        record = self.read_accord(accord)
        found = weigh(record, self.tables, grams=grams, balance=balance, shelf=self.read_shelf(shelf))
        return replace(found, cautions=(*of_accord(self.situate(), record.active()), *found.cautions))

    # -- the shelf ---------------------------------------------------------------------------------------------------------

    def plan(
        self,
        accords,
        *,
        shelf=None,
        buy: int | None = None,
        from_nothing: int | None = None,
        budget: float | None = None,
        must: Sequence[str] = (),
        must_not: Sequence[str] = (),
        include_controlled: bool = False,
        prices=None,
        exact: bool = True,
        progress=None,
        product: str | None = None,
        category: str | None = None,
        dose: float | None = None,
        market: str | None = None,
        on=None,
    ):
        """What a shelf makes of ``accords`` (a folder, or accords), and what to buy; see :func:`substitute.shelf.plan.plan`.

        ``prices`` is a table like a shelf's: material, price_per_gram and grams of one purchase. ``progress(done, of, what)`` hears how far
        it is. With a product and a dose the accords are made within its known limits, and nothing counts for more than they let through.
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
        check_wish(self.tables, wish, shelf is not None)
        where = {"product": product, "category": category, "dose": dose, "market": market, "on": on}
        situation = self.situate(**where)
        record = self.read_shelf(shelf)
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

    def _accords_of(self, accords):
        """Accords from a folder or a sequence, (name, message) of the rejected, and the folder if it was one."""
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

    def _adjusted_many(self, where: Mapping[str, object]):
        """:meth:`adjust` to a shelf for many accords: stand-ins are ranked once a shelf, and the range over naturals' constituents is left out."""
        from functools import cache

        from .accords.adjust import adjust
        from .accords.gaps import Wanted

        ranked: dict[Shelf, object] = {}
        wanted = Wanted(rivals=0)

        def adjusted(accord: Accord, shelf: Shelf):
            situation = self.situate(shelf=shelf, **where)
            if shelf not in ranked:
                ranked[shelf] = cache(self.stand_ins_for_adjust(situation))
            return adjust(self.staged, accord, situation, ranked[shelf], wanted)

        return adjusted

    def lift(self, accord, *, shelf=None, top: int = 3):
        """Clean, radiant materials that would help an accord carry; see :func:`substitute.shelf.lift.lift`."""
        from .shelf.lift import lift

        if not 1 <= top <= 50:
            raise InputError(f"`top` {top} is out of range: allowed is 1 to 50")
        return lift(
            self.bench,
            self.read_accord(accord, fill=True),
            shelf=self.read_shelf(shelf),
            top=top,
            situation=self.situate(),
        )

    def lesson(self, accord, intent: str = "", *, shelf=None):
        """An accord to teach by; see :func:`substitute.shelf.lesson.lesson`."""
        from .rules.cautions import of_accord
        from .shelf.lesson import lesson

        accord, shelf = self.read_accord(accord, fill=True), self.read_shelf(shelf)
        found = lesson(
            self.bench,
            accord,
            intent,
            shelf=shelf,
            swapped=lambda name: self.swap(name, shelf=shelf, accord=accord, top=1),
        )
        return replace(found, cautions=of_accord(self.situate(), accord.active()))

    def shelf_list(self, shelf):
        """A shelf to print: materials with cautions, and dilutions to prepare."""
        from .shelf.listing import shelf_list

        return shelf_list(self.tables, self.read_shelf(shelf), self.status())


def _several(named: str | Sequence[str] | None) -> list[str]:
    return [] if named is None else [named] if isinstance(named, str) else list(dict.fromkeys(named))


def _only(named: str | Sequence[str] | None) -> str | None:
    return named if named is None or isinstance(named, str) else next(iter(named), None)


def today() -> dt.date:
    """The date that rules are asked for when none is given."""
    return dt.date.today()
