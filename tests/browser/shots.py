"""The screenshot set, written by one command: every screen at three sizes, light and dark, with work on
the bench.

``python tests/browser/shots.py [folder]`` starts the app, walks through the screens and writes
``SCREEN-SIZE-SCHEME.png``: the first screenful as it is seen, and the whole page beside it (``-whole``).
It prints where the answer begins on each.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from tests.browser.conftest import (  # noqa: E402
    CHROMIUM,
    FLAGS,
    VIEWS,
    overheard,
    serving,
    settled,
    tall,
    visit,
)

SIZES = {"desk": (1440, 900), "small": (1024, 768), "phone": (390, 844)}
LINKS = {
    **{screen: links[0] for screen, links in VIEWS.items()},
    "way": "neighbours?of=vanillin&to=eugenol",
    "rules-since": "rules?since=ifra-49",
    "first": "",
}
TOP = "Math.round(document.querySelector('.st-key-answer')?.getBoundingClientRect().top ?? -1)"


def main(folder: Path, only: list[str]) -> None:
    from playwright.sync_api import sync_playwright

    folder.mkdir(parents=True, exist_ok=True)
    command = [sys.executable, "-m", "substitute.cli", "app", "--no-browser", "--port"]
    with (
        tempfile.TemporaryDirectory() as elsewhere,
        serving(command, Path(elsewhere)) as app,
        sync_playwright() as driver,
    ):
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        for size, (wide, high) in SIZES.items():
            for scheme in ("light", "dark"):
                context = overheard(
                    browser.new_context(color_scheme=scheme, viewport={"width": wide, "height": high})
                )
                page = context.new_page()
                for name, link in LINKS.items():
                    if only and f"{name}-{size}-{scheme}" not in only and name not in only:
                        continue
                    visit(page, app, link)
                    print(f"{name}-{size}-{scheme}: the answer begins at {page.evaluate(TOP)} px", flush=True)
                    page.screenshot(path=str(folder / f"{name}-{size}-{scheme}.png"))
                    page.set_viewport_size({"width": wide, "height": min(tall(page), 7000)})
                    settled(page)
                    page.screenshot(path=str(folder / f"{name}-{size}-{scheme}-whole.png"))
                    page.set_viewport_size({"width": wide, "height": high})
                context.close()
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "screenshots", sys.argv[2:])
