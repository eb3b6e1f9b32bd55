"""The process that `substitute app` runs: in this one."""

from __future__ import annotations

import asyncio
import os
from typing import Any

import pytest

from substitute.errors import InputError
from substitute.screens import settings


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

    told = {
        host: asyncio.run(status_of(app, host))
        for host in (*settings.HOSTS, "elsewhere.example", "127.0.0.1.example", "127.0.0.2")
    }
    assert [told.pop(host) for host in ("elsewhere.example", "127.0.0.1.example", "127.0.0.2")] == [400] * 3
    assert 400 not in told.values()
