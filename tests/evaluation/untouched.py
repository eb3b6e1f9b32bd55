"""Are lines left alone that nobody asked about? ``python tests/evaluation/untouched.py [--every N]``.

Every demo accord is adjusted without its first core line, from the whole table, from the demo's shelf (several
lines are then missing at once), and at 15 % in a fine fragrance with nothing taken out. Printed for each: lines
not in question, how many of them moved by over 5 % and by over twice, carrier lines that nobody asked for,
formulas under the best plain way within the known limits, and the verdicts.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path
from typing import Any

sys.path[:0] = [str(Path(__file__).parents[2])]

import substitute

STAYS = ("kept", "moved")
WORSE = 0.005  # of match: shown figures are rounded


def counted(answer: dict[str, Any], solvents: set[str]) -> Counter[str]:
    """What is counted of one adjusted accord."""
    found: Counter[str] = Counter()
    for line in answer["lines"]:
        if line["cause"] in STAYS and line["parts_before"]:
            moved = line["parts_after"] / line["parts_before"]
            found["not in question"] += 1
            found["over 5 %"] += not 1 / 1.05 <= moved <= 1.05
            found["over twice"] += not 1 / 2 <= moved <= 2
        found["carrier"] += line["cause"] == "new" and line["id"] in solvents
    within = [one["match"] for one in answer["options"] if one["within_known"] is not False]
    found["under a plain way"] += answer["match"]["overall"] < max(within, default=0.0) - WORSE
    found[answer["verdict"]] += 1
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1, help="only every N-th accord")
    every = parser.parse_args().every
    library = substitute.load()
    solvents = {one.id for one in library.tables.materials.values() if one.kind == "solvent"}
    kinds: dict[str, dict[str, Any]] = {
        "whole table": {},
        "demo shelf": {"shelf": library.read_shelf(library.demo / "shelf.csv")},
        "15 % in fine fragrance": {"dose": 15, "product": "fine-fragrance", "because": "limit"},
    }
    for kind, asked in kinds.items():
        total: Counter[str] = Counter()
        for path in sorted((library.demo / "accords").glob("*.csv"))[::every]:
            core = [line.material for line in library.read_accord(path).lines if line.role == "core"][:1]
            gone = core if "dose" not in asked else []
            try:
                total += counted(library.adjust(path, without=gone, **asked).to_dict(), solvents)
            except substitute.SubstituteError as error:
                print(f"{kind}, {path.stem}: {error}")
                total["refused"] += 1
        print(f"{kind}: {', '.join(f'{value} {name}' for name, value in total.items() if value)}", flush=True)


if __name__ == "__main__":
    main()
