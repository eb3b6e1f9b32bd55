"""Naturals beside what stands in their lists of constituents.

    python tests/evaluation/naturals.py [--all]

A natural's strength is judged as a whole; its constituents' strengths, weighed by their typical shares, say the
same thing from below. Where the first is more than three times the second, something of what it smells of is
not in the list: such naturals are listed with the reason (``tests/reference/naturals_over_their_list.csv``).
``--all`` lists every natural.
"""

from __future__ import annotations

import argparse
import csv
import math
from pathlib import Path

from substitute.records import Tables
from substitute.tables.load import load_tables

REFERENCE = Path(__file__).parents[1] / "reference"
MOST = 3.0


def times_over(tables: Tables) -> dict[str, float]:
    """Strength over the strength of its listed constituents together, by natural that is stocked."""
    over = {}
    for name, material in tables.materials.items():
        potency = tables.value(name, "potency")
        if material.kind == "natural" and material.stocked and potency:
            listed = sum(
                part.typical / 100 * (tables.value(part.id, "potency") or 0.0)
                for part in tables.constituents.get(name, ())
            )
            over[name] = potency / listed if listed > 0 else math.inf
    return over


def unexplained(tables: Tables) -> dict[str, float]:
    """Those more than three times over, to one decimal."""
    return {name: times for name, times in times_over(tables).items() if round(times, 1) > MOST}


def reasons() -> dict[str, str]:
    """Why a natural stays over its list, by natural."""
    with open(REFERENCE / "naturals_over_their_list.csv", newline="", encoding="utf-8") as file:
        return {row["natural"]: row["reason"] for row in csv.DictReader(file)}


def second_opinions() -> dict[str, tuple[float, float, float, str]]:
    """First figure, the one shipped before, the one judged blind, what was made of it; by natural."""
    with open(REFERENCE / "second_naturals.csv", newline="", encoding="utf-8") as file:
        return {
            row["natural"]: (
                float(row["potency_first"]),
                float(row["potency_before"]),
                float(row["potency_second"]),
                row["resolved"],
            )
            for row in csv.DictReader(file)
        }


def within(ratios: list[float], times: float) -> float:
    """Part of the ratios that lie within a factor."""
    return sum(abs(math.log(ratio)) <= math.log(times) + 1e-9 for ratio in ratios) / len(ratios)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--all", action="store_true", help="every natural, not only those over their list")
    chosen = parser.parse_args()
    tables = load_tables()
    why = reasons()
    over = times_over(tables)
    shown = over if chosen.all else unexplained(tables)
    for name, times in sorted(shown.items(), key=lambda item: -item[1]):
        print(f"{name:28} {times:6.1f}  {why.get(name, '')}")
    print(f"{len(unexplained(tables))} of {len(over)} are more than {MOST:g} times over their list")
    ratios = [second / before for _, before, second, _ in second_opinions().values()]
    print(
        f"judged again blind, {len(ratios)}: within a factor of two {within(ratios, 2):.0%}, "
        f"of three {within(ratios, 3):.0%}"
    )
    changed = [(before, second) for first, before, second, _ in second_opinions().values() if first != before]
    ratios = [second / before for before, second in changed]
    print(
        f"of those, {len(ratios)} that had been changed before: within two {within(ratios, 2):.0%}, "
        f"of three {within(ratios, 3):.0%}"
    )


if __name__ == "__main__":
    main()
