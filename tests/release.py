"""What is published is what was tested.

``python tests/release.py [--out FOLDER]`` builds the wheel and the source archive, installs each into a clean
environment of every interpreter from 3.11 to 3.14 that this machine has, and runs the main job there, far
from the checkout. Needs hatchling in the environment that runs it.
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
VERSIONS = ("3.11", "3.12", "3.13", "3.14")
INSIDE = (
    *("substitute/data/datapackage.json", "substitute/data/demo/shelf.csv", "substitute/app.py"),
    *("substitute/standins/weights.json", "substitute/guide/tutorial.md"),
)


def run(*words: object, cwd: Path) -> str:
    """What a command prints; the run ends where the command fails."""
    done = subprocess.run([str(word) for word in words], cwd=cwd, capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(f"{' '.join(map(str, words))}\n{done.stdout}{done.stderr}")
    return done.stdout


def interpreters() -> list[str]:
    """Every wanted interpreter that is there and starts, also where pyenv keeps them."""
    found = []
    for version in VERSIONS:
        kept = Path.home().glob(f".pyenv/versions/{version}.*/bin/python{version}")
        for python in (f"python{version}", *map(str, kept)):
            if (
                shutil.which(python)
                and not subprocess.run([python, "--version"], capture_output=True, check=False).returncode
            ):
                found.append(python)
                break
    return found or [sys.executable]


def built(out: Path) -> list[Path]:
    """The wheel and the source archive, in that order."""
    run(sys.executable, "-m", "hatchling", "build", "-d", out, cwd=ROOT)
    return [*sorted(out.glob("*.whl")), *sorted(out.glob("*.tar.gz"))]


def lacking(wheel: Path) -> list[str]:
    """Files that the wheel should hold and does not."""
    from zipfile import ZipFile

    held = set(ZipFile(wheel).namelist())
    return [name for name in INSIDE if name not in held]


def tried(python: str, archive: Path, version: str) -> str:
    """The main job in a clean environment; says what stands in."""
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        run(python, "-m", "venv", "venv", cwd=here)
        run("venv/bin/pip", "install", "-q", archive, cwd=here)
        said = run("venv/bin/substitute", "--version", cwd=here)
        if version not in said:
            sys.exit(f"{archive.name} says {said.strip()} and not {version}")
        where = "import substitute; print(substitute.load().demo)"
        demo = Path(run("venv/bin/python", "-W", "ignore", "-c", where, cwd=here).strip())
        words = ("adjust", demo / "accords" / "pull-down-desk.csv", "--without", "rosewood oil")
        words += ("--shelf", demo / "shelf.csv", "--format", "json")
        answer = json.loads(run("venv/bin/substitute", *words, cwd=here))
        run("venv/bin/python", "-m", "substitute.guide", "guide", cwd=here)
        return f"{python}, {archive.name}: verdict {answer['verdict']}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, help="keep the archives here")
    out = parser.parse_args().out
    found = re.search(r'^version = "(.+)"', (ROOT / "pyproject.toml").read_text(encoding="utf-8"), re.M)
    with tempfile.TemporaryDirectory() as folder:
        archives = built(out or Path(folder))
        missing = lacking(archives[0])
        if missing or not found:
            sys.exit(f"{archives[0].name} lacks {', '.join(missing)}")
        for place, python in enumerate(interpreters()):
            for archive in archives[: 2 if place == 0 else 1]:
                print(tried(python, archive, found[1]), flush=True)


if __name__ == "__main__":
    main()
