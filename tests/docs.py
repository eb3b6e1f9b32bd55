"""README shows real output: ``python tests/docs.py --write`` runs every ``$ substitute …`` line of its ``console`` blocks and puts the
answer below it; ``--check`` fails if what stands there is no longer what is printed. Long answers are cut at ``[…]``."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
BLOCK = re.compile(r"```console\n\$ (substitute [^\n]*)\n(.*?)```", re.DOTALL)
CUT = "[…]"


def printed(command: str) -> str:
    """What a command prints, 100 columns wide."""
    words = shlex.split(command)[1:]
    environment = {**os.environ, "COLUMNS": "100"}
    done = subprocess.run([sys.executable, "-m", "substitute.cli", *words], cwd=ROOT, capture_output=True, text=True, env=environment, check=False)
    return (done.stdout + done.stderr).rstrip() + "\n"


def shortened(text: str, shown: str) -> str:
    """``text`` cut as the old block was: the same number of lines before the mark, or whole."""
    lines = shown.splitlines()
    if CUT not in lines:
        return text
    return "\n".join([*text.splitlines()[: lines.index(CUT)], CUT]) + "\n"


def renewed(readme: str) -> str:
    return BLOCK.sub(lambda found: f"```console\n$ {found[1]}\n{shortened(printed(found[1]), found[2])}```", readme)


def main() -> None:
    path = ROOT / "README.md"
    old = path.read_text(encoding="utf-8")
    new = renewed(old)
    if "--write" in sys.argv:
        path.write_text(new, encoding="utf-8")
    elif new != old:
        import difflib

        sys.exit("README shows old output; run python tests/docs.py --write\n" + "\n".join(difflib.unified_diff(old.splitlines(), new.splitlines(), lineterm="", n=0)))
    print(f"{len(BLOCK.findall(old))} blocks of output are current")


if __name__ == "__main__":
    main()
