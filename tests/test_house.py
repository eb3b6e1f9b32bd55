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

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "substitute"
LONG = 5  # statements from which on a body that stands in two places is a copy


def functions(text: str) -> list[tuple[str, int, str]]:
    """Name, number of statements and shape of every function: its body without the docstring."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            body = node.body[1:] if ast.get_docstring(node) is not None else node.body
            size = sum(isinstance(child, ast.stmt) for statement in body for child in ast.walk(statement))
            found.append((node.name, size, "\n".join(ast.dump(statement) for statement in body)))
    return found


def copies(texts: dict[str, str]) -> list[list[str]]:
    """Functions of at least ``LONG`` statements whose bodies are the same."""
    places = defaultdict(list)
    for file, text in texts.items():
        for name, size, shape in functions(text):
            if size >= LONG:
                places[shape].append(f"{file}: {name}")
    return [found for found in places.values() if len(found) > 1]


def test_nothing_is_written_twice():
    texts = {str(path.relative_to(ROOT)): path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py")}
    assert len(texts) > 50
    assert copies(texts) == []


def test_a_copy_is_found():
    body = "\n    a = 1\n    b = a + 1\n    c = b * 2\n    d = c - 1\n    return a + b + c + d\n"
    one, other = f"def one():{body}", f'def other():\n    """Said otherwise."""{body}'
    assert copies({"x.py": one, "y.py": other}) == [["x.py: one", "y.py: other"]]
    assert copies({"x.py": one, "y.py": other.replace("c - 1", "c - 2")}) == []


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda path: str(path.relative_to(PACKAGE))
)
def test_nothing_private_of_another_library(path):
    """No import of a name or module that begins with an underscore from outside the package."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.ImportFrom) and not node.level:
            names = [*(node.module or "").split("."), *(alias.name for alias in node.names)]
        elif isinstance(node, ast.Import):
            names = [part for alias in node.names for part in alias.name.split(".")]
        assert not [name for name in names if name.startswith("_") and not name.startswith("__")], node.lineno


def test_types_are_told_to_whoever_installs_it():
    assert (PACKAGE / "py.typed").is_file()


def test_the_floors_notice():
    report = {
        "totals": {"percent_covered": 92.0},
        "files": {
            "substitute/thin.py": {"summary": {"num_statements": 10, "percent_covered": 79.9}},
            "substitute/well.py": {"summary": {"num_statements": 10, "percent_covered": 100.0}},
            "substitute/__init__.py": {"summary": {"num_statements": 0, "percent_covered": 0.0}},
        },
    }
    complaints = gates.under_floors(gates.shares(json.loads(json.dumps(report))))
    assert [line.split(":")[0] for line in complaints] == ["the package", "thin.py"]


def test_the_gates_want_a_known_name(capsys):
    with pytest.raises(SystemExit) as stopped:
        gates.main(["beauty"])
    assert stopped.value.code == 2
    assert "no gate beauty" in capsys.readouterr().err
