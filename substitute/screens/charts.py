"""Charts: few, plain, told apart by shape as well as by colour (Okabe-Ito), each with a text that says the same.

The text colour is set here: Vega leaves text black on a dark page.
"""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

LEFT, MIDDLE, RIGHT = 0.37, 0.51, 0.65  # where the three columns stand, so that names fit on a phone
BLUE, ORANGE, VERMILION, GREEN, SKY = "#0072B2", "#E69F00", "#D55E00", "#009E73", "#56B4E9"


def is_dark() -> bool:
    """Whether this window shows the dark theme."""
    try:
        return st.context.theme.type == "dark"
    except Exception:  # no browser behind it
        return False


def ink() -> str:
    return "#EDE7DB" if is_dark() else "#26221C"


def paper() -> str:
    return "#191715" if is_dark() else "#FCFAF4"


def quiet() -> str:
    return "#BDB4A3" if is_dark() else "#5A5447"


def _axis(**more) -> dict:
    return {
        "labelColor": ink(),
        "titleColor": quiet(),
        "labelLimit": 190,
        "domain": False,
        "ticks": False,
        "gridColor": quiet(),
        "gridOpacity": 0.25,
        "labelFontSize": 13,
        "titleFontWeight": "normal",
        "titleFontSize": 12,
        **more,
    }


def _show(chart, alt: str, key: str | None = None) -> None:
    st.altair_chart(
        chart.configure(background="transparent").configure_view(stroke=None),
        width="stretch",
        theme=None,
        alt=alt,
        key=key,
    )


def before_after(
    rows: Sequence[tuple[str, float, float]], old: str, new: str, alt: str, key: str | None = None
) -> None:
    """Two bars a descriptor: hollow is before, filled is after."""
    import altair as alt_
    import pandas as pd

    data = pd.DataFrame(
        [
            {"descriptor": name, "which": which, "share": share}
            for name, before, after in rows
            for which, share in ((old, before), (new, after))
        ]
    )
    fill = SKY if is_dark() else BLUE
    y = alt_.Y("descriptor:N", sort=None, title=None, axis=alt_.Axis(**_axis()))
    bars = (
        alt_.Chart(data)
        .mark_bar(strokeWidth=1.4, stroke=ink())
        .encode(
            y=y,
            yOffset=alt_.YOffset("which:N", sort=[old, new]),
            x=alt_.X(
                "share:Q", title="share of the smell [%]", axis=alt_.Axis(format="%", tickCount=4, **_axis())
            ),
            fill=alt_.condition(alt_.datum.which == new, alt_.value(fill), alt_.value("transparent")),
            tooltip=[
                alt_.Tooltip("descriptor:N"),
                alt_.Tooltip("which:N", title="of"),
                alt_.Tooltip("share:Q", title="share", format=".1%"),
            ],
        )
    )
    _show(bars.properties(height=alt_.Step(13)), alt, key)


def headroom(rows: Sequence[dict], alt: str) -> None:
    """How much of each limit is used: bars against a line at 100 %; what is over is hatched by a cross, what is unknown by a ring."""
    import altair as alt_
    import pandas as pd

    data = pd.DataFrame(rows)
    over, fine = (ORANGE if is_dark() else VERMILION), (SKY if is_dark() else BLUE)
    base = alt_.Chart(data).transform_calculate(
        used="100 * datum.found / datum.limit", shown="min(100 * datum.found / datum.limit, 200)"
    )
    y = alt_.Y("what:N", sort=None, title=None, axis=alt_.Axis(**_axis(labelLimit=230)))
    colour = alt_.condition("datum.state == 'broken'", alt_.value(over), alt_.value(fine))
    tips = [
        alt_.Tooltip("what:N", title="limit"),
        alt_.Tooltip("found:Q", title="found [%]", format=".4g"),
        alt_.Tooltip("limit:Q", title="limit [%]", format=".4g"),
        alt_.Tooltip("state:N"),
    ]
    bars = base.mark_bar(height=11).encode(
        y=y,
        x=alt_.X(
            "shown:Q",
            title="used of the limit [%] (cut at 200)",
            scale=alt_.Scale(domain=[0, 206], nice=False),
            axis=alt_.Axis(values=[0, 50, 100, 150, 200], **_axis()),
        ),
        color=colour,
        tooltip=tips,
    )
    marks = base.mark_point(size=75, filled=False, strokeWidth=1.8).encode(
        y=y, x="shown:Q", color=alt_.value(ink()), tooltip=tips,
        shape=alt_.Shape("state:N", scale=alt_.Scale(domain=["within", "broken", "unknown"], range=["stroke", "cross", "circle"]), legend=None),
    )  # fmt: skip
    line = (
        alt_.Chart(pd.DataFrame({"x": [100]}))
        .mark_rule(color=ink(), strokeDash=[4, 3], strokeWidth=1.4)
        .encode(x="x:Q")
    )
    _show((bars + marks + line).properties(height=alt_.Step(24)), alt)


def three_columns(
    left: Sequence[tuple[str, str, float]],
    centre: str,
    right: Sequence[tuple[str, str, float]],
    heads: tuple[str, str, str],
    alt: str,
) -> None:
    """A fixed drawing: (name, kind, weight) on the left and right, the one asked about in the middle; thicker lines bind closer."""
    import altair as alt_
    import pandas as pd

    tall = max(len(left), len(right), 1)
    middle = (tall - 1) / 2
    nodes, lines = [{"x": MIDDLE, "y": middle, "name": centre, "kind": "asked", "align": "middle"}], []
    for side, x, found in (("left", LEFT, left), ("right", RIGHT, right)):
        shift = middle - (len(found) - 1) / 2
        for place, (name, kind, weight) in enumerate(found):
            y = place + shift
            nodes.append({"x": x, "y": y, "name": name, "kind": kind, "align": side})
            lines.append({"x": x, "y": y, "x2": MIDDLE, "y2": middle, "weight": weight})
    data, edges = (
        pd.DataFrame(nodes),
        pd.DataFrame(lines or [{"x": MIDDLE, "y": middle, "x2": MIDDLE, "y2": middle, "weight": 0.0}]),
    )
    xs, ys = alt_.Scale(domain=[0, 1]), alt_.Scale(domain=[tall - 0.4, -1.5])
    place = {"x": alt_.X("x:Q", scale=xs, axis=None), "y": alt_.Y("y:Q", scale=ys, axis=None)}
    strokes = (
        alt_.Chart(edges)
        .mark_rule(color=quiet(), opacity=0.7)
        .encode(
            **place,
            x2="x2:Q",
            y2="y2:Q",
            strokeWidth=alt_.StrokeWidth(
                "weight:Q", scale=alt_.Scale(domain=[0, 1], range=[0.5, 3]), legend=None
            ),
        )
    )
    shapes = alt_.Scale(
        domain=["asked", "material", "constituent", "descriptor"],
        range=["diamond", "square", "triangle-up", "circle"],
    )
    tints = alt_.Scale(
        domain=["asked", "material", "constituent", "descriptor"],
        range=[ink(), SKY if is_dark() else BLUE, ORANGE, GREEN],
    )
    points = (
        alt_.Chart(data)
        .mark_point(filled=True, size=110, opacity=1)
        .encode(
            **place,
            shape=alt_.Shape("kind:N", scale=shapes, legend=None),
            color=alt_.Color("kind:N", scale=tints, legend=None),
            tooltip=["name:N", "kind:N"],
        )
    )
    texts = []
    for side, align, dx, dy in (
        ("left", "right", -11, 0),
        ("right", "left", 11, 0),
        ("middle", "center", 0, -16),
    ):
        part = data[data["align"] == side]
        if len(part):
            if side == "middle":  # paper behind the name, so that no line runs through it
                texts.append(
                    alt_.Chart(part)
                    .mark_text(
                        align=align,
                        dy=dy,
                        color=paper(),
                        stroke=paper(),
                        strokeWidth=6,
                        fontSize=12,
                        limit=134,
                        fontWeight="bold",
                    )
                    .encode(**place, text="name:N")
                )
            texts.append(
                alt_.Chart(part)
                .mark_text(
                    align=align,
                    dx=dx,
                    dy=dy,
                    color=ink(),
                    fontSize=12,
                    limit=134,
                    fontWeight="bold" if side == "middle" else "normal",
                )
                .encode(**place, text="name:N")
            )
    titles = []
    for x, align, name in (
        (LEFT, "right", heads[0]),
        (MIDDLE, "center", heads[1]),
        (RIGHT, "left", heads[2]),
    ):
        where = pd.DataFrame([{"x": x, "y": -1.0, "name": name}])
        titles.append(
            alt_.Chart(where)
            .mark_text(align=align, color=quiet(), fontSize=12, fontStyle="italic", limit=132)
            .encode(**place, text="name:N")
        )
    _show(alt_.layer(strokes, points, *texts, *titles).properties(height=max(200, 27 * (tall + 2))), alt)


def chain(steps: Sequence[tuple[str, str, str]], alt: str) -> None:
    """The path between two: (name, kind, tie to the next), from top to bottom."""
    import altair as alt_
    import pandas as pd

    data = pd.DataFrame(
        [{"x": 0.08, "y": float(i), "name": name, "kind": kind} for i, (name, kind, _) in enumerate(steps)]
    )
    ties = pd.DataFrame(
        [
            {"x": 0.08, "y": float(i), "y2": i + 1.0, "mid": i + 0.5, "tie": tie}
            for i, (_, _, tie) in enumerate(steps[:-1])
        ]
    )
    place = {
        "x": alt_.X("x:Q", scale=alt_.Scale(domain=[0, 1]), axis=None),
        "y": alt_.Y("y:Q", scale=alt_.Scale(domain=[len(steps) - 0.5, -0.5]), axis=None),
    }
    shapes = alt_.Scale(
        domain=["material", "constituent", "descriptor"], range=["square", "triangle-up", "circle"]
    )
    tints = alt_.Scale(
        domain=["material", "constituent", "descriptor"], range=[SKY if is_dark() else BLUE, ORANGE, GREEN]
    )
    lines = alt_.Chart(ties).mark_rule(color=quiet()).encode(**place, y2="y2:Q")
    said = (
        alt_.Chart(ties)
        .mark_text(align="left", dx=16, color=quiet(), fontStyle="italic", fontSize=12)
        .encode(
            x=place["x"],
            y=alt_.Y("mid:Q", scale=alt_.Scale(domain=[len(steps) - 0.5, -0.5]), axis=None),
            text="tie:N",
        )
    )
    points = (
        alt_.Chart(data)
        .mark_point(filled=True, size=120, opacity=1)
        .encode(
            **place,
            shape=alt_.Shape("kind:N", scale=shapes, legend=None),
            color=alt_.Color("kind:N", scale=tints, legend=None),
            tooltip=["name:N", "kind:N"],
        )
    )
    text = (
        alt_.Chart(data)
        .mark_text(align="left", dx=16, color=ink(), fontSize=13.5)
        .encode(**place, text="name:N")
    )
    _show(alt_.layer(lines, said, points, text).properties(height=46 * len(steps)), alt)


def curve(rows: Sequence[dict], x: str, y: str, alt: str) -> None:
    """Steps of a count against a count: what each further bottle opens."""
    import altair as alt_
    import pandas as pd

    line = alt_.Chart(pd.DataFrame(rows)).mark_line(interpolate="step-after", color=SKY if is_dark() else BLUE, strokeWidth=2.2, point={"filled": True, "size": 60, "color": ink()}).encode(
        x=alt_.X("x:Q", title=x, axis=alt_.Axis(tickMinStep=1, **_axis())), y=alt_.Y("y:Q", title=y, axis=alt_.Axis(tickCount=5, **_axis())),
        tooltip=[alt_.Tooltip("x:Q", title=x), alt_.Tooltip("y:Q", title=y), alt_.Tooltip("what:N", title="bought")],
    )  # fmt: skip
    _show(line.properties(height=260), alt)
