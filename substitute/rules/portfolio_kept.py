"""Compiled columns kept in the person's cache folder: working them out takes longer than a hundred thousand
accords."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from ..tables.kept import keep, key_of, recall
from .compiled import Compiled
from .portfolio_columns import Alternative, Column, Columns, compile_columns
from .product import Rows

KIND = "columns"


def columns_for(contexts: Sequence[Compiled]) -> Columns:
    """:func:`~substitute.rules.portfolio_columns.compile_columns` over all materials of the tables, kept
    under a key of the tables' bytes, of where the sets put the product, and of the code of the rules.

    Tables without a digest were not read from files: nothing is kept of them.
    """
    tables = contexts[0].exposure.tables
    materials = tuple(tables.materials)
    if not tables.digest:
        return compile_columns(contexts, materials)
    key = _key(tables.digest, contexts)
    kept = recall(KIND, key)
    if kept is not None:
        return _unpacked(kept, contexts, materials)
    columns = compile_columns(contexts, materials)
    keep(KIND, key, _packed(columns, contexts))
    return columns


def _key(digest: str, contexts: Sequence[Compiled]) -> str:
    where = [
        [(one.limit_set.id, one.category, one.leave_on, one.skin) for one in compiled.context.sets]
        for compiled in contexts
    ]
    here = Path(__file__).parent
    code = [*sorted(here.glob("*.py")), here.parent / "tables" / "assemble.py"]
    return key_of([digest.encode(), json.dumps(where).encode()], code)


def _packed(columns: Columns, contexts: Sequence[Compiled]) -> dict[str, Any]:
    """Columns as figures; terms and rules by the number of their context and theirs in it."""
    terms = {
        id(term): (place, number)
        for place, compiled in enumerate(contexts)
        for number, term in enumerate(compiled.terms)
    }
    rules = {
        rule: (place, number)
        for place, compiled in reversed([*enumerate(contexts)])
        for number, rule in enumerate(compiled.rules)
    }
    values = columns.values
    return {
        "columns": [(*terms[id(one.term)], one.kind, one.unless) for one in columns.columns],
        "values": [values.indptr.tolist(), values.indices.tolist(), values.data.tolist()],
        "most": columns.most.tolist(),
        "grades": [(place, held.tolist()) for place, held in columns.grades.items()],
        "words": columns.words.tolist(),
        "bits": [(*rules[rule], bit) for rule, bit in columns.bit_of_rule.items()],
        "alternatives": [
            (
                rules[one.rule],
                (one.column, one.touched, one.present, one.blocked),
                sorted(rules[rule] for rule in one.replaces),
            )
            for one in columns.alternatives
        ],
    }


def _unpacked(kept: Any, contexts: Sequence[Compiled], materials: tuple[str, ...]) -> Columns:
    columns = tuple(
        Column(contexts[place].terms[number], kind, unless) for place, number, kind, unless in kept["columns"]
    )
    indptr, indices, data = kept["values"]
    rules = [compiled.rules for compiled in contexts]
    return Columns(
        materials,
        columns,
        Rows(np.array(indptr, np.int32), np.array(indices, np.int32), np.array(data, float), len(columns)),
        np.array(kept["most"], float),
        {place: np.array(held, float) for place, held in kept["grades"]},
        np.array(kept["words"], np.uint64).reshape(-1, len(materials)),
        {rules[place][number]: bit for place, number, bit in kept["bits"]},
        tuple(
            Alternative(
                rules[place][number],
                column,
                touched,
                present,
                blocked,
                frozenset(rules[of][at] for of, at in replaces),
            )
            for (place, number), (column, touched, present, blocked), replaces in kept["alternatives"]
        ),
    )
