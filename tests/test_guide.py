"""The tutorial can be done as it stands, and the guide is built by one command."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from sources import MODULES, parsed, text_of

from substitute.guide import HERE
from substitute.guide import __main__ as guide_command
from substitute.guide.reference import PACKAGE, public
from substitute.odour.perception import INTENSITY_METHODS, MIXING_METHODS

sys.path.insert(0, str(Path(__file__).parent))
import docs

FIGURES = re.compile(r"[-+]?\d[\d.,]*")
HEADS = ("$", ">>>", "material ", "no. ", "substance ", "Weigh", "Strips")
DOCUMENTED = 0.80  # of the public functions and classes; the reference is made of what they say


def shape(block: str) -> list[str]:
    """The lines that do not depend on a figure: commands, headers, titles; numbers masked."""
    lines = [FIGURES.sub("#", line).strip() for line in block.splitlines()]
    return [
        line
        for line in lines
        if line.startswith(("$", ">>>", "material ", "no. ", "substance ", "Weigh", "Strips"))
    ]


def test_the_tutorial_does_what_it_says():
    """Each command ends with 0 or 1 (``renewed`` stops at others) and prints the page's headers."""
    text = (HERE / "tutorial.md").read_text(encoding="utf-8")
    today = docs.renewed(text)
    kinds, shown = zip(*docs.BLOCK.findall(text))
    again = [body for _, body in docs.BLOCK.findall(today)]
    assert len(shown) >= 9
    assert {"console", "pycon"} < set(kinds)
    for old, new in zip(shown, again, strict=True):
        assert shape(old) == shape(new)
        assert "Traceback" not in new


def test_a_page_may_not_show_a_command_that_fails():
    with pytest.raises(SystemExit, match="no command that fails"):
        docs.renewed("```console\n$ substitute swap no-such-thing-at-all\n```\n")


def test_one_command_builds_the_guide(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "substitute.guide", str(tmp_path / "guide")],
        capture_output=True,
        text=True,
        check=True,
        cwd=PACKAGE.parent,
    )
    made = {path.name: path.read_text(encoding="utf-8") for path in (tmp_path / "guide").iterdir()}
    assert f"{len(made)} pages" in done.stdout
    assert {"index.md", "tutorial.md", "howto.md", "models.md", "commands.md", "json.md", "tables.md"} < set(
        made
    )
    for name, text in made.items():
        assert not docs.dead_links(tmp_path / "guide" / name, text)
    assert "### `Library.swap(" in made["room-library.md"]
    assert "### `load(" in made["room-library.md"]
    assert "| `grams_per_gram` |" in made["json.md"]
    assert "`--because " in made["commands.md"]


def test_bad_calls_are_told(tmp_path, capsys):
    (tmp_path / "file").write_text("x")
    for args in ([], ["--help"], [str(tmp_path / "file")]):
        assert guide_command.main(args) == 2
        said = capsys.readouterr().err
        assert said.strip()
        assert "Traceback" not in said


@pytest.mark.parametrize("method", [*INTENSITY_METHODS, *MIXING_METHODS])
def test_every_model_one_can_ask_for_is_named_in_its_page(method):
    assert f"`{method}`" in (HERE / "models.md").read_text(encoding="utf-8")


def test_public_things_are_documented():
    said = []
    for path in MODULES:
        tree = parsed(path)
        things = list(public(tree))
        things += [one for thing in things if isinstance(thing, ast.ClassDef) for one in public(thing)]
        said += [(bool(ast.get_docstring(thing)), f"{path.name}: {thing.name}") for thing in things]
    share = sum(is_said for is_said, _ in said) / len(said)
    assert share >= DOCUMENTED, (
        f"{share:.2f}: " + ", ".join(name for is_said, name in said if not is_said)[:2000]
    )


def test_every_module_says_what_it_is():
    silent = []
    for path in MODULES:
        if text_of(path).strip() and not ast.get_docstring(parsed(path)):
            silent.append(str(path.relative_to(PACKAGE)))
    assert not silent
