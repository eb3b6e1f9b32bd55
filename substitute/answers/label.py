"""The text for a bottle, and how far an accord reaches in each product, as sections. Drafts and working
pages, drawn as such."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..figures import cut, figure, percent
from . import words
from .sections import Answer, Cell, Column, Said, listing, table, text

NAMES = (
    Column("name", "on the label"),
    Column("pct", "in the product", "%", form="percent"),
    Column("role", form="word"),
    Column("threshold_pct", "named from", "%", form="figure"),
    Column("place", "its place"),
    Column("from", "from", drop=2),
    Column("state", "how sure", drop=1),
    Column("basis", form="word", drop=3),
)
WORDS = (Column("words", "what"), Column("law", "taken from"), Column("basis", form="word", drop=1))
CONTAINED = (
    Column("id", form="word", where="data"),
    Column("name", "material"),
    Column("cas", "CAS", form="word"),
    Column("botanical", drop=1),
    Column("pct", "in the product", "%", form="percent"),
)
REACHED = (
    Column("products"),
    Column("category", form="word", drop=1),
    Column("state", form="word"),
    Column("most", "at most", "%", form="percent"),
    Column("wall", "in the way first", drop=1),
    Column("unknown", form="note"),
)
STATES = {
    "declare": "to be named",
    "between": "only by high constituents; named to be careful",
}
DRAFT = "Draft, not to be printed"
CONTAINED_NOTE = (
    "For the assessor, never for the label: the composition stands there as one word. "
    "No label name of these materials is on file; "
    "botanical names are the plants', not the ingredient's."
)
FEW_UNKNOWN = 3


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``label`` as an answer."""
    count = sum(one["role"] == "allergen" for one in answer["names"])
    product = answer["product"].replace("-", " ")
    where = f"{figure(answer['dose_pct'])} % in {product}, {answer['market']}, {answer['on']}"
    headline = f"{DRAFT}: {answer['accord']} at {where}; {words.count(count, 'allergen')} to name."
    rows: list[tuple[Cell, ...]] = [
        (
            one["name"],
            one["pct"],
            one["role"],
            one["threshold_pct"],
            "any, after what is over 1 %" if one["any_order"] else "by amount",
            words.few(one["from"]),
            STATES[one["state"]]
            if one["role"] == "allergen"
            else "as given"
            if one["role"] == "base"
            else "the dose",
            words.basis(one["basis"]) if one["basis"] else "",
        )
        for one in answer["names"]
    ]
    order = (
        [answer["text"]] if answer["text"] else ["No list of ingredients by cosmetics law for this product."]
    )
    was = [
        "Stock sold before 31 July 2026, until 31 July 2028, by the list of 26: "
        f"{', '.join(answer['names_before'])}."
    ]
    sections = (
        text(*order, *(was if answer["names_before"] else []), title="List of ingredients"),
        table("Why each name, and where it stands", NAMES, rows, words.recalled(answer["names"]), main=True),
        listing("May have to be named: nobody on file looked", answer["maybe"]),
        listing("May have to be named as a sensitiser of the mixture", answer["sensitisers"]),
        table(
            "Beside the list", WORDS, [_word(one) for one in answer["words"]], words.recalled(answer["words"])
        ),
        listing("What this cannot decide", answer["undecided"]),
        table(
            "What the composition holds", CONTAINED, map(_contained, answer["contained"]), [CONTAINED_NOTE]
        ),
        listing("Taken from", answer["laws"]),
    )
    return Answer(
        "label", f"Label draft: {answer['accord']}", headline, sections, (), tuple(answer["cautions"])
    )


def _word(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    return one["words"], one["law"], words.basis(one["basis"])


def _contained(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    return one["id"], one["name"], one["cas"], one["botanical"], one["pct"]


def lay_out_reach(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``reach`` as an answer: worst first, then what is not known."""
    rows = answer["products"]
    none = sum(len(one["products"]) for one in rows if one["state"] == "none")
    unknown = sum(len(one["products"]) for one in rows if one["state"] in ("unknown", "nothing on file"))
    whole = sum(len(one["products"]) for one in rows)
    told = [words.count(whole, "product")]
    if none:
        told.append(f"no dose is let through in {none}")
    if unknown:
        told.append(f"{unknown} {'is' if unknown == 1 else 'are'} not known to the end")
    headline = f"{answer['accord']}, {answer['market']}, {answer['on']}: {'; '.join(told)}."
    note = (
        "The amount is what the figures on file let through, cut, not rounded; what is not known may ask for "
        "less."
    )
    section = table("", REACHED, map(_reached, rows), [note])
    return Answer(
        "reach",
        f"How far it reaches: {answer['accord']}",
        headline,
        (section,),
        (),
        tuple(answer["cautions"]),
    )


def _reached(one: Mapping[str, Any]) -> tuple[Cell, ...]:
    most, state = one["most_known_pct"], one["state"]
    mood: Any = {"none": "bad", "limited": ""}.get(state, "doubt")
    figured = (
        "no figure" if most is None else "none" if most == 0 else percent(cut(most, 3)).removesuffix(" %")
    )
    told = Said(most, f"not known; the rest: {figured}" if state == "unknown" else figured, mood=mood)
    more = len(one["unknown"]) - FEW_UNKNOWN
    unknown = "; ".join(one["unknown"][:FEW_UNKNOWN]) + (f"; and {more} more" if more > 0 else "")
    names = ", ".join(name.replace("-", " ") for name in one["products"])
    return names, one["category"], Said(state, state, mood=mood), told, one["wall"], words.reason(unknown)
