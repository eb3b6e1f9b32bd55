"""Pictures made of the page itself: bars in tables, a route plan, small multiples; each figure stands
beside its bar.

No drawing library is loaded: they are there at once, follow the theme, print, and read as tables do. What
differs in colour differs in pattern or sign as well.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from .common import figure, safe

LINE_COLOURS = (
    "#0072B2",
    "#D55E00",
    "#009E73",
    "#CC79A7",
    "#8C6D1F",
)  # Okabe-Ito, the yellow darkened to ink
STEP, GAP = 38, 26  # pixels between stops and between lines of a route plan


def _show(body: str, label: str) -> None:
    st.html(
        f'<div role="region" tabindex="0" aria-label="{safe(label)}" style="overflow-x:auto">{body}</div>'
    )


def _bar(low: float, high: float, kind: str = "", more: str = "") -> str:
    """A bar from ``low`` to ``high``, both 0 to 1 of the track."""
    left, width = 100 * min(low, high), max(100 * abs(high - low), 0.6)
    return (
        f'<span class="track"><i class="{kind}" style="left:{left:.1f}%;width:{width:.1f}%"></i>{more}</span>'
    )


def _middle() -> str:
    return '<b style="left:50%"></b>'


def differences(rows: Sequence[tuple[str, Mapping[str, float]]], stages: Sequence[str], label: str) -> None:
    """Share of the smell after minus before, in points of a hundred, stage by stage on one scale; right
    is more, left is less."""
    most = max((abs(value) for _, found in rows for value in found.values()), default=0.0) or 1.0
    head = "".join(f'<th scope="col" colspan="2">{safe(stage)}</th>' for stage in stages)
    body = []
    for name, found in rows:
        cells = []
        for stage in stages:
            value = found.get(stage)
            if value is None:
                cells.append('<td class="num">–</td><td></td>')
                continue
            end = 0.5 + 0.5 * value / most
            sign = f"{100 * value:+.0f}".replace("-", "−") if abs(value) >= 0.005 else "0"
            cells.append(
                f'<td class="num">{sign}</td>'
                f"<td>{_bar(0.5, end, 'less' if value < 0 else '', _middle())}</td>"
            )
        body.append(f'<tr><th scope="row">{safe(name)}</th>{"".join(cells)}</tr>')
    _show(
        '<table class="bars"><thead><tr><th scope="col">of the smell [points of'
        f" 100]</th>{head}</tr></thead><tbody>{''.join(body)}</tbody></table>",
        label,
    )


def shares(rows: Sequence[tuple[str, float, float]], old: str, new: str, label: str) -> None:
    """Shares of the smell of two materials, a pair of bars a descriptor."""
    most = max((max(a, b) for _, a, b in rows), default=0.0) or 1.0
    body = "".join(
        f'<tr><th scope="row">{safe(name)}</th><td class="num">{100 * a:.0f}'
        f' %</td><td>{_bar(0, a / most, "haze")}</td><td class="num">{100 * b:.0f}'
        f" %</td><td>{_bar(0, b / most)}</td></tr>"
        for name, a, b in rows
    )
    _show(
        '<table class="bars"><thead><tr><th scope="col">smells of</th><th scope="col"'
        f' colspan="2">{safe(old)}</th><th scope="col"'
        f' colspan="2">{safe(new)}</th></tr></thead><tbody>{body}</tbody></table>',
        label,
    )


def limits(rows: Sequence[Mapping[str, Any]], label: str) -> None:
    """How much of each limit is used: a bar against the limit's stroke, the figures, and a mark for what
    is forbidden or unknown. What has no figure at all is named in a line below.

    A row: ``what``, ``set``, ``limit`` (None unknown, 0 forbidden), ``found``, ``ok`` and, where
    something changed, ``before``.
    """
    known = [row for row in rows if row["limit"] is not None or row["ok"] is False]
    if known:
        moved = any("before" in row for row in rows)
        first = '<th scope="col" class="num">before</th>' if moved else ""
        head = (
            f'<th scope="col">limit on</th>{first}<th scope="col" class="num">{"after" if moved else "found"}'
            '</th><th scope="col">of the limit</th><th scope="col" class="num">limit</th>'
            '<th scope="col">state</th><th scope="col" class="wide">set</th>'
        )
        body = "".join(_limit(row, moved) for row in known)
        _show(f'<table class="bars"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>', label)
    unknown = list(dict.fromkeys(row["what"] for row in rows if row not in known))
    if unknown:
        st.html(
            '<p class="next"><span class="mark unknown">? unknown</span> A rule, but no figure on file: '
            f"{safe(', '.join(unknown))}.</p>"
        )


def _limit(row: Mapping[str, Any], moved: bool) -> str:
    limit, found, ok = row["limit"], row["found"], row["ok"]
    said = {False: ("bad", "✕ broken"), None: ("unknown", "? unknown"), True: ("good", "✓ within")}[ok]
    if ok is False and not limit:
        said = ("bad", "✕ forbidden")
    if limit:
        kind = {False: "bad", None: "haze", True: ""}[ok]
        bar = _bar(0, min(found / limit, 2.0) / 2.0, kind, _middle())
        figures = f"{figure(limit)} %"
    else:
        bar = _bar(0, 1, "bad") if ok is False else ""
        figures = "none allowed" if limit == 0 else "no figure"
    before = f'<td class="num">{figure(row.get("before"))} %</td>' if moved else ""
    return (
        f'<tr><th scope="row">{safe(row["what"])}</th>{before}<td class="num">{figure(found)} %</td>'
        f'<td>{bar}</td><td class="num">{figures}</td><td><span class="mark {said[0]}">{said[1]}</span></td>'
        f'<td class="wide">{safe(row["set"])}</td></tr>'
    )


def growth(
    rows: Sequence[tuple[str, float, str]], heads: tuple[str, str, str], label: str, of: float = 1.0
) -> None:
    """One bar a row, from nothing: (name, value, words)."""
    body = "".join(
        f'<tr><th scope="row">{safe(name)}</th><td'
        f' class="num">{value:.2f}</td><td>{_bar(0, min(value / of, 1.0) if of else 0.0)}</td><td'
        f' class="wide">{safe(words)}</td></tr>'
        for name, value, words in rows
    )
    _show(
        f'<table class="bars"><thead><tr><th scope="col">{safe(heads[0])}</th><th scope="col" class="num"'
        f' colspan="2">{safe(heads[1])}</th><th scope="col"'
        f' class="wide">{safe(heads[2])}</th></tr></thead><tbody>{body}</tbody></table>',
        label,
    )


def nearer(rows: Sequence[tuple[str, float, float]], heads: tuple[str, str], label: str) -> None:
    """What was and what it becomes on one track: (name, before, after), 0 to 1; the stroke is before, the
    bar what is won."""

    def row(name: str, before: float, after: float) -> str:
        stroke = f'<b style="left:{100 * before:.1f}%"></b>'
        bar = _bar(before, after, "less" if after < before else "", stroke)
        cells = f'<td class="num">{before:.2f}</td><td>{bar}</td><td class="num">{after:.2f}</td>'
        return f'<tr><th scope="row">{safe(name)}</th>{cells}</tr>'

    body = "".join(row(*one) for one in rows)
    _show(
        '<table class="bars"><thead><tr><th scope="col">accord</th><th scope="col"'
        f' class="num">{safe(heads[0])}</th><th scope="col">match, 0 to 1</th><th scope="col"'
        f' class="num">{safe(heads[1])}</th></tr></thead><tbody>{body}</tbody></table>',
        label,
    )


def multiples(panels: Sequence[tuple[str, Sequence[tuple[str, float, str]]]], label: str) -> None:
    """Small multiples on one scale: a panel a trial, a bar a line with what was said of it."""
    most = max((value for _, rows in panels for _, value, _ in rows), default=0.0) or 1.0
    found = []
    for title, rows in panels:
        body = "".join(
            f'<tr><th scope="row">{safe(name)}</th><td'
            f' class="num">{figure(value, 3)}</td><td>{_bar(0, value / most)}</td><td>{safe(said)}</td></tr>'
            for name, value, said in rows
        )
        found.append(
            f'<div class="panel"><h3>{safe(title)}</h3><table'
            f' class="bars"><tbody>{body}</tbody></table></div>'
        )
    _show(f'<div class="panels">{"".join(found)}</div>', label)


def route(lines: Sequence[str], stops: Sequence[Sequence[int]]) -> tuple[str, int]:
    """The drawing of a route plan and its width in pixels: a line a word, a stop a material, from top to
    bottom.

    Names stand beside it. ``stops`` gives for each stop the numbers of the lines that call there; a bar
    joins the lines where they meet.
    """
    wide, tall = GAP * len(lines) + 12, STEP * (len(stops) + 1)
    out = [f'<div aria-hidden="true" style="position:relative;width:{wide}px;height:{tall}px">']

    def box(left: float, top: float, width: float, height: float, style: str, text: str = "") -> None:
        where = f"position:absolute;left:{left}px;top:{top}px;width:{width}px;height:{height}px"
        out.append(f'<span style="{where};{style}">{text}</span>')

    for number in range(len(lines)):
        x, colour = 14 + GAP * number, LINE_COLOURS[number % len(LINE_COLOURS)]
        last = max((place for place, on in enumerate(stops) if number in on), default=-1)
        if last >= 0:
            dashed = (
                f"repeating-linear-gradient({colour} 0 12px, transparent 12px 15px)" if number % 2 else colour
            )
            box(x - 3, STEP / 2, 6, STEP * (last + 1), f"background:{dashed}")
        head = f"background:{colour};color:#fff;text-align:center;font:600 13px/22px system-ui"
        box(x - 10, STEP / 2 - 11, 20, 22, head, str(number + 1))
    for place, on in enumerate(stops):
        y = STEP * (place + 1.5)
        if len(on) > 1:
            box(14 + GAP * min(on), y - 2, GAP * (max(on) - min(on)), 4, "background:var(--ink)")
        for number in on:
            ring = (
                "box-sizing:border-box;border-radius:50%;background:var(--paper);border:2.5px solid"
                " var(--ink)"
            )
            box(14 + GAP * number - 8, y - 8, 16, 16, ring)
    return "".join([*out, "</div>"]), wide


def way(steps: Sequence[tuple[str, str, str]], label: str) -> None:
    """The way between two, stop by stop: (name, kind, what ties it to the next)."""
    out = []
    for name, kind, tie in steps:
        out.append(
            f"<li><b>{safe(name)}</b>"
            f" <small>{safe(kind)}</small>{f'<br><em>{safe(tie)}</em>' if tie else ''}</li>"
        )
    _show(
        f'<ol style="list-style:none;border-left:6px solid {LINE_COLOURS[0]};padding-left:1rem;margin:.2rem 0'
        f' .6rem .6rem;line-height:1.6">{"".join(out)}</ol>',
        label,
    )
