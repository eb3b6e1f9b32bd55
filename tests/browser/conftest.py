"""A served app, a Chromium and axe-core for the browser tests; each missing piece skips with its reason."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
import weakref
from collections import deque
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from substitute.screens import SCREENS

try:
    from playwright.sync_api import TimeoutError as Late
except ImportError:  # the tests are skipped then
    Late = TimeoutError  # type: ignore[misc, assignment]

ROOT = Path(__file__).resolve().parents[2]
SHOTS = Path(__file__).parent / "screenshots"
CHROMIUM = next(
    (
        path
        for path in ("/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome")
        if Path(path).exists()
    ),
    None,
)
ASKED = {  # a screen's links that ask something; another is looked at as it opens
    "swap": ("swap?material=rosewood+oil&because=law", "swap?material=mossy"),
    "neighbours": ("neighbours?of=vanillin",),
    "material": ("material?card=rosewood+oil", "material"),
    "adjust": ("adjust?because=law&product=fine-fragrance",),
    "rules": ("rules?product=fine-fragrance&dose=20",),
}
VIEWS = {screen: ASKED.get(screen, (screen,)) for screen in SCREENS}
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]
DRAWN = ".st-key-answer :is(.headline, [data-testid=stAlert])"
READY = "[data-testid=stApp][data-test-script-state=notRunning]"


SLOW_MS = 60_000  # how long a busy machine may take for anything
QUIET_S = 0.25  # longer than what the framework waits before it sends a typed value


class Talk:
    """What a page and its server say to each other: whether anything asked for is still unanswered.

    The page's own mark *not running* stands there too until the server has heard of a click, so on a busy machine
    it says nothing about the click; the messages do.
    """

    def __init__(self, page: Any) -> None:
        self.asked = self.answered = 0
        self.moved = self.began = time.monotonic()
        self.heard: deque[str] = deque(maxlen=40)  # for whoever must find out why a test failed
        page.on("websocket", self._open)

    def _note(self, what: str) -> None:
        self.moved = time.monotonic()
        self.heard.append(f"{self.moved - self.began:.2f} {what}")

    def _open(self, socket: Any) -> None:
        self._note("connected")
        self.asked = self.answered = 0  # a reload: what went before is of no account
        socket.on("framesent", self._sent)
        socket.on("framereceived", self._received)

    def _sent(self, frame: bytes | str) -> None:
        from streamlit.proto.BackMsg_pb2 import BackMsg

        if isinstance(frame, bytes) and frame:
            message = BackMsg()
            message.ParseFromString(frame)
            if message.WhichOneof("type") == "rerun_script" and not message.rerun_script.is_auto_rerun:
                self.asked += 1
                self._note(f"asked {len(message.rerun_script.widget_states.widgets)} widgets")

    def _received(self, frame: bytes | str) -> None:
        from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

        if isinstance(frame, bytes) and frame:
            message = ForwardMsg()
            message.ParseFromString(frame)
            if message.WhichOneof("type") == "script_finished":
                early = message.script_finished == ForwardMsg.FINISHED_EARLY_FOR_RERUN
                self.answered = self.asked - 1 if early else self.asked
                self._note(f"answered {message.script_finished}")

    @property
    def quiet(self) -> bool:
        return self.answered >= self.asked and time.monotonic() - self.moved >= QUIET_S


TALKS: weakref.WeakKeyDictionary[Any, Talk] = weakref.WeakKeyDictionary()


def overheard(context: Any) -> Any:
    """The context, all of whose pages are listened to from their first message on."""
    context.on("page", lambda page: TALKS.setdefault(page, Talk(page)))
    return context


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@contextmanager
def serving(command: list[str], cwd: Path):
    """A Streamlit server on a free port until the block ends; yields its address."""
    port = free_port()
    surrounding = {**os.environ, "PYTHONPATH": str(ROOT)}
    server = subprocess.Popen(
        [*command, str(port)], cwd=cwd, env=surrounding, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        for _ in range(300):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/_stcore/health", timeout=1)
                break
            except OSError:
                time.sleep(0.1)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        try:
            server.wait(15)
        except subprocess.TimeoutExpired:
            server.kill()


@pytest.fixture(scope="session")
def app(tmp_path_factory):
    """The app's address, started by the command from a folder that is not the checkout."""
    with serving(
        [sys.executable, "-m", "substitute.cli", "app", "--no-browser", "--port"],
        tmp_path_factory.mktemp("elsewhere"),
    ) as address:
        yield address


@pytest.fixture(scope="session")
def chromium():
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def window(chromium):
    """A function (scheme, width) -> a fresh page, closed after the test."""
    opened = []

    def make(scheme: str = "light", width: int = 1200, height: int = 900):
        context = overheard(
            chromium.new_context(
                color_scheme=scheme, viewport={"width": width, "height": height}, accept_downloads=True
            )
        )
        context.set_default_timeout(SLOW_MS)
        opened.append(context)
        return context.new_page()

    yield make
    for context in opened:
        context.close()


@pytest.fixture(scope="session")
def axe(tmp_path_factory) -> str:
    """axe-core's text: from node_modules if present, else installed into a temporary folder by npm."""
    for folder in (ROOT, ROOT.parent, Path(os.environ.get("AXE_FOLDER", ROOT))):
        path = folder / "node_modules" / "axe-core" / "axe.min.js"
        if path.is_file():
            return path.read_text(encoding="utf-8")
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("axe-core needs npm, which is missing")
    folder = tmp_path_factory.mktemp("axe")
    done = subprocess.run(
        [npm, "install", "--no-save", "--prefix", str(folder), "axe-core"],
        capture_output=True,
        text=True,
        timeout=120,
    )
    path = folder / "node_modules" / "axe-core" / "axe.min.js"
    if done.returncode or not path.is_file():
        pytest.skip(
            f"npm could not install axe-core: {done.stderr.strip().splitlines()[-1:] or done.returncode}"
        )
    return path.read_text(encoding="utf-8")


def settled(page) -> None:
    """Wait until all that was asked for is answered and the page stands still: nothing stale, nothing half
    drawn."""
    until = time.monotonic() + SLOW_MS / 1000
    page.wait_for_timeout(1000 * QUIET_S)  # a typed value is sent a moment after the key
    while not TALKS[page].quiet:
        assert time.monotonic() < until, "the server never came to an end"
        page.wait_for_timeout(50)
    page.wait_for_selector(READY)
    page.wait_for_function("!document.querySelector('[data-stale=true], [data-testid=stSkeleton]')")


def visit(page, address: str, path: str = "") -> None:
    page.goto(f"{address}/{path}")
    page.wait_for_selector(DRAWN)
    settled(page)


def tall(page) -> int:
    """How high the whole page is; Streamlit scrolls inside."""
    inside = "[data-testid=stMain], [data-testid=stAppViewContainer]"
    return (
        int(
            page.evaluate(
                f"Math.max(...[...document.querySelectorAll('{inside}')].map(e => e.scrollHeight),"
                " innerHeight)"
            )
        )
        + 20
    )


def shot(page, name: str) -> Path:
    """Keep a picture of the whole page; the window is grown first."""
    SHOTS.mkdir(exist_ok=True)
    size = page.viewport_size
    page.set_viewport_size({"width": size["width"], "height": min(tall(page), 7000)})
    page.wait_for_timeout(300)
    path = SHOTS / f"{name}.png"
    page.screenshot(path=str(path))
    page.set_viewport_size(size)
    return path
