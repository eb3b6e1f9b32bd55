"""README shows real output: ``python tests/docs.py --write`` runs every ``$ substitute …`` line of its ``console`` blocks and puts the
answer below it; ``--check`` fails if what stands there is no longer what is printed. Long answers are cut at ``[…]``."""

from __future__ import annotations

import csv
import os
import re
import shlex
import subprocess
import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[1]
BLOCK = re.compile(r"```console\n\$ (substitute [^\n]*)\n(.*?)```", re.DOTALL)
COUNTS = re.compile(r"(<!-- counts -->)\n.*?(<!-- /counts -->)", re.DOTALL)
CUT = "[…]"


def printed(command: str) -> str:
    """What a command prints, 100 columns wide."""
    words = shlex.split(command)[1:]
    environment = {**os.environ, "COLUMNS": "100"}
    done = subprocess.run(
        [sys.executable, "-m", "substitute.cli", *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    return (done.stdout + done.stderr).rstrip() + "\n"


def shortened(text: str, shown: str) -> str:
    """``text`` cut as the old block was: the same number of lines before the mark, or whole."""
    lines = shown.splitlines()
    if CUT not in lines:
        return text
    return "\n".join([*text.splitlines()[: lines.index(CUT)], CUT]) + "\n"


def counts() -> str:
    """How many rows of each table there are and how their figures are known."""
    tables = {}
    for name in ("profiles", "properties", "constituents", "limits", "controls", "swaps"):
        with (ROOT / "data" / f"{name}.csv").open(encoding="utf-8") as file:
            tables[name] = Counter(row["basis"] for row in csv.DictReader(file))
    with (ROOT / "data" / "materials.csv").open(encoding="utf-8") as file:
        materials = list(csv.DictReader(file))
    kinds = Counter(row["kind"] for row in materials if row["stocked"] == "yes")
    lines = [
        f"{len(materials)} materials: {kinds['natural']} naturals, {kinds['molecule'] + kinds['mixture']} molecules and mixtures and "
        f"{kinds['solvent']} solvents that can be weighed, and {len(materials) - kinds.total()} that are met only inside naturals.",
        "",
        "| rows of | published | practice | memory | estimate |",
        "|---|---|---|---|---|",
        *(
            f"| {name} | {' | '.join(f'{found[basis]:,}' for basis in ('published', 'practice', 'memory', 'estimate'))} |"
            for name, found in tables.items()
        ),
    ]
    return "\n".join(lines) + "\n"


def renewed(readme: str) -> str:
    readme = COUNTS.sub(lambda found: f"{found[1]}\n{counts()}{found[2]}", readme)
    return BLOCK.sub(
        lambda found: f"```console\n$ {found[1]}\n{shortened(printed(found[1]), found[2])}```", readme
    )


def main() -> None:
    path = ROOT / "README.md"
    old = path.read_text(encoding="utf-8")
    new = renewed(old)
    if "--write" in sys.argv:
        path.write_text(new, encoding="utf-8")
    elif new != old:
        import difflib

        sys.exit(
            "README shows old output; run python tests/docs.py --write\n"
            + "\n".join(difflib.unified_diff(old.splitlines(), new.splitlines(), lineterm="", n=0))
        )
    print(f"{len(BLOCK.findall(old))} blocks of output are current")


if __name__ == "__main__":
    main()
