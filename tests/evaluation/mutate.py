"""Would the tests notice? Small faults are put into the code one by one, and the tests of its room are run.

``python tests/evaluation/mutate.py [--room accords] [--sample 60] [--seed 1] [--seconds 1500] [--small-only]``: of
all places where a comparison can be turned, an operator or a sign exchanged, a constant changed, a condition
inverted or min and max exchanged, ``--sample`` are drawn (seeded, spread evenly over the files of the room).
Libraries and tables are read once; each fault is tried in a forked process, in which the changed module and
whatever stands after its room are imported anew, and the room's tests run with ``-x``, the nearest file of tests
first: the small ones, then the larger ones only if those noticed nothing (not at all with ``--small-only``: 60
faults in ``accords/`` take three minutes of one core). Printed: the share of faults that a test noticed, by file,
and those that none did. A fault that makes a run of tests pass its time counts as noticed. Nothing is written
into the tree.

Of no effect, so not to be noticed: ``cut._lowered`` cuts a part in a million million deeper than asked, where a
limit is held to a part in a thousand million; ``exposure`` asks for a weight and takes a negative number, any, if
there is none. Of little: the two nearest trials that ``formulas.finished`` adds to the five of most worth; the
last rounds of ``closed_in``, whose steps are under a percent.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib
import importlib.util
import math
import os
import random
import resource
import signal
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LONGEST = 600.0  # seconds of a run of tests without any fault
PATIENCE = 4.0  # times as long as without a fault, and a run with one has hung
WAITED = 12.0  # times the processor time by the clock: on a busy machine a run waits, and has not hung
ORDER = (
    "tables",
    "odour",
    "rules",
    "standins",
    "accords",
    "shelf",
    "book",
    "answers",
)  # a room leans on those before it
KEEPING = (
    "tables/name_index.py",
    "tables/spelling.py",
    "odour/space.py",
    "odour/staging.py",
)  # what these make is kept on disk: with a fault in them nothing kept is taken
QUICK_TABLES = (
    "not (any_bytes or any_cells or compounds or cache or kept or variable or replaces or without_end or "
    "doubles or names_in_cells or numbers_in_cells or own_tables_count or read_back or views or graph or related or "
    "potency or faults_in_own or encoding or labels_name or checks_lists or reading or lists_everything)"
)
QUICK_RULES = "not (commands or travel or own_sets or own_stricter)"  # those read tables of their own
QUICK_BOOK = (
    "faulty_row or gone or checked_with or speaks_of or solution or labels_of or not_named or may_mean or how_much or "
    "a_search or kept_beside or first_written or formula or never_tried or columns_and or newer_book or plain or "
    "tongues or line_of or normal_formulas or bottle_holds or own_words"
)
QUICK_SHELF = (
    "beaten or no_end or integer_rounds or next_to_nothing or to_show or spared or not_written or without_a_swap or "
    "flowers_are or weak_line or single_line or bad_input or bad_classes or orders_are or suggestions or shelf_sheet"
)
QUICK = "not (always or scale or second or larger or demo_accords)"  # properties over random accords take a minute


@dataclass(frozen=True)
class Room:
    """Files that get faults, and runs of tests in the order in which they are tried; ``nearest`` is the file of
    tests that is run before the others of its run for a file with a fault."""

    files: tuple[str, ...]
    runs: tuple[tuple[str, ...], ...]
    nearest: Mapping[str, str] = field(default_factory=dict)

    def ordered(self, file: str) -> tuple[tuple[str, ...], ...]:
        near = self.nearest.get(Path(file).stem)
        return tuple(
            tuple(sorted(tests, key=lambda one: one != near)) if near in tests else tests
            for tests in self.runs
        )


ROOMS = {
    "accords": Room(
        tuple(
            f"accords/{name}.py"
            for name in (
                "gaps",
                "problem",
                "cut",
                "fill",
                "plain",
                "written",
                "doubts",
                "setting",
                "formulas",
                "rivals",
                "adjust",
                "same_total",
            )
        ),
        (
            ("tests/test_small_accords.py", "tests/test_small_gaps.py", "tests/test_small_adjust.py"),
            ("tests/test_adjust.py", "-k", QUICK),
        ),
        {
            "gaps": "tests/test_small_gaps.py",
            **dict.fromkeys(
                ("problem", "setting", "formulas", "rivals", "adjust"), "tests/test_small_adjust.py"
            ),
        },
    ),
    "kernel": Room(
        ("odour/perception.py", "odour/mixing.py", "odour/staging.py"),
        (("tests/test_odour.py",), ("tests/test_adjust.py", "-k", QUICK)),
    ),
    "rules": Room(
        tuple(
            f"rules/{name}.py"
            for name in (
                *("judge", "compiled", "kinds", "exposure", "context", "situation", "verdict", "report"),
                *("several", "changes", "declare", "controls", "estimate", "cautions", "standing", "product"),
                *("ask", "label", "label_words", "reach", "screening", "portfolio", "portfolio_columns"),
            )
        ),
        (
            ("tests/test_rules.py", "tests/test_label.py", "tests/test_product.py", "-k", QUICK_RULES),
            ("tests/test_rules_answers.py", "-k", QUICK_RULES),
            ("tests/test_rules_oracle.py",),
            ("tests/test_portfolio.py", "-k", "not (million or process or command or memory or growth)"),
        ),
        dict.fromkeys(("label", "label_words", "reach", "several"), "tests/test_label.py"),
    ),
    "tables": Room(
        tuple(
            f"tables/{name}.py"
            for name in (
                *(
                    "figures",
                    "headers",
                    "lines",
                    "rows",
                    "bottle",
                    "names",
                    "name_index",
                    "spelling",
                    "readings",
                ),
                *("formulas", "shelves", "check", "check_files", "fixing", "workbooks", "files"),
            )
        ),
        (
            (
                *(
                    "tests/test_files.py",
                    "tests/test_names.py",
                    "tests/test_hostile.py",
                    "tests/test_tables.py",
                ),
                *("-k", QUICK_TABLES),
            ),
        ),
        {
            **dict.fromkeys(("bottle", "names", "name_index", "spelling", "readings"), "tests/test_names.py"),
            "check": "tests/test_tables.py",
            "workbooks": "tests/test_hostile.py",
        },
    ),
    "odour": Room(
        tuple(
            f"odour/{name}.py"
            for name in (
                *("dose_response", "evaporation", "graph", "likeness", "mixing", "perception", "power_law"),
                *("space", "staging", "transport"),
            )
        ),
        (
            ("tests/test_odour.py", "tests/test_space.py", "tests/test_likeness.py"),
            ("tests/test_small_accords.py", "-k", "kernel or grid or heard"),  # the ear of an adjustment
        ),
        {
            **dict.fromkeys(("space", "graph"), "tests/test_space.py"),
            **dict.fromkeys(("likeness", "transport"), "tests/test_likeness.py"),
        },
    ),
    "shelf": Room(
        tuple(
            f"shelf/{name}.py"
            for name in (
                *("optimum", "coverage", "making", "planned", "plan", "purchases", "wish", "voices", "lift"),
                *("lift_trial", "lifted", "lesson", "classroom", "shopping", "choice", "listing"),
            )
        ),
        (
            ("tests/test_plan.py", "tests/test_lift.py", "tests/test_lesson.py", "-k", QUICK_SHELF),
            (
                *("tests/test_plan.py", "tests/test_lift.py", "tests/test_lesson.py"),
                *("-k", f"not (processes or apart or command or folder or demo_ or {QUICK_SHELF})"),
            ),
        ),
        {
            **dict.fromkeys(("voices", "lift", "lift_trial", "lifted"), "tests/test_lift.py"),
            **dict.fromkeys(("lesson", "classroom", "shopping", "listing"), "tests/test_lesson.py"),
        },
    ),
    "book": Room(
        tuple(
            f"book/{name}.py"
            for name in (
                *(
                    "book",
                    "bottles",
                    "causes",
                    "check",
                    "desk",
                    "formulas",
                    "heard",
                    "learn",
                    "overlay",
                    "profile",
                ),
                *("said", "search", "shown", "stock", "stood_in", "store", "tongues", "verdicts"),
            )
        ),
        (
            (
                "tests/test_book.py",
                "-k",
                "not (hidden_target or ten_verdicts or single_verdict or environment)",
            ),
        ),
    ),
    "standins": Room(
        tuple(
            f"standins/{name}.py"
            for name in (
                *("amounts", "pair", "answer", "ask", "bases", "blended", "blends", "candidates", "card"),
                *("carriers", "company", "cone", "evidence", "features", "kinship", "neighbours"),
                *("own_blends", "price", "ranking", "singles", "swap", "triples", "words"),
            )
        ),
        (
            (
                *("tests/test_small_ranking.py", "tests/test_small_standins.py", "tests/test_small_told.py"),
                "tests/test_blends.py",
            ),
            ("tests/test_standins.py",),
        ),
        {
            **dict.fromkeys(("amounts", "pair", "price", "kinship"), "tests/test_small_standins.py"),
            **dict.fromkeys(
                ("answer", "ask", "bases", "card", "neighbours", "own_blends", "swap", "words"),
                "tests/test_small_told.py",
            ),
            **dict.fromkeys(("blends", "triples"), "tests/test_blends.py"),
        },
    ),
    "answers": Room(
        tuple(
            f"answers/{name}.py"
            for name in (
                *(
                    "adjust",
                    "ask",
                    "book",
                    "card",
                    "check",
                    "csv",
                    "files",
                    "label",
                    "lesson",
                    "lift",
                    "limits",
                ),
                *("markdown", "neighbours", "notebook", "page", "plan", "rebalance", "schema", "screen"),
                *("sections", "several", "swap", "terminal", "weigh", "words", "xlsx"),
            )
        ),
        (("tests/test_answers.py", "-k", "not cards_csv"),),
    ),
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


def warm(room: str) -> None:
    """Imports what takes time and reads the tables once, before any process parts from this one; for faults in
    how answers are laid out the answers are worked out once too."""
    for folder in (ROOT / "tests", ROOT):
        sys.path.insert(0, str(folder))
    os.chdir(ROOT)
    import effort
    import hypothesis.strategies
    import networkx
    import pytest
    import scipy.optimize
    import scipy.sparse.csgraph

    import substitute
    from substitute.tables.load import load_tables

    assert hypothesis and networkx and pytest and scipy  # imported for their time alone
    effort.tables[None, None] = load_tables()  # as the tests keep them
    library = substitute.load()
    library.swap("vanillin")  # the fitted space is kept in the person's cache folder from here on
    if room == "answers":
        real_answers = importlib.import_module("test_answers").real_answers
        with tempfile.TemporaryDirectory() as place:
            effort.answers.append(real_answers(library, Path(place)))
        del sys.modules["test_answers"]  # a process with a fault reads it anew


def with_module(fault: Fault) -> None:
    """The package with the fault in it: the changed module and all that may lean on it come anew."""
    room = fault.file.split("/")[0]
    stay = {"", "errors", "records", "figures", "frozen", "shown", *ORDER[: ORDER.index(room)]}
    for name in [name for name in sys.modules if name.split(".")[0] == "substitute"]:
        if ((name + ".").split("."))[1] not in stay:
            del sys.modules[name]
    package = sys.modules["substitute"]
    for name in [name for name in vars(package) if not name.startswith("_") and name not in stay]:
        delattr(package, name)
    name = "substitute." + fault.file.removesuffix(".py").replace("/", ".")
    path = ROOT / "substitute" / fault.file
    home = importlib.import_module(name.rsplit(".", 1)[0])
    if name in sys.modules:  # its room's front imports it: what came with it has to go again
        for other in [other for other in sys.modules if other.startswith(f"substitute.{room}")]:
            del sys.modules[other]
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    exec(compile(with_fault(path.read_text(encoding="utf-8"), fault.place), str(path), "exec"), vars(module))
    setattr(home, name.rsplit(".", 1)[1], module)


def _child(fault: Fault | None, run: Sequence[str], longest: float) -> int:
    import pytest

    resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(longest), math.ceil(longest) + 1))
    if fault is not None and fault.file in KEEPING:
        os.environ["SUBSTITUTE_CACHE"] = tempfile.mkdtemp(dir=os.environ["MUTANTS_CACHE"])
    quiet = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(quiet, stream)
    try:
        if fault is not None:
            with_module(fault)
        return int(pytest.main(["-q", "-x", "-n", "0", "-p", "no:cacheprovider", "-W", "ignore", *run]))
    except BaseException:
        return 1


def fails(fault: Fault | None, run: Sequence[str], longest: float) -> bool:
    """Whether ``run`` of tests fails, or takes ``longest`` seconds of processor time (many times as long by the
    clock), in a process with ``fault`` in it."""
    child = os.fork()
    if not child:
        os._exit(_child(fault, run, longest))
    end = time.monotonic() + WAITED * longest
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return status != 0
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return True


def run(
    room: Room, longest: Sequence[float], sample: int, seed: int, seconds: float
) -> Iterator[tuple[Fault, int | None]]:
    """The faults tried, each with the place of the run of tests that noticed it; stops at ``seconds``."""
    begun = time.monotonic()
    for fault in drawn(room.files, sample, seed):
        if time.monotonic() - begun > seconds:
            return
        tried = enumerate(zip(room.ordered(fault.file), longest))
        yield fault, next((at for at, (tests, most) in tried if fails(fault, tests, most)), None)


def _used() -> float:
    """Seconds of processor time of all runs so far."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--room", choices=ROOMS, default="accords")
    parser.add_argument("--sample", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=1500.0)
    parser.add_argument("--small-only", action="store_true", help="only the first, smallest run of tests")
    options = parser.parse_args()
    room = ROOMS[options.room]
    if options.small_only:
        room = Room(room.files, room.runs[:1], room.nearest)
    warm(options.room)
    with tempfile.TemporaryDirectory() as kept:
        os.environ["MUTANTS_CACHE"] = kept
        return _tried(room, options)


def _tried(room: Room, options: argparse.Namespace) -> int:
    longest = []
    for tests in room.runs:
        begun = _used()
        if fails(None, tests, LONGEST):
            print(f"{' '.join(tests)} fails without any fault", file=sys.stderr)
            return 1
        longest.append(PATIENCE * (_used() - begun) + 5.0)
    found = []
    for fault, at in run(room, longest, options.sample, options.seed, options.seconds):
        found.append((fault, at is not None))
        if at is None:
            print(f"not noticed: substitute/{fault.file}:{fault.line}: {fault.words}", flush=True)
    for file in dict.fromkeys(fault.file for fault, _ in found):
        those = [was for fault, was in found if fault.file == file]
        print(f"{file}: {sum(those)} of {len(those)}")
    total = sum(len(faults_of(file)) for file in room.files)
    share = sum(was for _, was in found) / max(len(found), 1)
    print(
        f"{options.room}: {share:.0%} of {len(found)} faults noticed, drawn from {total} places; "
        f"{_used() / 60:.1f} minutes of one core"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
