"""What the house asks of its own code: nothing is written twice, nothing private of another library is used, and the
gates notice what they are for.
"""

from __future__ import annotations

import ast
import json
from collections import defaultdict
from pathlib import Path

import gates
import pytest
from sources import MODULES, PACKAGE, nodes, parsed

from substitute.rules.kinds import KINDS
from substitute.tables.check import ONE_FIGURE

ROOT = Path(__file__).parents[1]
LONG = 5  # statements from which on a body that stands in two places is a copy


def functions(tree: ast.AST) -> list[tuple[str, list[ast.stmt], tuple[type, ...]]]:
    """Name, body without the docstring and kinds of nodes of every function of at least ``LONG`` statements."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            body = node.body[1:] if ast.get_docstring(node) is not None else node.body
            kinds = tuple(type(child) for statement in body for child in ast.walk(statement))
            if sum(issubclass(kind, ast.stmt) for kind in kinds) >= LONG:
                found.append((node.name, body, kinds))
    return found


def copies(trees: dict[str, ast.AST]) -> list[list[str]]:
    """Functions of at least ``LONG`` statements whose bodies are the same; compared in full are only those of the
    same kinds of nodes in the same order."""
    alike, places = defaultdict(list), defaultdict(list)
    for file, tree in trees.items():
        for name, body, kinds in functions(tree):
            alike[kinds].append((f"{file}: {name}", body))
    for candidates in alike.values():
        for place, body in candidates if len(candidates) > 1 else ():
            places["\n".join(map(ast.dump, body))].append(place)
    return [found for found in places.values() if len(found) > 1]


def test_nothing_is_written_twice():
    trees = {str(path.relative_to(ROOT)): parsed(path) for path in MODULES}
    assert len(trees) > 50
    assert copies(trees) == []


def test_a_copy_is_found():
    body = "\n    a = 1\n    b = a + 1\n    c = b * 2\n    d = c - 1\n    return a + b + c + d\n"
    one, other = f"def one():{body}", f'def other():\n    """Said otherwise."""{body}'
    changed = other.replace("c - 1", "c - 2")
    one, other, changed = map(ast.parse, (one, other, changed))
    assert copies({"x.py": one, "y.py": other}) == [["x.py: one", "y.py: other"]]
    assert copies({"x.py": one, "y.py": changed}) == []


def private_names(path: Path) -> list[str]:
    """Names and modules that begin with an underscore and are imported from outside the package."""
    found = []
    for node in nodes(path):
        names = []
        if isinstance(node, ast.ImportFrom) and not node.level:
            names = [*(node.module or "").split("."), *(alias.name for alias in node.names)]
        elif isinstance(node, ast.Import):
            names = [part for alias in node.names for part in alias.name.split(".")]
        found += [
            f"{path.name}, line {node.lineno}: {name}"
            for name in names
            if name.startswith("_") and not name.startswith("__")
        ]
    return found


def test_nothing_private_of_another_library(tmp_path):
    assert [fault for path in MODULES for fault in private_names(path)] == []
    module = tmp_path / "module.py"
    module.write_text("from __future__ import annotations\nfrom numpy._core import a\nimport scipy._lib.b\n")
    assert private_names(module) == ["module.py, line 2: _core", "module.py, line 3: _lib"]


# Where a word that names a kind of rule stands outside rules/kinds.py, and why.
KINDS_SAID = {
    ("tables/check.py", "max"): "the tables check themselves before there are rules, and import none",
    ("tables/check.py", "prohibited"): "as above",
    ("tables/name_index.py", "grade"): "a word of a name, as 'rectified' is",
    ("tables/suggest.py", "grade"): "a word of a name",
    ("rules/declare.py", "declare"): "the state of a label name",
    ("rules/label_list.py", "declare"): "the state of a label name",
    ("answers/label.py", "declare"): "the state of a label name",
    ("answers/shapes/bottle.py", "declare"): "the state of a label name",
    ("answers/limits.py", "declare"): "a key of the answer, and the state of a label name",
    ("screens/rules.py", "declare"): "a key of the answer",
    ("accords/gaps.py", "prohibited"): "why a line goes",
    ("answers/shapes/accords.py", "prohibited"): "why a line goes",
    ("screens/portfolio.py", "prohibited"): "how a limit of 0 is read out",
    ("shelf/wish.py", "prohibited"): "how a word of law about a material begins, whichever rule bans it",
}


def kinds_said(tree: ast.AST) -> set[str]:
    """Names of kinds of rules among the texts of a module."""
    return {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and node.value in KINDS}


def test_no_module_knows_a_kind_of_rule_by_name():
    said = {
        (path.relative_to(PACKAGE).as_posix(), name) for path in MODULES for name in kinds_said(parsed(path))
    }
    kinds = {one for one in said if one[0] == "rules/kinds.py"}
    assert {name for _, name in kinds} == set(KINDS)
    assert said - kinds == set(KINDS_SAID)
    assert set(ONE_FIGURE) == {kind.name for kind in KINDS.values() if kind.own_figure}
    fields = json.loads((ROOT / "data" / "datapackage.json").read_text(encoding="utf-8"))["resources"]
    limits = next(one for one in fields if one["name"] == "limits")["schema"]["fields"]
    assert set(next(one for one in limits if one["name"] == "rule")["constraints"]["enum"]) == set(KINDS)


def test_a_kind_said_by_name_is_found():
    assert kinds_said(ast.parse("if rule.rule in ('grade', 'other'):\n    pass")) == {"grade"}


def test_types_are_told_to_whoever_installs_it():
    assert (PACKAGE / "py.typed").is_file()


def test_the_floors_notice():
    report = {
        "totals": {"percent_covered": 85.0, "covered_branches": 88, "num_branches": 100},
        "files": {
            "substitute/thin.py": {"summary": {"num_statements": 10, "percent_covered": 79.9}},
            "substitute/well.py": {"summary": {"num_statements": 10, "percent_covered": 100.0}},
            "substitute/__init__.py": {"summary": {"num_statements": 0, "percent_covered": 0.0}},
        },
    }
    complaints = gates.under_floors(gates.shares(json.loads(json.dumps(report))))
    assert [line.split(":")[0] for line in complaints] == [
        *("the package", "the branches of the package", "thin.py")
    ]
    floors = {
        "percent_covered": gates.TOTAL_FLOOR,
        "covered_branches": gates.BRANCH_FLOOR,
        "num_branches": 100,
    }
    report["totals"] = floors
    del report["files"]["substitute/thin.py"]
    assert gates.under_floors(gates.shares(report)) == []


def test_the_gates_want_a_known_name(capsys):
    with pytest.raises(SystemExit) as stopped:
        gates.main(["beauty"])
    assert stopped.value.code == 2
    assert "no gate beauty" in capsys.readouterr().err
