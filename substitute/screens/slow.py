"""Slow work: counted, stopped when asked, and kept in this window when one looks elsewhere.

The work runs beside the page in a thread of its own and tells how far it is through a callback; the page
asks twice a second. It is stopped from within that callback, so nothing is left half written.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import streamlit as st

from ..errors import SubstituteError
from . import common

ASKED_EVERY_S = 0.6
Progress = Callable[..., None]


class Stopped(Exception):
    """Asked to stop."""


class Job:
    """One piece of slow work; ``work(progress)`` calls ``progress(done, of, what)``."""

    def __init__(self, made_of: Any, work: Callable[[Progress], Any]) -> None:
        self.made_of = made_of
        self.done, self.of, self.what = 0, 0, "getting ready"
        self.result: Any = None
        self.error: Exception | None = None
        self.started = time.monotonic()
        self.took = 0.0
        self._stop = threading.Event()
        self._work = work
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        try:
            self.result = self._work(self._progress)
        except Exception as error:  # handed to the page, which says it
            self.error = error
        self.took = time.monotonic() - self.started

    def _progress(self, done: float, of: float = 0, what: str = "") -> None:
        if self._stop.is_set():
            raise Stopped
        self.done, self.of, self.what = int(done), int(of), str(what or self.what)

    def stop(self) -> None:
        self._stop.set()

    @property
    def running(self) -> bool:
        return self._thread.is_alive()

    @property
    def stopping(self) -> bool:
        """Asked to stop, and still at the piece it was at."""
        return self.running and self._stop.is_set()

    def wait(self, seconds: float) -> None:
        self._thread.join(seconds)


def job(name: str, made_of: Any) -> Job | None:
    """The job of that name, if it was about the same question."""
    found: Job | None = st.session_state.get(f"job_{name}")
    return found if found is not None and found.made_of == made_of else None


def begin(name: str, made_of: Any, work: Callable[[Progress], Any]) -> Job:
    """Start it; another of the same name is stopped."""
    old = st.session_state.get(f"job_{name}")
    if old is not None:
        old.stop()
    found = st.session_state[f"job_{name}"] = Job(made_of, work)
    found.wait(0.4)  # what is quick needs no bar
    return found


def shown(found: Job, name: str) -> Any:
    """The result; while it is not there, how far it is, and a way to stop. ``None`` until done."""
    if found.running:
        _watch(found, name)
        return None
    if isinstance(found.error, Stopped):
        st.info(f"Stopped after {found.done:,}{f' of {found.of:,}' if found.of else ''}.")
        return None
    if isinstance(found.error, SubstituteError):
        common.fault(found.error)
        return None
    if found.error is not None:
        raise found.error
    return found.result


def _watch(found: Job, name: str) -> None:
    @st.fragment(run_every=ASKED_EVERY_S)
    def watch() -> None:
        if not found.running:
            st.rerun()
        share = min(1.0, found.done / found.of) if found.of else 0.0
        said = f"{found.what}: {found.done:,}{f' of {found.of:,}' if found.of else ''}"
        said += "; stopping when this one is done" if found.stopping else ""
        with st.container(horizontal=True, vertical_alignment="center"):
            st.progress(share, text=common.md(said))
            st.button("Stop", key=f"stop_{name}", on_click=found.stop, disabled=found.stopping)

    watch()
