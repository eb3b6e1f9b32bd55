"""The process that `substitute app` runs, and a plan worked out in a process of its own: in this one."""

from __future__ import annotations

import asyncio
import multiprocessing
import os
import threading
from types import SimpleNamespace
from typing import Any

import pytest

from substitute.errors import InputError
from substitute.library import apart
from substitute.screens import settings
from substitute.shelf.parallel import LEAST_JOBS

DEMO = "pull-down-desk"


# -- the app's process ---------------------------------------------------------------------------------------


@pytest.fixture
def served(library, monkeypatch):
    """Run the app with a double of the server: (what it was started with, the environment it found)."""
    found: dict[str, Any] = {}

    def main(args: list[str], standalone_mode: bool) -> None:
        assert not standalone_mode  # its errors are ours to tell
        found["args"] = args
        found["env"] = {name: text for name, text in os.environ.items() if name.startswith("SUBSTITUTE_")}
        if "ends" in found:
            raise found["ends"]

    def load(tables: Any, **options: Any) -> Any:
        found["loaded"] = (tables, options)
        return library

    for name in ("TABLES", "LABELS", "BOOK", "EVIDENCE"):
        monkeypatch.setenv(f"SUBSTITUTE_{name}", "")  # so that what the run sets is put back
        monkeypatch.delenv(f"SUBSTITUTE_{name}")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(settings.sys, "platform", "linux")
    monkeypatch.setattr("streamlit.web.cli.main", main)
    monkeypatch.setattr("substitute.library.load", load)
    return found


def test_the_app_runs_with_its_settings_and_what_is_one_s_own(served, tmp_path, monkeypatch):
    assert settings.run() == 0
    assert served["args"][0] == "run"
    assert served["args"][1].endswith("server.py")
    assert set(settings.flags()) <= set(served["args"])
    assert "--server.headless=true" in served["args"]  # no screen, so no browser is opened
    assert not [one for one in served["args"] if one.startswith("--server.port")]
    assert served["env"] == {"SUBSTITUTE_EVIDENCE": "yes"}
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.chdir(tmp_path)
    assert settings.run(8600, tables="mine", labels="labels.csv", book="book", evidence=False) == 0
    assert {"--server.port=8600", "--server.headless=false"} <= set(served["args"])
    assert served["env"] == {
        "SUBSTITUTE_EVIDENCE": "no",
        "SUBSTITUTE_TABLES": str(tmp_path / "mine"),
        "SUBSTITUTE_LABELS": str(tmp_path / "labels.csv"),
        "SUBSTITUTE_BOOK": str(tmp_path / "book"),
    }
    assert served["loaded"] == ("mine", {"evidence": False, "labels": "labels.csv", "book": "book"})
    assert settings.run(browser=False) == 0
    assert "--server.headless=true" in served["args"]


@pytest.mark.parametrize(("ends", "code"), [(KeyboardInterrupt(), 0), (SystemExit(3), 3), (SystemExit(), 0)])
def test_the_app_that_is_stopped_ends_with_its_code(served, ends, code):
    served["ends"] = ends
    assert settings.run() == code


def test_own_files_that_are_wrong_are_told_before_the_app_runs(served, monkeypatch):
    def load(*_: Any, **__: Any) -> Any:
        raise InputError("limits.csv, row 2: no such substance")

    monkeypatch.setattr("substitute.library.load", load)
    with pytest.raises(InputError, match="row 2"):
        settings.run()
    assert "args" not in served


def test_an_app_that_is_not_there_is_named(tmp_path, monkeypatch):
    inside = tmp_path / "substitute" / "screens"
    inside.mkdir(parents=True)
    monkeypatch.setattr(settings, "__file__", str(inside / "settings.py"))
    with pytest.raises(InputError, match=r"the app is missing: neither .*app.py nor .*app.py is there"):
        settings.app_file()
    (tmp_path / "app.py").touch()
    assert settings.app_file() == tmp_path / "app.py"
    (tmp_path / "substitute" / "app.py").touch()
    assert settings.app_file() == tmp_path / "substitute" / "app.py"  # the installed one goes first


async def status_of(app: Any, host: str) -> int:
    """The status of the server's own page of health, asked for under a name of the host."""
    sent: list[Any] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.disconnect"}

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": "http",
        "method": "GET",
        "path": "/_stcore/health",
        "query_string": b"",
        "scheme": "http",
    }
    await app({**scope, "root_path": "", "headers": [(b"host", host.encode() + b":8501")]}, receive, send)
    status: int = sent[0]["status"]
    return status


def test_the_server_answers_to_this_machine_s_own_names_alone():
    """A page that makes its own name point at this machine gets nothing (DNS rebinding)."""
    from substitute.screens.server import app

    told = {host: asyncio.run(status_of(app, host)) for host in (*settings.HOSTS, "elsewhere.example")}
    assert told["elsewhere.example"] == 400
    assert 400 not in {told[host] for host in settings.HOSTS}


# -- a plan in a process of its own --------------------------------------------------------------------------


@pytest.fixture
def beside(monkeypatch):
    """The other process is a thread of this one: what crosses is the same pipe with the same pickles."""
    begun: list[Any] = []

    class Beside(threading.Thread):
        exitcode = -9

        def terminate(self) -> None:
            begun.append("terminated")

    class Context:
        Pipe = staticmethod(multiprocessing.Pipe)

        @staticmethod
        def Process(target: Any, args: tuple[Any, ...]) -> Beside:  # noqa: N802
            its, *rest = args
            own = multiprocessing.connection.Connection(os.dup(its.fileno()))
            begun.append(Beside(target=target, args=(own, *rest)))
            return begun[-1]

    monkeypatch.setattr(apart.multiprocessing, "get_context", lambda kind: Context)
    monkeypatch.setattr(apart, "PATIENCE_S", 0.01)
    monkeypatch.setattr(apart, "GRACE_S", 5.0)
    return begun


class Asked:
    """A library that is asked for plans: counts the accords, is wrong or dies as it is told."""

    on_file, evidence, book = "count", True, None

    def __init__(self, kind: str = "count", *_: Any) -> None:
        self.kind = kind

    def plan(self, accords: Any, *, progress: Any, **options: Any) -> Any:
        for number, _ in enumerate(accords):
            if progress:
                progress(number, len(accords), "accords adjusted")
        if self.kind == "wrong":
            raise InputError("`buy` 0 is out of range")
        if self.kind == "dies":
            raise SystemExit
        return SimpleNamespace(to_dict=lambda: {"makes": len(accords), **options})


def planned(kind: str, monkeypatch: Any, progress: Any = None, many: int = LEAST_JOBS) -> Any:
    monkeypatch.setattr("substitute.library.Library", Asked)
    lib: Any = Asked(kind)
    lib.on_file = kind
    return apart.plan_apart(lib, [None] * many, progress, buy=2)  # type: ignore[list-item]


def test_a_plan_apart_answers_the_same_and_tells_how_far_it_is(beside, monkeypatch):
    told: list[tuple[int, int, str]] = []
    found = planned("count", monkeypatch, lambda *about: told.append(about))
    assert found.to_dict() == {"makes": LEAST_JOBS, "buy": 2}
    assert told[0] == (0, 0, "starting")
    assert told[-1] == (LEAST_JOBS - 1, LEAST_JOBS, "accords adjusted")
    assert len(beside) == 1
    assert planned("count", monkeypatch).to_dict() == {"makes": LEAST_JOBS, "buy": 2}  # nobody asks how far


def test_few_accords_need_no_other_process(beside, monkeypatch):
    assert planned("count", monkeypatch, many=LEAST_JOBS - 1).to_dict() == {"makes": LEAST_JOBS - 1, "buy": 2}
    assert beside == []


def test_what_is_wrong_with_the_question_is_raised_here(beside, monkeypatch):
    with pytest.raises(InputError, match="`buy` 0 is out of range"):
        planned("wrong", monkeypatch)


def test_a_process_that_died_is_no_answer(beside, monkeypatch):
    with pytest.raises(RuntimeError, match="the process at work on the plan (is gone|ended with -9)"):
        planned("dies", monkeypatch)
    mine, its = multiprocessing.Pipe()
    its.close()
    with mine, pytest.raises(RuntimeError, match="is gone"):
        apart._listen(mine, None, None)
    mine, its = multiprocessing.Pipe()
    dead = SimpleNamespace(is_alive=lambda: False, exitcode=-11)
    with mine, its, pytest.raises(RuntimeError, match="ended with -11"):
        apart._listen(mine, dead, None)


def test_a_stopped_plan_stops_the_other_process(beside, monkeypatch):
    class Stop(Exception):
        pass

    def stop(done: int, of: int, what: str) -> None:
        if what != "starting":
            raise Stop

    with pytest.raises(Stop):
        planned("count", monkeypatch, stop)
    assert not beside[0].is_alive()


def test_a_process_that_does_not_stop_is_ended(beside, monkeypatch):
    go = threading.Event()
    monkeypatch.setattr(apart, "GRACE_S", 0.01)
    monkeypatch.setattr(Asked, "plan", lambda *_, **__: go.wait(20))
    with pytest.raises(KeyError):
        planned("count", monkeypatch, lambda *_: {}["stop"])
    go.set()
    assert beside[1:] == ["terminated"]
