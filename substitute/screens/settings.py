"""Streamlit's settings: the same as ``.streamlit/config.toml`` of the checkout, as flags for an installed
app.

A test holds the two together. Colours: ink on paper and its reverse; the accent is the blue of the
Okabe-Ito palette, darkened or lightened until text in it has a contrast of 4.5 or more.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any

from ..errors import InputError

SERIF = "'Iowan Old Style', 'Palatino Linotype', Palatino, 'Book Antiqua', Georgia, 'Times New Roman', serif"

HOSTS = ("127.0.0.1", "localhost")

SETTINGS: dict[str, dict[str, Any]] = {
    "server": {
        "address": "127.0.0.1",
        "allowedHosts": list(HOSTS),
        "fileWatcherType": "none",
        "showEmailPrompt": False,
        "maxUploadSize": 20,
    },
    "browser": {"gatherUsageStats": False, "serverAddress": "127.0.0.1"},
    "client": {"showErrorDetails": "none", "toolbarMode": "viewer"},
    "theme": {
        "headingFont": SERIF,
        "baseRadius": "none",
        "buttonRadius": "2px",
        "showWidgetBorder": True,
        "linkUnderline": True,
        "headingFontWeights": [500, 500, 600],
    },
    "theme.light": {
        "primaryColor": "#005A8C",
        "backgroundColor": "#FCFAF4",
        "secondaryBackgroundColor": "#F1ECE0",
        "textColor": "#26221C",
        "linkColor": "#005A8C",
        "borderColor": "#B9B09E",
        "grayTextColor": "#5A5447",
        "codeTextColor": "#26221C",
    },
    "theme.dark": {
        "primaryColor": "#7CC4EE",
        "backgroundColor": "#191715",
        "secondaryBackgroundColor": "#26231F",
        "textColor": "#EDE7DB",
        "linkColor": "#7CC4EE",
        "borderColor": "#6B6355",
        "grayTextColor": "#BDB4A3",
        "codeTextColor": "#EDE7DB",
    },
}


def flags() -> list[str]:
    """The settings as flags of ``streamlit run``."""
    found = []
    for section, values in SETTINGS.items():
        for name, value in values.items():
            several = value if name == "allowedHosts" else [value]
            for one in several:
                text = str(one).lower() if isinstance(one, bool) else str(one)
                found.append(f"--{section}.{name}={text}")
    return found


def app_file() -> Path:
    """The app's script: beside the package's modules when installed, in the checkout otherwise."""
    package = Path(__file__).resolve().parents[1]
    for path in (package / "app.py", package.parent / "app.py"):
        if path.is_file():
            return path
    raise InputError(
        f"the app is missing: neither {package / 'app.py'} nor {package.parent / 'app.py'} is there"
    )


def run(
    port: int | None = None,
    browser: bool = True,
    *,
    tables: str | Path | None = None,
    labels: str | Path | None = None,
    book: str | Path | None = None,
    evidence: bool = True,
) -> int:
    """Run the app in this very process until it is stopped, so that no server outlives it; returns the
    exit code.

    A person's own tables, labels and bench book reach the app by its environment.
    """
    from ..library import load

    load(
        tables, evidence=evidence, labels=labels, book=book
    )  # complaints about one's own files belong in the terminal
    os.environ["SUBSTITUTE_EVIDENCE"] = "yes" if evidence else "no"
    for name, value in (
        *(("SUBSTITUTE_TABLES", tables), ("SUBSTITUTE_LABELS", labels)),
        ("SUBSTITUTE_BOOK", book),
    ):
        if value is not None:
            os.environ[name] = str(Path(value).resolve())
    screen = (
        sys.platform in ("win32", "darwin") or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )
    wanted = [*flags(), f"--server.headless={'false' if browser and screen else 'true'}"]
    if port is not None:
        wanted.append(f"--server.port={port}")
    from streamlit.web.cli import main

    try:
        main(["run", str(Path(__file__).with_name("server.py")), *wanted], standalone_mode=False)
    except KeyboardInterrupt:
        pass
    except SystemExit as done:
        return int(done.code or 0)
    return 0
