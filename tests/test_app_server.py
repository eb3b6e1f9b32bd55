"""What ``substitute app`` starts: settings handed on, a person's files in the environment, and a server that
answers to this machine's own names alone.
"""

from __future__ import annotations

import asyncio
import os
import sys

import pytest

from substitute.errors import InputError, SubstituteError
from substitute.screens import settings

KEPT = ("SUBSTITUTE_EVIDENCE", "SUBSTITUTE_TABLES", "SUBSTITUTE_LABELS", "SUBSTITUTE_BOOK")


@pytest.fixture
def started(monkeypatch):
    """What Streamlit was asked to run; nothing is. ``ends`` is how its run ends."""
    from streamlit.web import cli

    for name in KEPT:
        monkeypatch.setenv(name, "")  # put back after the test, whatever is set meanwhile
    asked: dict[str, object] = {"ends": None}

    def main(arguments, standalone_mode):
        asked["arguments"] = arguments
        assert standalone_mode is False
        if isinstance(asked["ends"], BaseException):
            raise asked["ends"]

    monkeypatch.setattr(cli, "main", main)
    return asked


def test_the_server_gets_its_settings_and_a_persons_files(started, library, monkeypatch, tmp_path):
    rules, labels = library.demo / "rules", library.demo / "labels.csv"
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert settings.run(8601, tables=rules, labels=labels, evidence=False) == 0
    command, script, *flags = started["arguments"]
    assert command == "run"
    assert script.endswith("server.py")
    assert set(settings.flags()) <= set(flags)
    assert "--server.port=8601" in flags
    assert "--server.headless=false" in flags
    assert [os.environ[name] for name in KEPT] == ["no", str(rules.resolve()), str(labels.resolve()), ""]
    monkeypatch.delenv("WAYLAND_DISPLAY")
    assert settings.run() == 0
    assert "--server.headless=true" in started["arguments"]  # no screen to open a browser on
    assert not any(flag.startswith("--server.port") for flag in started["arguments"])
    assert os.environ["SUBSTITUTE_EVIDENCE"] == "yes"


@pytest.mark.parametrize(
    ("ends", "code"), [(KeyboardInterrupt(), 0), (SystemExit(3), 3), (SystemExit(None), 0)]
)
def test_how_the_server_ends_is_the_exit_code(started, ends, code):
    started["ends"] = ends
    assert settings.run(browser=False) == code


def test_a_fault_in_a_persons_files_is_told_before_anything_starts(started, tmp_path):
    with pytest.raises(SubstituteError, match="there is no such folder of tables"):
        settings.run(tables=tmp_path / "none")
    assert "arguments" not in started


def test_a_missing_app_is_told(monkeypatch, tmp_path):
    monkeypatch.setattr(settings, "__file__", str(tmp_path / "substitute" / "screens" / "settings.py"))
    with pytest.raises(InputError, match="the app is missing"):
        settings.app_file()


def test_a_page_from_elsewhere_is_refused_by_name():
    """Asked under another name than this machine's own the server says 400 before it looks at the page."""
    from substitute.screens.server import app

    def asked(host: str, path: str = "/no-such-page") -> int:
        said: list[dict[str, object]] = []

        async def told(message):
            said.append(message)

        async def body():
            return {"type": "http.request", "body": b""}

        scope = {
            "type": "http",
            "http_version": "1.1",
            "method": "POST",
            "path": path,
            "raw_path": path.encode(),
        }
        scope |= {
            "scheme": "http",
            "query_string": b"",
            "headers": [(b"host", host.encode())],
            "server": ("", 1),
        }
        asyncio.run(app(scope, body, told))
        return said[0]["status"]

    for host in ("shop.example:8501", "127.0.0.1.example", "127.0.0.2"):
        assert asked(host) == 400
    for host in settings.HOSTS:
        assert asked(f"{host}:8501") != 400
