"""Sheets to print of a shelf (what stands there, dilutions to prepare, cautions) and of a plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..accords.sheets import Sheet
from ..accords.solutions import TENFOLD, VERY_STRONG
from ..odour.staging import tenacity
from ..records import Shelf, Tables
from ..rules.cautions import hazard_lines
from ..standins.words import hours, listed
from .lesson import main_words
from .planned import Plan

SOLUTION_GRAMS = 10.0  # of each solution to prepare
SHELF_CAUTIONS = (
    "Ethanol burns and so does its vapour: no flame, spark or hot plate near it.",
    "Wear gloves and eye protection with neat materials; smell from strips, never from the bottle or from skin.",
    "Label each bottle with name, strength, carrier and date.",
    "This sheet is arithmetic. The supplier's documents, the law where you are and a qualified assessor decide what is safe.",
)


def shelf_sheet(
    tables: Tables, shelf: Shelf, status: Callable[[str], tuple[str, ...]] = lambda _: ()
) -> list[Sheet]:
    """A list of the shelf to print, and the solutions to prepare: 10 % of everything for strips, 1 % of what is very strong."""
    rows, make = [], []
    for name in shelf.materials():
        material = tables.materials[name]
        strengths = shelf.strengths(name)
        grams = [item.grams for item in shelf.stock if item.material == name]
        kept = ", ".join(f"{strength:g}" for strength in strengths)
        if material.kind == "solvent":
            rows.append(
                (
                    material.name,
                    material.main_cas,
                    kept,
                    sum(grams) if None not in grams else None,
                    "",
                    "carrier",
                    "",
                )
            )
            continue
        rows.append(
            (
                material.name,
                material.main_cas,
                kept,
                sum(grams) if None not in grams else None,
                main_words(tables, name),
                hours(tenacity(tables, name)),
                _caution(tables, name, status(name)),
            )
        )
        make += _solutions(tables, name, strengths)
    columns = ("material", "CAS", "strengths [%]", "left [g]", "smells of", "lasts", "caution")
    sheets = [Sheet(f"Shelf: {shelf.name}", columns, tuple(rows), SHELF_CAUTIONS, tick=True)]
    if make:
        columns = (
            "solution of",
            "strength [%]",
            "makes [g]",
            "from strength [%]",
            "of that [g]",
            "carrier [g]",
        )
        note = "By mass, in ethanol or another carrier that dissolves it; from top to bottom: 1 % is made from the 10 % above it."
        sheets.append(
            Sheet(
                "Dilutions to prepare",
                columns,
                tuple(make),
                (note,),
                {"of that [g]": 2, "carrier [g]": 2},
                tick=True,
            )
        )
    return sheets


def _solutions(tables: Tables, name: str, strengths: Sequence[float]) -> list[tuple]:
    """Rows of the solutions that are not there yet; each at most tenfold thinner than its source."""
    wanted = [10.0, 1.0] if (tables.value(name, "potency") or 0.0) > VERY_STRONG else [10.0]
    have, rows = set(strengths), []
    for strength in wanted:
        source = min((s for s in have if s > strength), default=None)
        if strength in have or source is None or source / strength > TENFOLD:
            continue
        grams = SOLUTION_GRAMS * strength / source
        rows.append(
            (tables.materials[name].name, strength, SOLUTION_GRAMS, source, grams, SOLUTION_GRAMS - grams)
        )
        have.add(strength)
    return rows


def _caution(tables: Tables, name: str, law: Sequence[str]) -> str:
    said = [*law]
    if (tables.value(name, "potency") or 0.0) > VERY_STRONG:
        said.append("very strong: keep neat apart, dip at 1 %")
    if name not in tables.profiles:
        said.append("no odour profile on file")
    if name in tables.releases:
        said.append(f"gives back {listed([tables.materials[row.id].name for row in tables.releases[name]])}")
    said += hazard_lines(tables, name)
    return "; ".join(said)


def plan_sheets(found: Plan) -> list[Sheet]:
    """A :class:`~substitute.shelf.plan.Plan` as sheets: what the shelf makes, what to buy, the curve, the swaps leaned on."""
    tables = found.tables
    name = lambda one: tables.materials[one].name  # noqa: E731
    after = any(made.match_after is not None for made in found.makes)
    columns = (
        "accord",
        "match",
        *(["match after buying"] if after else []),
        "lacks",
        "stand-ins",
        "left out",
    )
    rows = [
        (
            made.accord,
            made.match,
            *([made.match_after] if after else []),
            listed([name(one) for one in made.lacks]),
            listed([name(one) for one in made.stand_ins]),
            listed([name(one) for one in made.left_out]),
        )
        for made in sorted(found.makes, key=lambda made: (-made.match, made.accord))
    ]
    sheets = [
        Sheet(
            "What the shelf makes",
            columns,
            tuple(rows),
            tuple(found.notes),
            {"match": 2, "match after buying": 2},
        )
    ]
    if found.buy:
        rows = [
            (
                place,
                name(p.id),
                tables.materials[p.id].main_cas,
                p.gain * 100.0,
                p.price,
                ", ".join(p.helps),
                "; ".join([p.why, *p.law]),
            )
            for place, p in enumerate(found.buy, 1)
        ]
        sheets.append(
            Sheet(
                "What to buy",
                ("no.", "material", "CAS", "coverage gained [%]", "price", "helps", "why"),
                tuple(rows),
                (),
                {"coverage gained [%]": 1},
                tick=True,
            )
        )
    if found.curve:
        sheets.append(
            Sheet(
                "Coverage by number of materials",
                ("materials", "coverage [%]", "added"),
                tuple((n, 100.0 * value, name(one)) for n, value, one in found.curve),
                (),
                {"coverage [%]": 1},
            )
        )
    if found.leans_on:
        rows = [
            (name(lean.missing), name(lean.stand_in), lean.accord, 100.0 * lean.value)
            for lean in found.leans_on
        ]
        sheets.append(
            Sheet(
                "Swaps it leans on",
                ("instead of", "take", "in", "made good [%]"),
                tuple(rows),
                (),
                {"made good [%]": 0},
            )
        )
    return sheets
