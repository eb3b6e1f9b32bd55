"""Every gate of the house in one command: ``python tests/gates.py [--without-coverage] [--slow] [GATE …]``.

style (``ruff check``), layout (``ruff format --check``), types (``mypy``, strict), house (imports flow one way and
in no circle, nothing is written twice) and coverage (branches counted: the floors stand below). Each is run, whatever
became of the others; the exit code is 1 if one failed. The settings of ruff and mypy stand in ``pyproject.toml``.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
TOTAL_FLOOR = 95.0  # percent of lines and branches of the package, counted together
BRANCH_FLOOR = 95.0  # and of its branches alone
MODULE_FLOOR = 80.0  # lines and branches together, of each module
BRANCHES = "branches"  # the name of their share, where the whole has an empty name and modules their file's
QUICK: Mapping[str, float] = {  # lower without the slow tests, which cover the rest
    "standins/train.py": 29.0,
}

COMMANDS: Mapping[str, Sequence[str]] = {
    "style": ("ruff", "check", "."),
    "layout": ("ruff", "format", "--check", "."),
    "types": ("mypy",),
    "house": ("pytest", "-q", "-n", "0", "tests/test_imports.py", "tests/test_house.py"),
}


def shares(report: Mapping[str, object]) -> dict[str, float]:
    """Percent covered by file, from a report of ``coverage json``; the whole under an empty name, and the branches
    of the whole under ``BRANCHES``."""
    totals = report["totals"]
    found = {
        "": float(totals["percent_covered"]),  # type: ignore[index]
        BRANCHES: 100.0 * totals["covered_branches"] / totals["num_branches"],  # type: ignore[index]
    }
    for file, one in report["files"].items():  # type: ignore[attr-defined]
        if one["summary"]["num_statements"]:
            found[Path(file).as_posix().removeprefix("substitute/")] = float(
                one["summary"]["percent_covered"]
            )
    return found


def under_floors(covered: Mapping[str, float], slow: bool = True) -> list[str]:
    """One sentence for each floor that is not held by a run with or without the slow tests."""
    floors = {"": TOTAL_FLOOR, BRANCHES: BRANCH_FLOOR, **({} if slow else QUICK)}
    called = {"": "the package", BRANCHES: "the branches of the package"}
    order = sorted(covered.items(), key=lambda item: (item[0] not in called, item[1]))
    return [
        f"{called.get(name, name)}: {share:.1f} % covered, the floor is {floors.get(name, MODULE_FLOOR):g} %"
        for name, share in order
        if share < floors.get(name, MODULE_FLOOR)
    ]


def coverage(slow: bool) -> bool:
    """Runs the tests under coverage and holds the floors."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "coverage.json"
        command = [sys.executable, "-m", "pytest", "-q", "--cov=substitute", "--cov-branch"]
        command += ["--cov-report=", f"--cov-report=json:{report}", *(["--slow"] if slow else [])]
        passed = subprocess.run(command, cwd=ROOT, check=False).returncode == 0
        if not report.exists():
            return False
        covered = shares(json.loads(report.read_text(encoding="utf-8")))
    complaints = under_floors(covered, slow)
    least = min((share, name) for name, share in covered.items() if name not in ("", BRANCHES))
    print(
        f"coverage: {covered['']:.1f} % of lines and branches, {covered[BRANCHES]:.1f} % of branches alone, "
        f"at least {least[0]:.1f} % of a module ({least[1]})",
        *complaints,
        sep="\n  ",
    )
    return passed and not complaints


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument(
        "gates", nargs="*", metavar="GATE", help=f"{', '.join(COMMANDS)} or coverage; all by default"
    )
    parser.add_argument("--without-coverage", action="store_true", help="leave out the run of all tests")
    parser.add_argument("--slow", action="store_true", help="coverage with the slow tests")
    options = parser.parse_args(arguments)
    chosen = options.gates or [*COMMANDS, *(() if options.without_coverage else ("coverage",))]
    unknown = set(chosen) - {*COMMANDS, "coverage"}
    if unknown:
        parser.error(f"no gate {', '.join(sorted(unknown))}: one of {', '.join(COMMANDS)}, coverage")
    failed = []
    for gate in chosen:
        print(f"+ {gate}", flush=True)
        if gate == "coverage":
            held = coverage(options.slow)
        else:
            held = (
                subprocess.run([sys.executable, "-m", *COMMANDS[gate]], cwd=ROOT, check=False).returncode == 0
            )
        if not held:
            failed.append(gate)
    print(
        f"{len(chosen) - len(failed)} of {len(chosen)} gates held"
        + (f"; not: {', '.join(failed)}" if failed else "")
    )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
