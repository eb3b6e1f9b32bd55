"""README and the guide show real output.

``python tests/docs.py --write`` runs every ``$ substitute …`` line of their ``console`` blocks and every
``>>>`` line of their ``pycon`` blocks, puts the answers below them and counts the tables anew. ``--check``
fails if what stands there is no longer what comes out, a link leads nowhere, README leaves a command out, or
the reference can't be built. Long answers are cut at ``[…]``. Every page runs from top to bottom in a folder
of its own, in which ``data`` is ours: a block ``csv NAME`` is written there, and what one line writes the
next can read. ``--page NAME`` looks at that page alone.
"""

from __future__ import annotations

import argparse
import code
import contextlib
import csv
import difflib
import doctest
import io
import os
import re
import shlex
import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
GUIDE = ROOT / "substitute" / "guide"
BLOCK = re.compile(r"```(console|pycon|csv [\w.-]+)\n(.*?)```", re.DOTALL)
COUNTS = re.compile(r"(<!-- counts -->)\n.*?(<!-- /counts -->)", re.DOTALL)
LINK = re.compile(r"\[[^\]]*\]\(([^)#:\s]+)(?:#[^)]*)?\)")
CUT = "[…]"
TABLES = (
    "profiles",
    "properties",
    "constituents",
    "limits",
    "controls",
    "hazards",
    "prices",
    "swaps",
    "lifts",
)
BASES = ("published", "practice", "memory", "estimate")

if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))


def pages() -> list[Path]:
    """The pages with output in them."""
    return [ROOT / "README.md", *sorted(GUIDE.glob("*.md"))]


@contextlib.contextmanager
def own_folder() -> Iterator[None]:
    """A new folder to work in, with ``data`` in it, 100 columns wide."""
    before, columns = Path.cwd(), os.environ.get("COLUMNS")
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "data").symlink_to(ROOT / "data")
        os.chdir(folder)
        os.environ["COLUMNS"] = "100"
        try:
            yield
        finally:
            os.chdir(before)
            os.environ.pop("COLUMNS") if columns is None else os.environ.update(COLUMNS=columns)


def ran(command: str) -> tuple[str, int]:
    """What a command prints, standard error with it, and the code it ends with; run in this process."""
    from substitute.cli import main

    said = io.StringIO()
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            main(shlex.split(command)[1:])
        except SystemExit as end:
            ended = end.code if isinstance(end.code, int) else 3
    return said.getvalue().rstrip() + "\n", ended


def shortened(text: str, shown: str) -> str:
    """``text`` cut as the old block was: the same number of lines before the mark, or whole."""
    lines = shown.splitlines()
    if CUT not in lines:
        return text
    return "\n".join([*text.splitlines()[: lines.index(CUT)], CUT]) + "\n"


def console(block: str) -> str:
    """A block of commands with what they print today."""
    parts = re.split(r"(?m)^(\$ .*)\n", block)
    done = [parts[0]]
    for line, shown in zip(parts[1::2], parts[2::2]):
        text, ended = ran(line[2:])
        if ended > 1:
            sys.exit(f"{line}\n{text}a page shows no command that fails")
        done.append(f"{line}\n{shortened(text, shown) if text.strip() else ''}")
    return "".join(done)


def python(block: str, names: dict[str, object]) -> str:
    """A block of Python with what it prints today; ``names`` live as long as the page."""
    shell = code.InteractiveInterpreter(names)
    done = []
    for piece in doctest.DocTestParser().get_examples(block):
        said = io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            shell.runsource(piece.source, symbol="single")
        first, *rest = piece.source.rstrip("\n").split("\n")
        done.append("\n".join([f">>> {first}", *(f"... {line}".rstrip() for line in rest)]) + "\n")
        done.append(shortened(said.getvalue(), piece.want))
    return "".join(done)


def counts() -> str:
    """How many rows of each table there are and how their figures are known."""
    tables = {}
    for name in TABLES:
        with (ROOT / "data" / f"{name}.csv").open(encoding="utf-8") as file:
            tables[name] = Counter(row["basis"] for row in csv.DictReader(file))
    with (ROOT / "data" / "materials.csv").open(encoding="utf-8") as file:
        materials = list(csv.DictReader(file))
    kinds = Counter(row["kind"] for row in materials if row["stocked"] == "yes")
    lines = [
        f"{len(materials):,} materials: {kinds['natural']} naturals, {kinds['molecule'] + kinds['mixture']} "
        f"molecules and mixtures and {kinds['solvent']} solvents that can be weighed, and "
        f"{len(materials) - kinds.total()} more that are met inside naturals or were rated by people.",
        "",
        f"| rows of | {' | '.join(BASES)} |",
        "|---|---:|---:|---:|---:|",
        *(
            f"| {name} | {' | '.join(f'{found[basis]:,}' for basis in BASES)} |"
            for name, found in tables.items()
        ),
    ]
    return "\n".join(lines) + "\n"


def block(kind: str, body: str, names: dict[str, object]) -> str:
    """A block as it comes out today; a file is written and stays as it is."""
    if kind == "console":
        return console(body)
    if kind == "pycon":
        return python(body, names)
    Path(kind.removeprefix("csv ")).write_text(body, encoding="utf-8")
    return body


def renewed(text: str) -> str:
    """A page with everything in it that is made."""
    text = COUNTS.sub(lambda found: f"{found[1]}\n{counts()}{found[2]}", text)
    names: dict[str, object] = {}
    with own_folder():
        return BLOCK.sub(lambda found: f"```{found[1]}\n{block(found[1], found[2], names)}```", text)


def dead_links(page: Path, text: str) -> list[str]:
    """Links to files that are not there."""
    return [
        f"{page.name}: {link} leads nowhere"
        for link in LINK.findall(text)
        if not (page.parent / link).exists()
    ]


def unnamed(readme: str) -> list[str]:
    """Commands that README's table leaves out."""
    from substitute.cli import cli

    rows = [line for line in readme.splitlines() if line.startswith("| `")]
    return [
        f"README.md: the table of commands leaves out {name}"
        for name in cli.commands
        if not any(f"`{name}" in row for row in rows)
    ]


def unbuilt() -> list[str]:
    """Faults of the guide as one command builds it."""
    from substitute.guide import build

    with tempfile.TemporaryDirectory() as folder:
        return [
            fault
            for path in build(Path(folder))
            for fault in dead_links(path, path.read_text(encoding="utf-8"))
        ]


def differences(path: Path, new: str) -> list[str]:
    old = path.read_text(encoding="utf-8") if path.exists() else ""
    return list(
        difflib.unified_diff(
            old.splitlines(),
            new.splitlines(),
            f"{path.name} as it stands",
            "as it comes out",
            lineterm="",
            n=0,
        )
    )


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    asked.add_argument("--write", action="store_true")
    asked.add_argument("--check", action="store_true")
    asked.add_argument("--page", metavar="NAME")
    wanted = asked.parse_args()
    chosen = [page for page in pages() if wanted.page in (None, page.name)]
    made = {page: renewed(page.read_text(encoding="utf-8")) for page in chosen}
    if wanted.write:
        for path, text in made.items():
            path.write_text(text, encoding="utf-8")
    faults = [line for path, text in made.items() for line in differences(path, text)]
    faults += [line for path, text in made.items() for line in dead_links(path, text)]
    if wanted.page is None:
        faults += unnamed((ROOT / "README.md").read_text(encoding="utf-8")) + unbuilt()
    if faults:
        sys.exit("\n".join([*faults, "if the new output is right: python tests/docs.py --write"]))
    print(f"{len(made)} pages are current")


if __name__ == "__main__":
    main()
