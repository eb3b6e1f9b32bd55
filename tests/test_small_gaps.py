"""Which lines are in question, in the small: a situation of our own, no tables read."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from substitute.accords.gaps import OWN_SOURCE, Wanted, check_wanted, find_gaps, is_mute, is_unheard
from substitute.errors import InputError
from substitute.records import Accord, Line, Shelf, Stock

ACCORD = Accord("s", (Line("a", 5.0), Line("b", 3.0), Line("c", 2.0), Line("carrier", 4.0)))
NOTHING = Wanted()
POTENCY = {"a": 1.0, "b": 2.0, "c": 3.0, "x": 4.0}
WORDS = ("a", "b", "c", "x", "unheard")


def situation(shelf=None, banned=(), named=False, because="unavailable"):
    """As much of a situation as gaps ask of it: ``quiet`` smells of nothing, ``unheard`` has no potency."""
    kinds = {
        name: SimpleNamespace(kind="solvent" if name == "carrier" else "molecule", source="memory")
        for name in ("a", "b", "c", "x", "quiet", "unheard", "carrier")
    }
    kinds["own"] = SimpleNamespace(kind="molecule", source=OWN_SOURCE["id"])
    tables = SimpleNamespace(
        materials=kinds,
        profiles={name: {"green": 1.0} for name in WORDS},
        value=lambda name, key: POTENCY.get(name) if key == "potency" else None,
    )
    ban = tuple(SimpleNamespace(words=words) for words in ("banned here", "and there", "and a third time"))
    return SimpleNamespace(
        tables=tables,
        shelf=None if shelf is None else Shelf(tuple(Stock(name) for name in shelf)),
        named=named,
        because=because,
        forbidden=lambda name: ban if name in banned else (),
    )


def found(where, wanted=NOTHING, accord=ACCORD) -> list[tuple[str, str, str]]:
    return [(gap.material, gap.cause, gap.because) for gap in find_gaps(accord, where, wanted)]


def test_without_a_shelf_only_what_is_asked_for_goes():
    assert found(situation()) == []
    assert found(situation(because="price"), Wanted(without=("b",))) == [("b", "asked", "price")]


def test_what_does_not_stand_on_the_shelf_goes_unless_kept_or_mute():
    assert found(situation(shelf=["a"])) == [("b", "shelf", "unavailable"), ("c", "shelf", "unavailable")]
    assert found(situation(shelf=["a"]), Wanted(keep=("c",))) == [("b", "shelf", "unavailable")]
    assert found(situation(shelf=["a", "b", "c"])) == [], "a carrier is no gap"
    asked = Wanted(without=("a",))
    assert found(situation(shelf=["a", "b", "c"]), asked) == [("a", "asked", "unavailable")]


def test_a_ban_counts_where_a_product_is_named():
    assert found(situation(banned=["b"])) == []
    assert found(situation(banned=["b"], named=True)) == [("b", "prohibited", "law")]
    both = found(situation(banned=["b"], named=True, because="price"), Wanted(without=("b",)))
    assert both == [("b", "asked", "price")], "asked for comes first"
    (gap,) = find_gaps(ACCORD, situation(banned=["b"], named=True), Wanted())
    assert gap.why == "banned here; and there: taken out"


@pytest.mark.parametrize(
    ("name", "mute", "unheard"),
    [
        ("a", False, False),
        ("carrier", True, False),
        ("quiet", True, False),
        ("unheard", True, True),
        ("own", True, True),
    ],
)
def test_mute_and_unheard(name, mute, unheard):
    tables = situation().tables
    assert is_mute(tables, name) is mute
    assert is_unheard(tables, name) is unheard


@pytest.mark.parametrize(
    ("wanted", "where", "said"),
    [
        (Wanted(without=("x",)), {}, "does not hold x; its lines are a, b, c, carrier"),
        (Wanted(keep=("x",)), {}, "does not hold x, so it cannot be kept"),
        (Wanted(keep=("a",), without=("a",)), {}, "a: asked for both ways, keep and without"),
        (Wanted(use=("a",), without=("a",)), {}, "a: asked for both ways, use and without"),
        (Wanted(use=("x",)), {"shelf": ["a"]}, "use x: it does not stand on the shelf"),
        (Wanted(use=("carrier",)), {}, "use carrier: no odour profile"),
        (Wanted(use=("x",)), {"banned": ["x"]}, "use x: banned here; and there; no amount"),
        (Wanted(keep=("a",)), {"banned": ["a"], "named": True}, "keep a: banned here"),
        (Wanted(max_new=7), {}, "max_new 7 is out of range"),
        (Wanted(max_new=-1), {}, "max_new -1 is out of range"),
        (Wanted(use=("x", "a"), max_new=1), {}, "use names 2 materials, max_new allows 1"),
        (Wanted(move=1000.1), {}, "move 1000.1 is out of range"),
        (Wanted(move=-0.1), {}, "move -0.1 is out of range"),
        (Wanted(rivals=11), {}, "rivals 11 is out of range"),
        (Wanted(rivals=-1), {}, "rivals -1 is out of range"),
    ],
)
def test_wishes_that_cannot_be(wanted, where, said):
    with pytest.raises(InputError) as error:
        check_wanted(ACCORD, situation(**where), wanted)
    assert said in str(error.value)


@pytest.mark.parametrize(
    ("wanted", "where"),
    [
        (Wanted(max_new=0, move=0.0, rivals=0), {}),
        (Wanted(max_new=6, move=1000.0, rivals=10), {}),
        (Wanted(use=("x",), max_new=1), {"shelf": ["x"]}),
        (Wanted(keep=("a",), without=("b",), use=("x",)), {}),
        (Wanted(keep=("a",)), {"banned": ["a"]}),  # no product is named
    ],
)
def test_wishes_at_the_edge_that_can_be(wanted, where):
    check_wanted(ACCORD, situation(**where), wanted)


def test_what_nobody_says_how_strong_cannot_be_let_go():
    accord = Accord("s", (Line("a", 5.0), Line("unheard", 3.0)))
    with pytest.raises(InputError, match="without unheard: no potency is on file"):
        check_wanted(accord, situation(), Wanted(without=("unheard",)))
    check_wanted(accord, situation(), Wanted(keep=("unheard",)))
