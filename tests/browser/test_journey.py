"""The app in a real Chromium: the main journey, rubbish, both themes, a phone's width, links, two windows, axe, first paint."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from .conftest import READY, ROOT, serving, settled, shot, visit

pytestmark = pytest.mark.browser

SCREENS = {
    "swap": "swap?material=rosewood+oil&because=law", "neighbours": "neighbours?to=vanillin", "adjust": "adjust?product=fine-fragrance", "rules": "rules",
    "weigh": "weigh", "rebalance": "rebalance", "shelf": "shelf", "plan": "plan",
}  # fmt: skip
PAINTED_WITHIN = 1.5  # times an empty Streamlit page
AXE = "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa']})"
BROKEN = "Something went wrong"


def go(page, screen: str) -> None:
    if not page.locator("[data-testid=stSidebarNavLink]").first.is_visible():
        page.get_by_test_id("stExpandSidebarButton").click()
    page.locator("[data-testid=stSidebarNavLink]", has_text=screen.capitalize()).click()
    page.wait_for_function(
        "name => document.querySelector('h1')?.innerText === name", arg=screen.capitalize()
    )
    settled(page)


def said(page) -> str:
    return page.locator("[data-testid=stMain]").inner_text()


def pick(page, label: str, text: str) -> None:
    """Type into a list's field and take the first that fits."""
    field = page.get_by_role("combobox", name=label)
    field.click()
    field.fill(text)
    page.keyboard.press("Enter")
    settled(page)


def paste(page, rows: str) -> None:
    page.get_by_role("button", name="Paste rows").click()
    area = page.get_by_role("textbox", name="Rows from a spreadsheet")
    area.fill(rows)
    page.get_by_role("button", name="Put them into the table").click()
    settled(page)
    page.keyboard.press("Escape")
    settled(page)


def test_missing_material_to_a_weighing_sheet(app, window, tmp_path):
    """missing material -> swap -> adjust -> weigh -> download, as a new user would."""
    page = window()
    outside = []
    page.on(
        "request",
        lambda request: (
            outside.append(request.url) if not request.url.startswith((app, "data:", "blob:")) else None
        ),
    )
    visit(page, app)
    assert "what stands in for it" in said(page)
    pick(page, "Missing material", "hydroxycitronellal")
    assert "Stand-ins for hydroxycitronellal" in said(page)
    assert "g for 1 g" in said(page)
    shot(page, "journey-1-swap")
    page.get_by_text("→ Next: adjust an accord without it").click()
    page.wait_for_function("document.querySelector('h1')?.innerText === 'Adjust'")
    settled(page)
    assert "Match with the old accord" in said(page)
    assert "missing: taken out" in said(page)
    page.get_by_role("tab", name="Before and after").click()
    page.wait_for_timeout(600)
    shot(page, "journey-2-adjust-over-time")
    page.get_by_role("tab", name="Lines").click()
    page.get_by_role("button", name="Go on with the adjusted accord").click()
    settled(page)
    assert "may-day-loan-adjusted" in said(page)
    go(page, "weigh")
    assert "Total" in said(page)
    assert "may-day-loan-adjusted" in said(page)
    shot(page, "journey-3-weigh")
    for button, suffix in (("CSV", ".csv"), ("XLSX", ".xlsx"), ("Page to print", ".html")):
        with page.expect_download() as waiting:
            page.get_by_role("button", name=button, exact=True).click()
        path = tmp_path / waiting.value.suggested_filename
        waiting.value.save_as(path)
        assert path.suffix == suffix
        assert path.stat().st_size > 300
        if suffix == ".html":
            assert "hydroxycitronellal" not in path.read_text(encoding="utf-8")
            assert "<script" not in path.read_text(encoding="utf-8")
    assert not outside, outside
    assert BROKEN not in said(page)


def test_a_bad_upload_and_pasted_rubbish_are_named(app, window, tmp_path):
    page = window()
    visit(page, app, "adjust")
    bad = tmp_path / "bad.csv"
    bad.write_text("material,parts\nvanillin,1\nunobtainium,2\n", encoding="utf-8")
    page.get_by_role("button", name="Open a file").click()
    page.locator("input[type=file]").first.set_input_files(str(bad))
    page.wait_for_selector("[data-testid=stAlert]")
    settled(page)
    assert "row 3, column material" in said(page)
    assert "unobtainium" in said(page)
    page.keyboard.press("Escape")
    shot(page, "bad-upload")
    paste(page, "<script>alert(1)</script>\t$x$\n**bold**\t7")
    assert "pasted rows" in said(page)
    assert "may-day-loan" in said(page)
    assert BROKEN not in said(page)
    assert "Traceback" not in said(page)


def test_work_survives_screens_and_a_reload_by_its_file(app, window, tmp_path):
    page = window()
    visit(page, app, "adjust")
    paste(page, "vetiver oil\t61\t100\ncoumarin\t17\t100\nvanillin\t22\t10")
    go(page, "shelf")
    go(page, "adjust")
    assert "vetiver oil" in page.locator(
        "[data-testid=stDataFrame] table"
    ).first.inner_text() or "pasted rows" in said(page)
    assert not any(word in page.url for word in ("vetiver", "coumarin", "61"))
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save work").click()
    path = tmp_path / "work.json"
    waiting.value.save_as(path)
    assert "vetiver oil" in path.read_text(encoding="utf-8")
    page.reload()
    page.wait_for_selector("h1")
    settled(page)
    assert "may-day-loan" in said(page)
    page.get_by_role("button", name="Open work").click()
    page.locator(
        "[data-testid=stPopoverBody] input[type=file], [data-testid=stSidebar] input[type=file]"
    ).last.set_input_files(str(path))
    page.wait_for_function("document.querySelector('[data-testid=stMain]').innerText.includes('pasted rows')")
    assert BROKEN not in said(page)


def test_an_edit_in_the_table_survives_screens_and_is_undone(app, window):
    page = window("light", 1200, 1400)
    visit(page, app, "adjust")
    grid = page.locator("[data-testid=stDataFrame] canvas").first.bounding_box()
    page.mouse.click(grid["x"] + grid["width"] * 0.5, grid["y"] + 52)
    page.keyboard.press("Enter")  # opens the cell
    page.wait_for_timeout(400)
    page.keyboard.press("Control+A")
    page.keyboard.type("287", delay=60)
    page.keyboard.press("Enter")
    settled(page)
    page.wait_for_function("document.querySelector('[data-testid=stMain]').innerText.includes('287')")
    go(page, "weigh")
    go(page, "adjust")
    assert "287" in said(page)
    page.get_by_role("button", name="Undo").click()
    settled(page)
    page.wait_for_function("!document.querySelector('[data-testid=stMain]').innerText.includes('287')")
    assert "290" in said(page)


def test_a_link_brings_the_view_back(app, window):
    page = window()
    visit(page, app, "swap?material=linalool&because=price&top=3")
    assert "Stand-ins for linalool" in said(page)
    assert "too dear" in said(page)
    assert "3 answers" in said(page)
    assert "material=linalool" in page.url
    page.reload()
    page.wait_for_selector("h1")
    settled(page)
    assert "Stand-ins for linalool" in said(page)
    visit(page, app, "?material=vanillin")
    assert "Stand-ins for vanillin" in said(page)


def test_two_windows_do_not_mix(app, window):
    one, other = window(), window()
    visit(one, app, "adjust")
    visit(other, app, "adjust")
    paste(one, "vetiver oil\t61\ncoumarin\t17")
    other.get_by_role("button", name="Undo").is_disabled()
    go(other, "weigh")
    assert "may-day-loan" in said(other)
    assert "vetiver" not in said(other)
    go(one, "weigh")
    assert "vetiver" in said(one)


def test_by_keyboard(app, window):
    """The example is reached and opened without a mouse, and focus can be seen."""
    page = window()
    visit(page, app)
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText || ''").startswith("Example"):
            break
    else:
        pytest.fail("the example is not reached by Tab")
    assert page.evaluate(
        "(s => s.outlineStyle !== 'none' || s.boxShadow !== 'none')(getComputedStyle(document.activeElement))"
    )
    page.keyboard.press("Enter")
    settled(page)
    assert "Stand-ins for rosewood oil" in said(page)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("screen", SCREENS)
def test_axe_finds_nothing(app, window, axe, screen, scheme):
    for width in (1200, 390):
        page = window(scheme, width)
        visit(page, app, SCREENS[screen])
        assert BROKEN not in said(page)
        shot(page, f"{screen}-{scheme}-{width}")
        page.evaluate(axe)
        found = [(v["id"], v["nodes"][0]["html"][:200]) for v in page.evaluate(AXE)["violations"]]
        assert not found
        wide = page.evaluate(
            "Math.max(document.documentElement.scrollWidth, document.querySelector('[data-testid=stMain]').scrollWidth) - innerWidth"
        )
        assert wide <= 0, f"{screen} is {wide} px too wide at {width} px"


def test_first_paint_is_near_that_of_an_empty_page(app, window, tmp_path):
    """The title stands within 1.5 times what an empty page takes, the best of eight each, in one run."""
    (tmp_path / "empty.py").write_text("import streamlit as st\nst.title('empty')\n", encoding="utf-8")

    def painted(address: str) -> float:
        page = window()
        page.goto(address, wait_until="commit")
        page.wait_for_selector("h1")
        taken = page.evaluate("performance.now()")
        page.context.close()
        return taken

    options = [
        "--server.headless=true",
        "--browser.gatherUsageStats=false",
        "--server.fileWatcherType=none",
        "--server.address=127.0.0.1",
        "--server.port",
    ]
    with serving([sys.executable, "-m", "streamlit", "run", "empty.py", *options], tmp_path) as empty:
        pairs = [(painted(app), painted(empty)) for _ in range(9)][
            1:
        ]  # in turn, so that a busy machine slows both
    ratio = min(ours for ours, _ in pairs) / min(theirs for _, theirs in pairs)
    assert ratio <= PAINTED_WITHIN, f"{ratio:.2f} times an empty page"


def test_pictures_for_the_readme(app, window):
    """Two current pictures; written to ``data/demo/pictures`` only with PICTURES=1 in the surrounding, else beside the others."""
    import os

    folder = (
        ROOT / "data" / "demo" / "pictures"
        if os.environ.get("PICTURES")
        else Path(__file__).parent / "screenshots"
    )
    folder.mkdir(exist_ok=True)
    for name, link in (("swap", SCREENS["swap"]), ("adjust", SCREENS["adjust"])):
        page = window("light", 1200, 1150 if name == "swap" else 1390)
        visit(page, app, link)
        page.wait_for_selector(READY)
        if name == "adjust":
            page.get_by_role("tab", name="Before and after").click()
            page.wait_for_timeout(700)
        page.wait_for_timeout(300)
        path = folder / f"{name}.png"
        page.screenshot(path=str(path))
        assert path.stat().st_size < 300_000
