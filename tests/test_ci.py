"""What only CI runs, or only a developer: that it is there, takes what it is told, and works on a small scale."""

from __future__ import annotations

import ast
import importlib
import re
import shlex
import sys
import tomllib
from pathlib import Path
from zipfile import ZipFile

import pytest

import substitute

ROOT = Path(__file__).parents[1]
EVALUATION = ROOT / "tests" / "evaluation"
sys.path[:0] = [str(ROOT / "tests"), str(EVALUATION)]
SCRIPTS = {
    path.stem: path
    for path in sorted([*(ROOT / "tests").glob("*.py"), *EVALUATION.glob("*.py")])
    if "ArgumentParser(" in path.read_text(encoding="utf-8") and not path.stem.startswith("test_")
}
CONFTEST = (ROOT / "tests" / "conftest.py").read_text(encoding="utf-8")
OURS = re.compile(r"^--(browser|slow)$")


def commands(text: str) -> list[list[str]]:
    """The words of every command that starts with a program of the environment."""
    lines = [line.split(" #")[0].strip() for line in text.splitlines()]
    return [shlex.split(line) for line in lines if line.startswith((".venv/bin/", "python3 -m venv"))]


CI = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
WRITTEN = {"ci": commands(CI), "developers": commands(DEVELOPERS)}


def test_readme_has_the_one_line_that_ci_takes_from_it():
    pattern = re.search(r"grep -m1 -E '(.+?)' README.md", CI)
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (line,) = [line for line in readme.splitlines() if re.search(pattern[1], line)]
    steps = line.split(" && ")
    assert steps[0] == "python3 -m venv .venv"
    assert ".venv/bin/pip install" in line
    assert steps[-1] == ".venv/bin/pytest -q"


@pytest.mark.parametrize("where", WRITTEN)
def test_what_is_written_down_to_be_run_is_there(where):
    """Files, and the flags that their scripts and our own options of pytest know."""
    assert len(WRITTEN[where]) >= 8
    for words in WRITTEN[where]:
        files = [word for word in words if word.startswith("tests/")]
        assert all((ROOT / name).exists() for name in files), words
        known = CONFTEST + "".join(
            (ROOT / name).read_text(encoding="utf-8") for name in files if name.endswith(".py")
        )
        for flag in (word for word in words if word.startswith("--")):
            if words[0].endswith("python") and files:
                assert f'"{flag}"' in known, (words, flag)
            elif words[0].endswith("pytest") and OURS.match(flag):
                assert f'"{flag[2:]}"' in CONFTEST, (words, flag)


def test_extras_that_are_installed_exist():
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    extras = set(told["project"]["optional-dependencies"])
    asked = set()
    for group in re.findall(r"-e '\.\[([\w,]+)\]'", CI + DEVELOPERS):
        asked |= set(group.split(","))
    assert asked == extras


def test_ci_runs_every_gate_and_all_slow_tests_under_coverage():
    import gates

    (step,) = [words for words in WRITTEN["ci"] if "tests/gates.py" in words]
    assert step[2:] == ["--slow"]  # no gate is named, so all are run, and coverage with the slow tests
    assert {"style", "layout", "types", "house"} <= set(gates.COMMANDS)


@pytest.mark.parametrize("name", SCRIPTS)
def test_every_script_says_how_it_is_called(name, monkeypatch, capsys):
    assert {"docs", "gates", "release", "evaluate", "mutate", "robust"} < set(SCRIPTS)
    script = importlib.import_module(name)
    monkeypatch.setattr(sys, "argv", [str(SCRIPTS[name]), "--help"])
    with pytest.raises(SystemExit) as stopped:
        script.main()
    assert stopped.value.code == 0
    assert "usage: " in capsys.readouterr().out


@pytest.fixture
def called(library, monkeypatch, capsys):
    """What a script prints that is called in this process, about the library that is read already."""
    monkeypatch.setattr(substitute, "load", lambda *given, **asked: library)

    def run(name: str, *words: str) -> str:
        monkeypatch.setattr(sys, "argv", [name, *words])
        importlib.import_module(name).main()
        return capsys.readouterr().out

    return run


def test_reasons_on_a_small_scale(called):
    said = called("reasons", "--every", "97")
    found = re.findall(r"^([\w-]+): (?:(\d+) materials, )?(\d+) answers, (\d+) ", said, re.M)
    assert [one[0] for one in found] == ["limit", "hand-lotion", "baby-lotion", "price"]
    assert all(int(answers) > 0 for _, _, answers, _ in found)
    assert [int(bad) for kind, _, _, bad in found if kind.endswith("lotion")] == [0, 0]


def test_untouched_lines_on_a_small_scale(called):
    lines = called("untouched", "--every", "68").splitlines()
    assert [line.split(":")[0] for line in lines] == ["whole table", "demo shelf", "15 % in fine fragrance"]
    assert all(re.search(r"\d+ not in question", line) for line in lines)
    assert not any("under a plain way" in line for line in lines)


def test_naturals_over_their_list(called, tables, monkeypatch):
    import naturals

    monkeypatch.setattr(naturals, "load_tables", lambda: tables)
    said = called("naturals")
    count, of = re.search(r"(\d+) of (\d+) are more than 3 times over", said).groups()
    assert len(said.splitlines()) == int(count) + 3
    assert int(count) < int(of) / 4


def test_a_nose_that_is_never_off_learns_nothing_wrong(library):
    """The evaluation's own noses: one without errors of its own or own potencies finds the tables right."""
    import noses

    among = ["linalool", "coumarin", "vanillin", "phenethyl-alcohol", "citronellol", "linalyl-acetate"]
    same = noses.a_nose(library.tables, "1", 1.0, 0, among)
    assert set(same.louder.values()) == {0.0}
    own = noses.a_nose(library.tables, "1", 3.0, 1, among)
    assert (
        sum(one == pytest.approx(-3.912, abs=1e-3) for one in own.louder.values()) == 1
    )  # log of a fiftieth
    assert own.judged(5.0) == ("too_strong", "far")
    assert own.judged(-5.0) == ("too_weak", "far")


def test_faults_that_mutate_draws_are_faults():
    import mutate

    file = "accords/gaps.py"
    source = (ROOT / "substitute" / file).read_text(encoding="utf-8")
    faults = mutate.drawn([file], 6, seed=2)
    assert len({fault.place for fault in faults}) == 6
    plain = ast.unparse(ast.parse(source))
    for fault in faults:
        changed = mutate.with_fault(source, fault.place)
        compile(changed, file, "exec")
        assert changed != plain, fault
    assert faults == mutate.drawn([file], 6, seed=2)
    for room in mutate.ROOMS.values():
        assert all((ROOT / "substitute" / name).is_file() for name in room.files)
        assert all((ROOT / word).is_file() for run in room.runs for word in run if word.startswith("tests/"))


def test_the_exam_prints_its_table():
    import evaluate
    import measure
    import numpy as np

    scores = measure.Scores(np.array([1.0, 0.0]), np.array([1.0, 1.0]), ("a", "b"))
    head, row = evaluate.header("ranking").splitlines()[0], evaluate.line("ours", scores)
    assert head.count("|") == row.count("|")
    assert row.startswith("| ours |")


def test_two_question_writers_agree_as_told(capsys):
    import evaluate

    evaluate.doubled()
    first, three = map(float, re.findall(r"\bin (\d\.\d\d)", capsys.readouterr().out))
    assert 0.5 < first <= three <= 1


def test_a_wheel_that_lacks_a_file_is_noticed(tmp_path):
    import release

    wheel = tmp_path / "thin.whl"
    with ZipFile(wheel, "w") as archive:
        for name in release.INSIDE[1:]:
            archive.writestr(name, "")
    assert release.lacking(wheel) == [release.INSIDE[0]]
    assert release.run(sys.executable, "-c", "print(7)", cwd=tmp_path) == "7\n"
    with pytest.raises(SystemExit, match="broken"):
        release.run(sys.executable, "-c", "raise SystemExit('broken')", cwd=tmp_path)


def test_a_page_with_a_dead_link_is_noticed(tmp_path):
    import docs

    page = tmp_path / "page.md"
    (tmp_path / "there.md").write_text("x", encoding="utf-8")
    assert docs.dead_links(page, "[a](there.md) and [b](nowhere.md)") != []
    assert docs.dead_links(page, "[a](there.md)") == []
    assert all(path.is_file() for path in docs.pages())
