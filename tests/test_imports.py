"""The direction of imports between rooms, and what an import may drag in."""

import ast
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import pytest
from sources import MODULES, PACKAGE, nodes, parsed

from substitute.cli import cli
from substitute.commands import COMMANDS
from substitute.odour.space import load_space
from substitute.tables.load import load_tables

ROOT = Path(__file__).parents[1]
ROOMS = ("tables", "odour", "rules", "standins", "accords", "shelf", "book", "answers")
ORDER = {name: place for place, name in enumerate((*ROOMS, "library"))} | dict.fromkeys(
    ("cli", "commands", "screens", "guide"), 99
)  # faces
FREE = {
    "errors",
    "records",
    "figures",
    "shown",
    "frozen",
    "",
}  # anyone may use these; '' is the package itself (its version)


def room_of(path: Path) -> str:
    parts = path.relative_to(PACKAGE).parts
    return parts[0].removesuffix(".py") if len(parts) == 1 else parts[0]


def imported_rooms(path: Path) -> set[str]:
    """Rooms that a module imports from, imports inside functions included."""
    depth = len(path.relative_to(PACKAGE).parts)
    found = set()
    for node in nodes(path):
        if isinstance(node, ast.ImportFrom) and node.level == depth:  # up to the package
            found |= (
                {(node.module or "").split(".")[0]} if node.module else {alias.name for alias in node.names}
            )
        elif (
            isinstance(node, ast.ImportFrom)
            and node.level == 0
            and (node.module or "").split(".")[0] == "substitute"
        ):
            found.add(((node.module or "") + ".").split(".")[1])
        elif isinstance(node, ast.Import):
            found |= {
                (alias.name + ".").split(".")[1]
                for alias in node.names
                if alias.name.split(".")[0] == "substitute"
            }
    return found


def test_no_arrow_points_back():
    """Every module imports from its own room and from those before it; the package, records and errors from none."""
    back = {}
    for path in MODULES:
        mine = room_of(path)
        if mine in ORDER:
            wrong = {one for one in imported_rooms(path) - FREE if ORDER.get(one, 99) > ORDER[mine]}
            back[path.relative_to(ROOT).as_posix()] = sorted(wrong - {"__version__"})
        else:
            back[path.relative_to(ROOT).as_posix()] = sorted(imported_rooms(path) & set(ROOMS))
    assert len(back) > 200
    assert {path: rooms for path, rooms in back.items() if rooms} == {}


# No person's file: the null device, the fitted weights, the questions they are
# fitted on, and the guide's own pages and the code they are made from.
OPENERS = {"cli.py", "odour/train.py", "standins/ranking.py", "standins/train.py"}
OPENERS |= {"guide/__init__.py", "guide/reference.py"}


def test_records_and_errors_lean_on_nothing_but_what_makes_them():
    looked_at = [path for path in MODULES if room_of(path) in FREE - {"", "__init__"}]
    assert {room_of(path) for path in looked_at} == FREE - {""}
    for path in looked_at:
        assert imported_rooms(path) - {"frozen"} == set()


def test_only_the_tables_open_files():
    """``open`` and the path methods that read; writing goes through ``write_whole``."""
    readers = {"read_text", "read_bytes", "read_csv", "read_parquet", "load_workbook"}
    found = []
    for path in MODULES:
        if room_of(path) in ("tables", "screens"):
            continue
        for node in nodes(path):
            if isinstance(node, ast.Call):
                called = (
                    node.func.id
                    if isinstance(node.func, ast.Name)
                    else node.func.attr
                    if isinstance(node.func, ast.Attribute)
                    else ""
                )
                if called in readers | {"open"}:
                    found.append((str(path.relative_to(PACKAGE)), node.lineno, called))
    assert [entry for entry in found if entry[0] not in OPENERS] == []


def fresh(code: str) -> str:
    """What a new interpreter prints for ``code``."""
    return subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.strip()


def module_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def imported_at_once(path: Path, names: set[str]) -> set[str]:
    """Modules of the package that a module imports while it is itself imported: not inside functions, not for
    types only.
    """
    home = module_of(path).split(".") if path.name == "__init__.py" else module_of(path).split(".")[:-1]
    found: set[str] = set()
    waiting: list[ast.AST] = list(parsed(path).body)
    while waiting:
        node = waiting.pop()
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            continue
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            continue
        if isinstance(node, ast.ImportFrom):
            base = home[: len(home) - node.level + 1] if node.level else []
            start = ".".join([*base, *([node.module] if node.module else [])])
            found |= {f"{start}.{alias.name}" for alias in node.names} | {start}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        waiting += ast.iter_child_nodes(node)
    return found & names


def test_no_imports_go_in_a_circle():
    names = {module_of(path) for path in MODULES}
    graph = {module_of(path): imported_at_once(path, names) - {module_of(path)} for path in MODULES}
    assert sum(map(len, graph.values())) > len(graph)  # the imports were found at all
    tuple(TopologicalSorter(graph).static_order())  # a circle raises CycleError, which names it


def test_every_module_imports():
    """In one new interpreter, the faces last; as no imports go in a circle, the order makes no difference."""
    names = sorted((module_of(path) for path in MODULES if room_of(path) != "screens"), key=len)
    assert fresh(f"import importlib\nfor name in {names}: importlib.import_module(name)") == ""


@pytest.mark.parametrize(
    "start",
    [
        "import substitute",
        "from substitute import cli; from click.testing import CliRunner; "
        "CliRunner().invoke(cli.cli, ['--help'])",
    ],
)
def test_a_start_drags_in_nothing_heavy(start):
    heavy = ["numpy", "pandas", "sklearn", "scipy", "networkx", "streamlit", "pyarrow"]
    heavy += [f"substitute.{name}" for name in ("records", "library", "commands.common", "commands.accords")]
    assert fresh(f"import sys; {start}; print([name for name in {heavy} if name in sys.modules])") == "[]"


def test_the_help_of_all_commands_is_the_first_line_of_each():
    held = {
        name: " ".join(command.help.partition("\n\n")[0].split()) for name, command in cli.commands.items()
    }
    assert held == {name: line for name, (_, line) in COMMANDS.items()}


# what a swap without a file, a book or a blend has no use for; each costs milliseconds of a short command
NOT_FOR_A_SWAP = ["pandas", "sklearn", "scipy", "networkx", "streamlit", "zipfile", "csv"]
NOT_FOR_A_SWAP += [f"substitute.book.{name}" for name in ("book", "store", "records", "stock")]
NOT_FOR_A_SWAP += [f"substitute.tables.{name}" for name in ("typed", "schema", "files", "lines", "figures")]
NOT_FOR_A_SWAP += ["substitute.rules.judge", "substitute.standins.blended", "substitute.accords.adjust"]


def test_a_swap_loads_no_more_than_it_needs_once_tables_and_space_are_kept(library, tmp_path, monkeypatch):
    monkeypatch.setenv("SUBSTITUTE_CACHE", str(tmp_path))
    load_tables()  # read the first time
    load_space(library.tables)  # fitted the first time
    assert "sklearn" in sys.modules
    assert list(tmp_path.glob("space-*"))
    code = (
        f"import os, sys; os.environ['SUBSTITUTE_CACHE'] = {str(tmp_path)!r}; import substitute; "
        "library = substitute.load(book=False); library.swap('eugenol'); "
        f"print([name for name in {NOT_FOR_A_SWAP} if name in sys.modules])"
    )
    assert fresh(code) == "[]"
