"""What can be held of our own words: nothing shown to people recalls another work.

Strength, lasting and use level never stand side by side; lasting has no cap; money is in words or a person's
own currency; some wordings are gone for good.
"""

from __future__ import annotations

import ast
import csv
import json
import re
from collections import Counter
from pathlib import Path

import pytest
from sources import parsed

from substitute.answers import lay_out
from substitute.answers.page import answer_fragment
from substitute.answers.terminal import Terminal

ROOT = Path(__file__).parents[1]
STRENGTH = re.compile(
    r"\b(potency|potencies|strength per gram|odou?r strength|times coumarin|weak in odou?r)\b", re.I
)
LASTING = re.compile(r"\b\d[\d,.]*\s*(h|hours?)\b|\btenacity\b|\bnoticed for\b|\bleaves the strip\b", re.I)
USE = re.compile(r"\b(use level|usual use|usual dose|use_low|use_high|% of the compound)\b", re.I)
GONE = re.compile(
    r"\bunlocks?\b|hold them together|hold the strips together|extremely strong|dilute before smelling"
    r"|\b(capped|cap) at 400\b|[●○•$€]{6}",
    re.I,
)
SHOWN = (
    "substitute/answers",
    "substitute/commands",
    "substitute/screens",
    "substitute/standins",
    "substitute/accords",
)
SHOWN += ("substitute/shelf", "substitute/rules", "substitute/cli.py", "app.py")


def sources():
    for name in SHOWN:
        path = ROOT / name
        yield from sorted(path.rglob("*.py")) if path.is_dir() else [path]


def shown_texts(path: Path) -> list[str]:
    """String literals of a module that are no docstring."""
    tree = parsed(path)
    docs = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef))
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs
    ]


def test_words_that_went_stay_gone():
    found = [
        f"{path.relative_to(ROOT)}: {text[:60]}"
        for path in sources()
        for text in shown_texts(path)
        if GONE.search(text)
    ]
    assert not found


def test_strength_lasting_and_use_never_share_a_sentence_of_the_program():
    for path in sources():
        for text in shown_texts(path):
            met = [bool(kind.search(text)) for kind in (STRENGTH, LASTING, USE)]
            assert sum(met) < 2, f"{path.relative_to(ROOT)}: {text[:80]}"


CARDS = (
    "vanillin",
    "oakmoss-absolute",
    "geosmin",
    "linalool",
    "patchouli-oil",
    "ethyl-maltol",
    "coumarin",
    "indole",
)


@pytest.mark.parametrize("material", CARDS)
def test_no_card_pairs_strength_lasting_and_use(library, material):
    answer = library.show(material).to_dict()
    laid = lay_out("show", answer)
    for text in (Terminal(120, why=True).draw(laid), answer_fragment(laid)):
        shown = re.sub(r"<[^>]+>", " ", text)
        assert not re.search(r"\bpotency\b|\btenacity\b|\buse level\b|times coumarin", shown)
        assert not re.search(r"\b\d+ ?h\b|\b\d+ hours\b", shown)
    keys = {figure["property"] for figure in answer["figures"]}
    assert not keys & {"potency", "tenacity_h", "use_low_pct", "use_high_pct"}
    assert "strength" not in answer


def test_reasons_and_suggestions_never_pair_strength_and_lasting(library):
    for material in CARDS:
        for one in library.swap(material, top=8).to_dict()["stand_ins"]:
            for text in one["reasons"]:
                assert not (re.search(r"\bloud\b", text) and LASTING.search(text)), text
                assert not USE.search(text) or not (re.search(r"\bloud\b", text) or LASTING.search(text)), (
                    text
                )
    lifted = library.lift(library.demo / "accords" / "sealing-wax.csv").to_dict()
    for one in lifted["suggestions"]:
        assert not (STRENGTH.search(one["why"]) and LASTING.search(one["why"])), one["why"]


def test_lasting_has_no_cap():
    """No round figure is a ceiling: the longest are many different ones, and far above 400 hours."""
    with (ROOT / "data" / "properties.csv").open(encoding="utf-8", newline="") as file:
        hours = [float(row["value"]) for row in csv.DictReader(file) if row["property"] == "tenacity_h"]
    assert max(hours) > 1000
    assert Counter(hours)[400.0] < 0.02 * len(hours)
    assert Counter(hours)[max(hours)] < 0.02 * len(hours)
    assert sum(value > 400 for value in hours) > 20


def test_what_a_bottle_helps_is_called_so(library):
    some = [library.demo / "accords" / f"{name}.csv" for name in ("bedtime-story", "choir-book")]
    accords = [library.read_accord(path) for path in some]
    found = library.plan(accords, shelf=library.demo / "shelf-starter.csv", buy=1).to_dict()
    assert "helps" in found["buy"][0]
    assert not re.search(r"\bunlocks?\b", json.dumps(found))


def test_money_is_in_words():
    from substitute.records import PRICES

    assert all(re.fullmatch(r"[a-z ]+", word) for word in PRICES)
    assert len(PRICES) != 6


def test_no_family_recalls_a_published_wheel():
    with (ROOT / "data" / "descriptors.csv").open(encoding="utf-8", newline="") as file:
        families = {row["id"] for row in csv.DictReader(file) if not row["parent"]}
    assert "woods" not in families
    assert not families >= {"floral", "fresh", "woody", "amber"}
