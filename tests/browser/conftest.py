"""A served app, a Chromium and axe-core for the browser tests; each missing piece skips with its reason."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager
from pathlib import Path

import pytest

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
READY = "[data-testid=stApp][data-test-script-state=notRunning]"


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
        context = chromium.new_context(
            color_scheme=scheme, viewport={"width": width, "height": height}, accept_downloads=True
        )
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
    """Wait until the script has run and the page stands still: nothing stale, nothing half drawn."""
    page.wait_for_selector(READY, timeout=60_000)
    page.wait_for_timeout(250)
    page.wait_for_selector(READY, timeout=60_000)
    page.wait_for_function(
        "!document.querySelector('[data-stale=true], [data-testid=stSkeleton]')", timeout=60_000
    )


def visit(page, address: str, path: str = "") -> None:
    page.goto(f"{address}/{path}")
    page.wait_for_selector(".st-key-answer :is(.headline, [data-testid=stAlert])", timeout=60_000)
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
