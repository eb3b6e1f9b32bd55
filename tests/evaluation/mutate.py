"""Would the tests notice? Small faults are put into the code one by one, and the tests of its room are run.

``python tests/evaluation/mutate.py [--room accords] [--sample 60] [--seed 1] [--seconds 1500] [--shown]``: of
all places where a
comparison can be turned, an operator or a sign exchanged, a constant changed, a condition inverted or min and
max exchanged,
``--sample`` are drawn (seeded, spread evenly over the files of the room), each applied to a copy of the tree
in a folder of its own,
and the room's tests run there with ``-x``. Printed: the share of faults that a test noticed, by file, and
those that none did. A fault
that makes a test run past its time counts as noticed. Rooms: accords (gaps, problem, cut, fill, plain,
written, doubts,
adjust), rules (judging, exposure), standins (amounts and pairs).
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
LONGEST = 240  # seconds of one run of tests
# the properties over random accords take a minute
QUICK = "not (always or scale or second or larger or demo_accords)"
ROOMS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "accords": (
        (
            *(
                "accords/gaps.py",
                "accords/problem.py",
                "accords/cut.py",
                "accords/fill.py",
                "accords/plain.py",
            ),
            *("accords/written.py", "accords/doubts.py", "accords/adjust.py", "accords/same_total.py"),
        ),
        ("tests/test_adjust.py", "-k", QUICK),
    ),
    "kernel": (("odour/perception.py",), ("tests/test_odour.py", "tests/test_adjust.py", "-k", QUICK)),
    "rules": (("rules/judge.py", "rules/exposure.py"), ("tests/test_rules.py", "tests/test_rules_oracle.py")),
    "standins": (("standins/amounts.py", "standins/pair.py"), ("tests/test_standins.py",)),
}
COMPARE = {
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
ARITHMETIC = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
NAMES = {
    "max": "min",
    "min": "max",
    "maximum": "minimum",
    "minimum": "maximum",
    "any": "all",
    "all": "any",
    "argmax": "argmin",
}


@dataclass(frozen=True)
class Fault:
    """One change: the file, the number of the place in it (in the order of the tree), and what it is in
    words.
    """

    file: str
    place: int
    line: int
    words: str


def places(tree: ast.AST) -> Iterator[tuple[ast.AST, str]]:
    """Every node that can be changed, in a fixed order, and how."""
    quiet = _quiet(tree)
    for node in ast.walk(tree):
        if id(node) in quiet:
            continue
        if isinstance(node, ast.Compare) and type(node.ops[0]) in COMPARE:
            yield node, f"{type(node.ops[0]).__name__} turned"
        elif isinstance(node, ast.BinOp) and type(node.op) in ARITHMETIC:
            yield node, f"{type(node.op).__name__} exchanged"
        elif isinstance(node, ast.BoolOp):
            yield node, "and / or exchanged"
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not, ast.Invert)):
            yield node, f"{type(node.op).__name__} dropped"
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            yield node, f"constant {node.value} changed"
        elif isinstance(node, ast.Attribute) and node.attr in NAMES:
            yield node, f"{node.attr} exchanged"
        elif isinstance(node, ast.Name) and node.id in NAMES and isinstance(node.ctx, ast.Load):
            yield node, f"{node.id} exchanged"


def _quiet(tree: ast.AST) -> set[int]:
    """Nodes inside annotations and f-strings: changing them changes no behaviour, or only a wording."""
    found: set[int] = set()
    for node in ast.walk(tree):
        inside: list[ast.AST] = []
        if isinstance(node, ast.JoinedStr):
            inside = [node]
        elif isinstance(node, (ast.AnnAssign, ast.arg)) and node.annotation is not None:
            inside = [node.annotation]
        elif isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)) and node.returns is not None:
            inside = [node.returns]
        elif isinstance(node, ast.Assign) and any(
            isinstance(t, ast.Name) and t.id[0].isupper() for t in node.targets
        ):
            inside = [node.value] if isinstance(node.value, ast.Subscript) else []
        for one in inside:
            found |= {id(child) for child in ast.walk(one)}
    return found


def change(node: ast.AST) -> None:
    """The fault itself, in place."""
    if isinstance(node, ast.Compare):
        node.ops[0] = COMPARE[type(node.ops[0])]()
    elif isinstance(node, ast.BinOp):
        node.op = ARITHMETIC[type(node.op)]()
    elif isinstance(node, ast.BoolOp):
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif isinstance(node, ast.UnaryOp):
        node.op = ast.UAdd() if isinstance(node.op, ast.USub) else node.op
        if isinstance(node.op, (ast.Not, ast.Invert)):
            node.operand = type(node)(op=node.op, operand=node.operand)  # twice is not at all
    elif isinstance(node, ast.Constant):
        node.value = (
            {0: 1, 1: 2}.get(node.value, node.value * 3) if type(node.value) is int else node.value * 2 or 1.0
        )
    elif isinstance(node, ast.Attribute):
        node.attr = NAMES[node.attr]
    elif isinstance(node, ast.Name):
        node.id = NAMES[node.id]


def faults_of(file: str) -> list[Fault]:
    tree = ast.parse((ROOT / "substitute" / file).read_text())
    return [
        Fault(file, number, getattr(node, "lineno", 0), words)
        for number, (node, words) in enumerate(places(tree))
    ]


def with_fault(source: str, place: int) -> str:
    """``source`` with the fault at ``place``."""
    tree = copy.deepcopy(ast.parse(source))
    node = next(node for number, (node, _) in enumerate(places(tree)) if number == place)
    change(node)
    return ast.unparse(ast.fix_missing_locations(tree))


def drawn(files: Sequence[str], sample: int, seed: int) -> list[Fault]:
    """``sample`` faults, from each file in turn while it has any."""
    rng = random.Random(seed)
    heaps = [faults_of(file) for file in files]
    for heap in heaps:
        rng.shuffle(heap)
    found: list[Fault] = []
    while len(found) < sample and any(heaps):
        found += [heap.pop() for heap in heaps if heap]
    return found[:sample]


def noticed(fault: Fault, tests: Sequence[str], copy_of: Path) -> bool:
    """Whether a test fails with ``fault`` in the tree ``copy_of``, which is put right again."""
    path = copy_of / "substitute" / fault.file
    whole = path.read_text()
    path.write_text(with_fault(whole, fault.place))
    surrounding = {
        **os.environ,
        "PYTHONPATH": str(copy_of),
        "OMP_NUM_THREADS": "1",
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    command = [sys.executable, "-W", "ignore", "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *tests]
    try:
        ran = subprocess.run(command, cwd=copy_of, env=surrounding, capture_output=True, timeout=LONGEST)
        return ran.returncode != 0
    except subprocess.TimeoutExpired:
        return True
    finally:
        path.write_text(whole)


def run(room: str, sample: int, seed: int, seconds: float) -> tuple[list[tuple[Fault, bool]], int]:
    """The faults tried with what became of them, and how many there are in all; stops at ``seconds``."""
    files, tests = ROOMS[room]
    begun, found = time.monotonic(), []
    with tempfile.TemporaryDirectory() as folder:
        there = Path(folder) / "tree"
        leave = shutil.ignore_patterns(".git", "__pycache__", "*.pyc", ".venv")
        shutil.copytree(ROOT, there, ignore=leave)
        for fault in drawn(files, sample, seed):
            if time.monotonic() - begun > seconds:
                break
            found.append((fault, noticed(fault, tests, there)))
    return found, sum(len(faults_of(file)) for file in files)


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--room", choices=ROOMS, default="accords")
    parser.add_argument("--sample", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=1500.0)
    options = parser.parse_args()
    found, total = run(options.room, options.sample, options.seed, options.seconds)
    for fault, was in found:
        if not was:
            print(f"not noticed: substitute/{fault.file}:{fault.line}: {fault.words}")
    for file in dict.fromkeys(fault.file for fault, _ in found):
        those = [was for fault, was in found if fault.file == file]
        print(f"{file}: {sum(those)} of {len(those)}")
    share = sum(was for _, was in found) / max(len(found), 1)
    print(f"{options.room}: {share:.0%} of {len(found)} faults noticed, drawn from {total} places")


if __name__ == "__main__":
    main()
