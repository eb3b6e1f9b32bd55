"""What every question needs: the tables, names, files as records, and what is slow to build, built once."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import InputError
from ..records import Accord, Material, Shelf, Swap, Tables
from ..tables.load import demo_folder
from .open_book import OpenBook

if TYPE_CHECKING:
    import pandas as pd

    from ..accords.compare import Comparison
    from ..book.book import Book
    from ..odour.likeness import Likeness
    from ..odour.space import Space
    from ..odour.staging import Staged
    from ..rules.exposure import Exposure
    from ..rules.situation import Situation
    from ..standins.bench import Bench
    from ..tables.names import Names


AccordSource = Accord | str | Path | bytes

"""An accord, its file, its name in the bench book, or a file's bytes."""

ShelfSource = Shelf | str | Path | bytes | bool | None

"""A shelf or its file; ``None`` for the bench book's bottles where there is a book, ``False`` or ``'-'``
for everything on file."""

Day = dt.date | str | None

"""A date, ISO text, or ``None`` for today."""

FRAME = (
    *("id", "name", "kind", "cas", "synonyms", "botanical", "part", "process", "family", "structure"),
    *("smiles", "stocked", "assessed", "description", "basis", "source"),
)

"""Columns of the frame of materials."""

Smell = str | Iterable[str] | Mapping[str, float]

"""A material, materials equally strong, or active grams by material."""


class Core(OpenBook):
    """Materials, rules and evidence as records; what is slow to build is built when first asked for."""

    def __init__(self, tables: Tables, evidence: bool = True, book: Book | None = None) -> None:
        self.evidence = evidence
        self._situations: dict[tuple[object, ...], Situation] = {}
        self._open(tables, book)

    @cached_property
    def names(self) -> Names:
        from ..tables.names import Names

        return Names(self.tables)

    @cached_property
    def materials(self) -> pd.DataFrame:
        """All materials, indexed by ``id``; ``cas`` is ``;``-separated, '' if none."""
        import pandas as pd

        told = [{name: _cell(getattr(one, name)) for name in FRAME} for one in self.tables.materials.values()]
        return pd.DataFrame(told).set_index("id")

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
        values[np.ix_(at, at)] = self.space.among(places)
        return pd.DataFrame(values, index=chosen, columns=chosen)

    @cached_property
    def space(self) -> Space:
        """The vector space of profiles (:class:`substitute.odour.space.Space`)."""
        from ..odour.space import load_space

        return load_space(self.tables)

    @cached_property
    def _likeness(self) -> Likeness:
        from ..odour.likeness import Likeness

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
        from ..odour.perception import HEARING

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
        from ..odour.graph import build_graph

        return build_graph(self.tables)

    @cached_property
    def staged(self) -> Staged:
        """Potency and profile of every material at the three stages."""
        return self.stage_odour()

    def stage_odour(self, **changes: Any) -> Staged:
        """:func:`substitute.odour.staging.stage_odour` over these tables and their space."""
        from ..odour.staging import stage_odour

        return stage_odour(self.tables, self.space.profiles(), len(self.space.words), **changes)

    @cached_property
    def exposure(self) -> Exposure:
        """What every material puts of every substance (:class:`substitute.rules.exposure.Exposure`)."""
        from ..rules.exposure import Exposure

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
        from ..standins.bench import Bench
        from ..standins.features import Features

        return Bench(
            self.tables,
            self.space,
            Features(self.tables, self.space),
            self.exposure,
            self.staged,
            self.swaps_by_missing,
        )

    def read_accord(self, source: Any, name: str | None = None, *, fill: bool = False) -> Accord:
        """An accord from a path, bytes with their ``name``, or a record passed through.

        With ``fill``, lines that name a note are kept apart in ``to_fill``; without, they are faults.
        """
        if isinstance(source, Accord):
            return source
        from ..tables.formulas import read_accord

        place = source if isinstance(source, bytes) else self.accord_file(source)
        return read_accord(place, self.names, name=name, fill=fill)

    def accord_file(self, source: Any) -> Path:
        """The file of an accord: the path itself, else the accord of that name in the book."""
        path = Path(source)
        if self.book is None or path.exists():
            return path
        found = self.book.accord_path(str(source))
        if found is None and not path.suffix:
            return self.book.accord_of(str(source))  # which tells the nearest name
        return found or path

    def read_accords(self, folder: str | Path) -> tuple[list[Accord], list[tuple[str, str]]]:
        """All accords of a folder, and (name, message) of those that cannot be read."""
        from ..tables.formulas import read_accords

        return read_accords(folder, self.names)

    def read_shelf(self, source: Any, name: str | None = None) -> Shelf | None:
        """A shelf from a path, bytes with their ``name``, or a record or ``None`` passed through."""
        if source is None or isinstance(source, Shelf):
            return source
        from ..tables.shelves import read_shelf

        return read_shelf(source, self.names, name=name)

    def schema(self, kind: str) -> dict[str, Any]:
        """JSON Schema of the answer to ``kind``, a command's name; see
        :func:`substitute.answers.schema.schema`."""
        from ..answers.schema import schema

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

    def accord_of(self, rows: Sequence[Mapping[str, str]], name: str = "accord") -> Accord:
        """An accord from cells as typed, a mapping of column to text each; complaints name the row,
        counted from 1."""
        from ..tables.formulas import accord_from_rows
        from ..tables.rows import Row

        return accord_from_rows(
            [Row(name, number, dict(cells)) for number, cells in enumerate(rows, 1)],
            self.names,
            name,
            name,
            None,
        )

    def shelf_of(self, rows: Sequence[Mapping[str, str]], name: str = "shelf") -> Shelf:
        """A shelf from cells as typed; complaints name the row, counted from 1."""
        from ..tables.rows import Row
        from ..tables.shelves import shelf_from_rows

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
        from ..accords.compare import compare_at, compare_words

        if hours is None:
            return compare_words(self.tables, self.staged, before, after, top)
        return compare_at(
            self.tables, self.stage_odour(hours=(hours,), ids=tuple({**before, **after})), before, after, top
        )


def _cell(value: Any) -> Any:
    """A field of a material for a frame: several in one text."""
    if isinstance(value, frozenset):
        value = sorted(value)
    return ";".join(value) if isinstance(value, (list, tuple)) else value


def today() -> dt.date:
    """The date that rules are asked for when none is given."""
    return dt.date.today()
