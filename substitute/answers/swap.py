"""What stands in for a material, as sections: one table of names and amounts, then each stand-in's
reasons."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from ..figures import in_grams, part, ratio
from . import words
from .sections import Answer, Cell, Column, Said, Section, listing, table

COLUMNS = (
    Column("rank", "no.", form="count"),
    Column("materials", "stand-in"),
    Column("cas", "CAS", form="word", drop=3),
    Column("grams_per_gram", "take", "g", form="figure"),
    Column("low", "from", "g", form="figure", digits=2, drop=1),
    Column("high", "to", "g", form="figure", digits=2, drop=1),
    Column("score", form="ratio", where="wide"),
    Column("in_words", "chance", form="word", where="people"),
    Column("similarity", form="ratio", drop=2),
    Column("evidence", form="word"),
    Column("reasons", form="text", where="data"),
)
SHOWN = 3  # reasons told where the rest is asked for


def lay_out(answer: Mapping[str, Any]) -> Answer:
    """The JSON of ``swap`` as an answer."""
    missing, found = answer["missing"], answer["stand_ins"]
    sections = [table("", COLUMNS, map(_row, found)), *map(_reasons, found)]
    return Answer(
        "swap",
        f"In place of {missing['name']}",
        _headline(answer),
        tuple(sections),
        tuple(answer.get("notes", ())),
        tuple(answer.get("cautions", ())),
    )


def _headline(answer: Mapping[str, Any]) -> str:
    missing, found = answer["missing"], answer["stand_ins"]
    name = f"{missing['name']}{words.cas(missing)}"
    if not found:
        near = answer.get("nearest")
        told = f"; nearest is {near['name']}, similarity {ratio(near['similarity'])}" if near else ""
        return f"Nothing on offer stands in for {name}{told}."
    parts = " with ".join(f"{_amount(m)} {m['name']}" for m in found[0]["materials"])
    return f"In place of 1 g of {name}: {parts}. {_because(answer['because'])}".rstrip()


def _because(reason: str) -> str:
    told = {
        "limit": "It is limited: what presses the same limits is left out.",
        "law": "It is forbidden or protected: what the law names too is left out.",
        "price": "It is dear: what is dearer is left out.",
    }
    return told.get(reason, "")


def _amount(member: Mapping[str, Any]) -> str:
    grams = member["grams_per_gram"]
    return "a trace, amount unknown, of" if grams is None else f"{in_grams(grams)} g of"


def _joined(stand_in: Mapping[str, Any], key: str, shown: Callable[[Any], str] = in_grams) -> Cell:
    """A figure of one material, or those of a blend with plus signs between."""
    values = [member.get(key) for member in stand_in["materials"]]
    if len(values) == 1:
        return Said(values[0], shown(values[0]) if values[0] is not None else "unknown")
    told = " + ".join("unknown" if value is None else shown(value) for value in values)
    return Said(told, told)


def _row(stand_in: Mapping[str, Any]) -> tuple[Cell, ...]:
    members = stand_in["materials"]
    names = " + ".join(member["name"] for member in members)
    return (
        stand_in["rank"],
        Said(" + ".join(member["id"] for member in members), names),
        _joined(stand_in, "cas", str),
        *(_joined(stand_in, key) for key in ("grams_per_gram", "low", "high")),
        stand_in["score"],
        stand_in.get("in_words", ""),
        stand_in["similarity"],
        stand_in["evidence"],
        "; ".join(stand_in["reasons"]),
    )


def _reasons(stand_in: Mapping[str, Any]) -> Section:
    """Cautions first, then what it brings and loses, then why."""
    names = " + ".join(member["name"] for member in stand_in["materials"])
    cautions = [f"! {text}" for text in stand_in["cautions"]]
    items = [*cautions, *stand_in["reasons"], *_differences(stand_in), *_trials(stand_in)]
    return listing(f"{stand_in['rank']}. {names}", items, brief=len(cautions) + SHOWN)


def _differences(stand_in: Mapping[str, Any]) -> Iterable[str]:
    for key, verb in (("gains", "brings"), ("losses", "loses")):
        if stand_in[key]:
            told = ", ".join(f"{one['descriptor']} {part(one['by'])}" for one in stand_in[key])
            yield f"{verb} (of the smell): {told}"
    if stand_in.get("listen"):
        yield stand_in["listen"]


def _trials(stand_in: Mapping[str, Any]) -> Iterable[str]:
    if stand_in.get("trial_series"):
        series = ", ".join(in_grams(value) for value in stand_in["trial_series"])
        yield f"smell a series before choosing: {series} g for 1 g"
    supply = stand_in.get("supply")
    if supply:
        along = ", ".join(f"{in_grams(part['grams'])} g of {part['name']}" for part in supply["along"][:4])
        bring = f"{in_grams(supply['grams_for_one_gram_of'])} g of it bring 1 g of the missing molecule"
        yield bring + (f", and with it {along}" if along else "")
