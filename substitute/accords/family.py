"""Trials side by side: a family of them as JSON, and what changed from one to another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..records import Tables
from .trials import Family, Trial, trial_number


def history_record(
    family: Family, tables: Tables, words: Mapping[int, Sequence[str]] | None = None
) -> dict[str, Any]:
    """The whole family as JSON: its trials with parent and total, and parts and verdict of every material
    in each.

    ``words`` are what was said of a whole trial, by its number.
    """
    ids = dict.fromkeys(line.material for trial in family.trials for line in trial.accord.lines)
    trials = [
        {
            "name": trial.name,
            "trial": trial_number(trial.name),
            "parent": trial.parent or None,
            "parent_gone": trial.orphan,
            "total": trial.accord.total,
            "words": list((words or {}).get(trial_number(trial.name), ())),
        }
        for trial in family.trials
    ]
    materials = [
        {"id": id, "name": _name(tables, id), "trials": [_judged(trial, id) for trial in family.trials]}
        for id in ids
    ]
    gone = [
        (
            f"{trial.name}: its parent {trial.parent} is gone from the folder; what was before it is "
            "not known here."
        )
        for trial in family.trials
        if trial.orphan
    ]
    return {"accord": family.stem, "trials": trials, "materials": materials, "notes": gone}


def _judged(trial: Trial, id: str) -> dict[str, Any]:
    parts = [line.parts for line in trial.accord.lines if line.material == id]
    return {
        "parts": sum(parts) if parts else None,
        "verdict": trial.verdicts.get(id, ""),
        "degree": trial.degrees.get(id, ""),
    }


def _name(tables: Tables, id: str) -> str:
    return tables.materials[id].name if id in tables.materials else id


def compare_record(one: Trial, other: Trial, tables: Tables) -> dict[str, Any]:
    """What changed from one trial to another, line by line, as JSON; ``times`` is active after over active
    before."""
    ids = dict.fromkeys(line.material for trial in (one, other) for line in trial.accord.lines)
    lines = []
    for id in ids:
        before, after = one.amount(id), other.amount(id)
        lines.append(
            {
                "id": id,
                "name": _name(tables, id),
                "before": _judged(one, id),
                "after": _judged(other, id),
                "times": after / before if before > 0 else None,
                "changed": abs(after - before) > 1e-9 * max(after, before),
            }
        )
    return {
        "trials": [one.name, other.name],
        "totals": [one.accord.total, other.accord.total],
        "lines": lines,
    }
