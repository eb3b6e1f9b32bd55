"""What is told of stand-ins, and which of them are told, in the small: toy tables of our own, invented figures."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from substitute.errors import InputError
from substitute.odour.space import Space
from substitute.odour.staging import Staged
from substitute.records import (
    Accord,
    Constituent,
    Control,
    Descriptor,
    Figure,
    Limit,
    LimitSet,
    Line,
    Material,
    Price,
    Shelf,
    Stock,
    Swap,
    Tables,
    Tried,
    TriedBlend,
)
from substitute.standins.amounts import Amount
from substitute.standins.answer import Member, StandIn, SwapAnswer
from substitute.standins.ask import Ask
from substitute.standins.bases import base_cautions, profile_cautions
from substitute.standins.bench import Bench
from substitute.standins.blends import greedy
from substitute.standins.candidates import Pool
from substitute.standins.card import card, loud_beside, smell_first
from substitute.standins.evidence import Evidence, Ground
from substitute.standins.features import Features
from substitute.standins.neighbours import neighbours, shared_words
from substitute.standins.own_blends import found_far, own_blends, with_own
from substitute.standins.pair import Pair, make_pair
from substitute.standins.singles import (
    Ranked,
    cautions,
    new_facets,
    raise_it,
    relief_unknown,
    rule_cautions,
    single,
    sources,
)
from substitute.standins.swap import _documented_only, _left_out, _on_the_shelf, _stay, _with_blend
from substitute.standins.swap import swap as swap_of
from substitute.standins.words import (
    Difference,
    constituent_reasons,
    differences,
    evidence_reason,
    found_reason,
    hours,
    listening,
    odour_reason,
    profile_shares,
    source_of,
    strength_reason,
    tenacity_reason,
    tie,
)

WORDS = ("wood", "moss", "rose", "plum", "leaf", "salt")


def tables(kinds=(), potency=(), tenacity=(), profiles=None, constituents=None, basis="published", **more):
    """Tables of materials called by their ids; ``kinds`` has what their rows say of each."""
    kinds = dict(kinds)
    properties: dict[str, dict[str, Figure]] = {}
    for key, figures in (("potency", potency), ("tenacity_h", tenacity)):
        for name, value in dict(figures).items():
            properties.setdefault(name, {})[key] = Figure(value, "", basis, f"of-{name}")
    names = {*kinds, *properties, *(profiles or {}), *(constituents or {})}
    names |= {row.id for rows in (constituents or {}).values() for row in rows}
    empty = {
        "releases": {},
        "limit_sets": {},
        "groups": {},
        "sources": {},
        "products": (),
        "limits": (),
        "controls": (),
        "swaps": (),
    }
    return Tables(
        materials={
            name: Material(name, name, **({"kind": "molecule"} | kinds.get(name, {})))
            for name in sorted(names)
        },
        properties=properties,
        descriptors={word: Descriptor(word, word, "", "") for word in WORDS},
        profiles=profiles or {},
        constituents=constituents or {},
        **{**empty, **more},
    )


def held(name: str, typical: float, low: float | None = None, high: float | None = None) -> Constituent:
    return Constituent(
        name, typical if low is None else low, typical, typical if high is None else high, "", f"in-{name}"
    )


def swap(missing: str, stand_in: str, because="unavailable", grams=None, basis="practice", note="") -> Swap:
    return Swap(missing, stand_in, because, grams, note, basis, f"{missing}-{stand_in}")


def situation(**more):
    plain = {
        "shelf": None,
        "status": lambda name: (),
        "unknown": lambda name: (),
        "judged": False,
        "dose": None,
        "most_pct": lambda name: None,
        "named": False,
    }
    return SimpleNamespace(**{**plain, **more})


def answer(score: float, *names: str) -> StandIn:
    return StandIn(0, tuple(Member(name, None) for name in names), score, "", 0.0, "profile", (), ())


# -- what it smells of ------------------------------------------------------------------------------------------


def test_profiles_of_parts_are_mixed_by_weight():
    known = tables(profiles={"a": {"wood": 3, "moss": 1}, "b": {"moss": 5}})
    assert profile_shares(known, [("a", 2.0), ("b", 6.0)]) == pytest.approx({"wood": 0.1875, "moss": 0.8125})


def test_differences_from_four_percent_the_largest_first():
    gains, losses = differences(
        tables(), {"wood": 0.5, "moss": 0.3, "rose": 0.2}, {"wood": 0.459, "moss": 0.339, "plum": 0.202}
    )
    assert [(one.descriptor, round(one.by, 6)) for one in gains] == [("plum", 0.202)]
    assert [(one.descriptor, round(one.by, 6)) for one in losses] == [("rose", 0.2), ("wood", 0.041)]
    many = {word: 0.1 + place / 100 for place, word in enumerate(WORDS)}
    assert [one.descriptor for one in differences(tables(), {}, many)[0]] == ["salt", "leaf", "plum", "rose"]
    assert [one.descriptor for one in differences(tables(), many, {})[1]] == ["salt", "leaf", "plum", "rose"]
    assert Difference("x", 0.12345).to_dict()["by"] == 0.123


def told(before, after):
    return odour_reason(tables(), before, after, *differences(tables(), before, after))


def test_what_is_carried_and_what_is_not():
    assert told({"wood": 0.5, "moss": 0.3, "rose": 0.2}, {"wood": 0.3, "moss": 0.5, "plum": 0.2}) == (
        "carries the wood and moss core without its rose side, with less wood, with more moss, bringing plum"
    )
    shared = {"wood": 0.1, "moss": 0.6, "rose": 0.041, "salt": 0.039}
    assert told(shared, shared) == "carries the moss, wood and rose core"
    four = {"wood": 0.1, "moss": 0.2, "rose": 0.3, "salt": 0.4}
    assert told(four, four) == "carries the salt, rose and moss core"
    assert told({"wood": 0.039}, {"wood": 0.039}).startswith("meets it in neighbouring notes")


@pytest.mark.parametrize(
    ("value", "words"),
    [
        *[
            (0.0, "under an hour"),
            (0.8, "an hour"),
            (1.7, "some hours"),
            (7.0, "half a day"),
            (16.0, "a day"),
        ],
        *[(34.0, "days"), (130.0, "a week"), (260.0, "weeks"), (900.0, "a month"), (1500.0, "months")],
    ],
)
def test_hours_in_words(value, words):
    assert hours(value) == words
    if value:
        assert hours(value * 0.999) != words


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (10.0, 6.0, "lasts about as long on the strip"),
        (100.0, 167.0, "lasts about as long on the strip"),
        (10.0, 5.9, "leaves the strip sooner (some hours against half a day)"),
        (10.0, 17.0, "leaves the strip later (a day against half a day)"),
        (40.0, 100.0, "leaves the strip a little later"),
        (100.0, 40.0, "leaves the strip a little sooner"),
    ],
)
def test_how_long_it_lasts_beside_the_missing_one(old, new, words):
    assert tenacity_reason(tables(tenacity={"old": old, "new": new}), "old", "new") == words


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (0.8, "about as loud as old, gram for gram"),
        (1.25, "about as loud as old, gram for gram"),
        (0.79, "1 g is about as loud as 1.3 g of old"),
        (0.25, "1 g is about as loud as 4 g of old"),
        (1.26, "it takes about 1.3 g to be as loud as 1 g of old"),
        (
            100.0,
            "it takes about 100 g to be as loud as 1 g of old; that is an order of magnitude: begin with a trial "
            "series",
        ),
    ],
)
def test_how_loud_it_is_beside_the_missing_one(ratio, words):
    known = tables(potency={"old": ratio, "new": 1.0})
    assert strength_reason(known, make_pair(known, "old", "new", None)) == words


def test_sources_that_lie_apart_are_both_told():
    known = tables(potency={"old": 8.0, "new": 1.0})
    for kind, rows, words in (
        ("documented", (swap("old", "new", grams=2.0),), "documented at 2 g"),
        ("reverse", (swap("new", "old", grams=0.5),), "documented the other way round at 2 g"),
    ):
        pair = make_pair(known, "old", "new", Ground(0.9, kind, rows))
        assert strength_reason(known, pair) == (
            f"the sources lie apart: {words} for 1 g, while by strength on file 8 g would be as loud; begin with "
            "the trial series"
        )


@pytest.mark.parametrize(
    ("typical", "part", "is_told"),
    [(2.0, 0.001, True), (1.9, 0.019, False), (1.0, 0.02, True), (50.0, 0.5, True)],
)
def test_a_constituent_is_told_from_two_percent(typical, part, is_told):
    pair = Pair("old", "new", None, None, None, None, held("new", typical), 0.0, part)
    assert bool(constituent_reasons(pair)) is is_told
    if typical == 50.0:
        assert constituent_reasons(pair) == [
            "is 50 % of the missing natural and about 50 % of what its listed constituents smell of"
        ]


def test_a_share_is_told_with_its_range():
    for row, words in (
        (held("old", 50.0, 25.0, 75.0), "holds 50 % of it (25 % to 75 %)"),
        (held("old", 50.0), "holds 50 % of it"),
    ):
        assert constituent_reasons(Pair("old", "new", None, None, None, row, None, 0.5, 0.0)) == [words]


def test_a_natural_as_a_source_brings_the_rest_along():
    rows = (*(held(f"r{place}", float(place)) for place in range(7)), held("x", 50.0), held("r7", 7.0))
    known = tables(potency={"x": 1.0, "r7": 7.0, "r1": 0.99}, constituents={"oil": rows})
    found = source_of(known, "x", "oil")
    assert (found.grams.grams, found.minor_carries) == (2.0, False)
    assert found.along == tuple((f"r{place}", pytest.approx(place / 50)) for place in (7, 6, 5, 4, 3, 2))
    assert source_of(
        tables(potency={"x": 1.0, "r7": 7.2}, constituents={"oil": rows}), "x", "oil"
    ).minor_carries
    assert source_of(known, "oil", "x") is None
    two = source_of(tables(constituents={"oil": (held("x", 50.0), held("r", 0.0))}), "x", "oil")
    assert two.along == ()
    assert two.to_dict(known) == {
        "grams_for_one_gram_of": 2.0,
        "low": 2.0,
        "high": 2.0,
        "along": [],
        "share_is_wrong_guide": True,
    }
    assert tie(known, "oil", "x") == (("oil", "contains"), ("x", ""))
    assert tie(known, "x", "oil") == (("x", "is contained in"), ("oil", ""))


@pytest.mark.parametrize(
    ("ground", "words"),
    [
        (Ground(0.9, "same thing"), "none for the two; they are kinds of the same thing"),
        (
            Ground(0.9, "shared parent", (), "kin"),
            "none for the two; both are documented in the place of kin",
        ),
        (
            Ground(0.9, "reverse", (swap("b", "a", basis="memory"),)),
            "documented the other way round (recalled from the trade)",
        ),
        (
            Ground(0.9, "sibling", (swap("kin", "a", note="softer"),), "kin"),
            "documented for kin, another kind of the same thing (common practice) - softer",
        ),
        (Ground(0.9, "documented", (swap("b", "a", basis="published"), swap("b", "c"))), "published (b-a)"),
        (
            Ground(0.9, "documented", (swap("b", "a", basis="estimate", note="x"),)),
            "the curators' estimate - x",
        ),
    ],
)
def test_what_a_pair_rests_on_in_words(ground, words):
    assert evidence_reason(tables({"kin": {}}), ground) == f"evidence: {words}"


@pytest.mark.parametrize(
    ("nose", "figure"),
    [({"old": 1.2}, "1.2"), ({"old": 1.19}, ""), ({"new": 1.25}, "0.8"), ({"new": 1.19}, "")],
)
def test_a_louder_nose_is_told_from_a_fifth(nose, figure):
    found = found_reason(tables({"old": {}, "new": {}}, nose=nose), "old", "new")
    assert [one.split(" times")[0] for one in found] == (
        [f"by what you found of others, {figure}"] if figure else []
    )


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            99.0,
            6.0,
            "on the strip, listen after the first ten minutes for plum that was not there and for moss that is gone",
        ),
        (
            100.0,
            5.9,
            "on the strip, listen in the first minutes for plum that was not there and for moss that is gone, and "
            "again the next day, when only the old one may still be there",
        ),
        (
            100.0,
            100.0,
            "on the strip, listen after the first ten minutes for plum that was not there and for moss that is gone",
        ),
    ],
)
def test_what_to_listen_for(old, new, words):
    known = tables(tenacity={"old": old, "new": new})
    gains, losses = (Difference("plum", 0.2), Difference("leaf", 0.1)), (Difference("moss", 0.2),)
    assert listening(known, "old", "new", gains, losses) == words
    if old == new:
        assert "hard to tell apart" in listening(known, "old", "new", (), ())
    if old == 99.0:
        assert listening(known, "old", "new", (), losses).endswith("minutes for moss that is gone")


# -- cautions ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("material", "company", "found"),
    [
        ("vanillin", ("methyl-anthranilate",), ["vanillic"]),
        ("decanal", ("methyl-anthranilate",), ["an aldehyde beside", "oxidises"]),
        ("decanal", ("linalool",), ["oxidises"]),
        ("citral", ("methyl-anthranilate",), ["an aldehyde beside", "does not last"]),
        ("methyl-anthranilate", ("linalool", "decanal"), ["discolours", "an anthranilate beside"]),
        ("methyl-anthranilate", ("linalool",), ["discolours"]),
        ("linalool", ("methyl-anthranilate", "decanal"), []),
    ],
)
def test_what_happens_in_a_base(material, company, found):
    """Common practice, no source."""
    aldehydes = dict.fromkeys(("vanillin", "decanal", "citral"), "aldehyde")
    names = (*aldehydes, "methyl-anthranilate", "linalool")
    known = tables({name: {"structure": aldehydes.get(name, "")} for name in names})
    lines = base_cautions(known, material, company)
    assert len(lines) == len(found)
    assert all(line.startswith(start) for line, start in zip(lines, found))


@pytest.mark.parametrize(
    ("value", "basis", "starts"),
    [
        (10.0, "published", ["very strong"]),
        (9.9, "published", []),
        (9.9, "estimate", ["its strength"]),
        (12.0, "estimate", ["its strength", "very strong"]),
    ],
)
def test_cautions_of_figures(value, basis, starts):
    found = profile_cautions(tables(potency={"a": value}, basis=basis), "a")
    assert [any(line.startswith(start) for line in found) for start in starts] == [True] * len(starts)
    assert len(found) == len(starts)
    hard = tables()
    hard = replace(hard, properties={"a": {"anosmia": Figure(1.0, "", "memory", "")}})
    assert [line[:11] for line in profile_cautions(hard, "a")] == ["many people"]


def test_what_rules_let_through():
    known = tables({name: {} for name in ("a", "p", "q", "r", "s")})

    def lines(**more):
        return rule_cautions(known, Ask("old", situation(**more)), "a")

    assert lines() == []
    unknown = lines(unknown=lambda name: ("p", "q", "a group", "s"))
    assert unknown == [
        "the limit of p, q and a group is not on file: ask the supplier before you use it",
    ]
    assert lines(judged=True) == [
        "nothing on file limits it in this product; that is no permission: ask the supplier"
    ]
    assert lines(judged=True, most_pct=lambda name: 1.23999) == [
        "at most 1.23 % of it in this product by the figures on file"
    ]
    for most in (None, 0.5):
        assert (
            len(lines(judged=True, unknown=lambda name: ("p",), most_pct=lambda name, most=most: most)) == 1
        )


def test_whether_it_is_a_way_out_is_told_where_it_is_not_known():
    pair = make_pair(tables(potency={"old": 3.0, "a": 1.0}), "old", "a", None)

    def lines(relief, because="limit", pair=pair):
        bench = SimpleNamespace(
            relieves=lambda one, missing, name, grams: relief if grams == pytest.approx(3.0) else "wrong"
        )
        return len(relief_unknown(bench, Ask("old", None, because), pair))

    assert (lines(None), lines(True), lines(None, "price")) == (1, 0, 0)
    assert lines(None, pair=replace(pair, amount=None)) == 0


def test_a_poor_source_is_cautioned_where_it_could_be_one():
    known = tables(potency={"old": 1.0, "r": 50.0}, constituents={"oil": (held("old", 1.0), held("r", 1.0))})
    bench = SimpleNamespace(tables=known)

    def told_of(grams, minor_carries=True):
        supply = source_of(known, "old", "oil")
        supply = replace(supply, grams=Amount(grams, grams, grams, "share"), minor_carries=minor_carries)
        found = cautions(bench, Ask("old", situation()), make_pair(known, "old", "oil", None), supply)
        return any(line.startswith("as a source its share is the wrong guide") for line in found)

    assert (told_of(199.0), told_of(200.0), told_of(10.0, minor_carries=False)) == (True, False, False)


# -- beside the accord ------------------------------------------------------------------------------------------

ACCORD = Accord("an accord", (Line("old", 5.0), Line("p", 3.0, 50.0)))


def test_the_accord_s_other_materials():
    ask = Ask("old", None, accord=ACCORD)
    assert ask.held() == {"p": 1.5}
    assert Ask("old", None).held() == {}
    assert raise_it(ask, "p") == ["it stands in the accord already: raise it"]
    assert raise_it(ask, "old") == raise_it(Ask("p", None), "p") == []


def test_a_facet_is_new_from_six_percent():
    known = tables(profiles={"old": {"wood": 1}, "p": {"moss": 1}})
    after = {"wood": 0.5, "moss": 0.2, "salt": 0.07, "plum": 0.08, "leaf": 0.09, "rose": 0.059}
    assert new_facets(known, Ask("old", None, accord=ACCORD), after) == [
        "adds leaf and plum, which nothing else in the accord has"
    ]
    assert new_facets(known, Ask("old", None, accord=ACCORD), {"rose": 0.059}) == []
    assert new_facets(known, Ask("old", None, accord=ACCORD), {"rose": 0.06}) == [
        "adds rose, which nothing else in the accord has"
    ]
    assert new_facets(known, Ask("old", None), after) == []


def test_sources_of_a_swap_and_its_amount():
    known = tables(potency={"old": 3.0, "a": 1.0}, constituents={"oil": (held("old", 80.0),)})
    assert sources(known, make_pair(known, "old", "a", None)) == ("of-a",)
    ground = Ground(0.9, "documented", (swap("old", "a", grams=3.0), swap("old", "a")))
    assert sources(known, make_pair(known, "old", "a", ground)) == ("old-a",)
    holder = make_pair(known, "old", "oil", Ground(0.9, "documented", (swap("old", "oil", grams=3.0),)))
    assert holder.holds is not None
    assert sources(known, holder) == ("old-oil",)
    full = replace(
        make_pair(known, "old", "oil", None), amount=Amount(1.25, 1.25, 1.25, "share")
    )  # its potency is not on file
    assert sources(known, full) == ("in-old",)


# -- which answers ----------------------------------------------------------------------------------------------


def test_an_answer_tells_the_amount_of_its_first_member():
    known = tables({"a": {}, "b": {}})
    one, other = Amount(1.0, 0.5, 2.0, "potency"), Amount(3.0, 2.0, 4.0, "share")
    both = replace(answer(0.5), members=(Member("a", one), Member("b", other)))
    found = both.to_dict(known)
    assert found["amount_from"] == "potency"
    assert [(row["grams_per_gram"], row["low"], row["high"]) for row in found["materials"]] == [
        (1.0, 0.5, 2.0),
        (3.0, 2.0, 4.0),
    ]
    assert answer(0.5, "a").to_dict(known)["amount_from"] is None
    assert found["rank"] == 0 and found["supply"] is None and found["saves"] is None


def test_the_nearest_is_told_with_its_likeness_and_what_is_left_out_with_its_count():
    known = tables({"old": {}, "a": {}})
    told = SwapAnswer("old", "law", (), ("a", 0.25), ("note",), known, {"rule": 3}).to_dict()
    assert told["nearest"] == {"id": "a", "name": "a", "cas": "", "similarity": 0.25}
    assert told["left_out"] == [{"rule": "rule", "count": 3}]
    assert SwapAnswer("old", "law", (), None, (), known).to_dict()["nearest"] is None


def test_a_single_answer_by_hand():
    known = tables(
        potency={"old": 3.0, "a": 1.0},
        profiles={"old": {"wood": 1, "moss": 1}, "a": {"wood": 1}, "p": {"moss": 1}},
        prices={"old": Price("dear", "", ""), "a": Price("cheap", "", "")},
    )
    bench = SimpleNamespace(tables=known, space=SimpleNamespace(like=lambda name: np.array([1.0, 0.7])))
    shelf = Shelf((Stock("a"),), "mine")

    def made(score=0.5, because="unavailable", place=0, shelf=None, accord=None, ground=None):
        ask = Ask("old", situation(shelf=shelf), because, accord)
        return single(bench, ask, Ranked(score, "a", 1, ground), {"similarity": 0.7}, place)

    plain = made()
    assert (plain.rank, plain.score, plain.in_words, plain.similarity) == (0, 0.5, "try it", 0.7)
    assert plain.members == (Member("a", Amount(3.0, 3.0 / 1.25, 3.75, "potency")),)
    assert plain.reasons == (
        "carries the wood core without its moss side, with more wood",
        "it takes about 3 g to be as loud as 1 g of old",
        "lasts about as long on the strip",
    )
    assert (plain.evidence, plain.saves, plain.raises, plain.sources) == ("profile", None, False, ("of-a",))
    assert (plain.supply, plain.trial_series, plain.features) == (None, (), {"similarity": 0.7})
    assert plain.listen.startswith("on the strip, listen after the first ten minutes for wood")
    least = "only if nothing else"
    assert made(0.1).in_words == made(0.1, place=1, shelf=shelf).in_words == least
    assert made(0.1, shelf=shelf).in_words == "the nearest you have; a makeshift"
    dear = made(because="price")
    assert dear.saves == {"money": None, "before": "dear", "after": "cheap"}
    assert dear.reasons[0] == "cheap where old is dear, at 3 g for 1 g: rough words, no quote"
    assert dear.reasons[1:] == plain.reasons
    within = made(accord=Accord("an accord", (Line("old", 1.0), Line("a", 1.0))))
    assert within.raises
    assert within.reasons[0] == "it stands in the accord already: raise it"
    told = made(ground=Ground(0.9, "documented", (swap("old", "a", grams=2.0),)))
    assert (told.evidence, told.sources) == ("documented", ("old-a",))
    assert told.members[0].amount.grams == 2.0
    assert told.reasons[-1] == "evidence: common practice"


def whole_bench(blends=()):
    """Four that smell: ``a`` near the missing one, ``b`` documented, ``c`` like nothing else."""
    units = np.array([(1.0, 0.0), (0.8, 0.6), (0.28, 0.96), (0.0, 1.0)])
    none = np.zeros((0, 0))
    place = Space(("old", "a", "b", "c"), ("wood", "moss"), units, units, none, none, none)
    known = tables(
        {name: {"basis": "memory"} for name in place.ids},
        potency=dict.fromkeys(place.ids, 1.0),
        profiles={
            "old": {"wood": 10},
            "a": {"wood": 8, "moss": 6},
            "b": {"wood": 1, "moss": 9},
            "c": {"moss": 9},
        },
        blends={"old": blends} if blends else {},
    )
    staged = Staged(place.ids, (0.0,), np.ones((4, 1)), units[:, None, :])
    rows = {"old": (swap("old", "b"),), "a": (swap("a", "c"),)}
    return Bench(known, place, Features(known, place), None, staged, rows)


def walk(bench, missing="old", shelf=(), forbidden=(), accord=None, **more):
    asked = situation(
        shelf=Shelf(tuple(map(Stock, shelf)), "mine") if shelf else None,
        context=forbidden,
        forbidden=lambda name: (SimpleNamespace(words="prohibited: x"),) if name in forbidden else (),
    )
    return swap_of(bench, Ask(missing, asked, accord=accord), **more)


def test_the_whole_walk_in_the_small():
    bench = whole_bench()
    found = walk(bench)
    assert [(one.rank, one.members[0].id) for one in found.stand_ins] == [(1, "b"), (2, "a")]
    assert [one.evidence for one in found.stand_ins] == ["documented", "profile"]
    assert [one.similarity for one in found.stand_ins] == pytest.approx([0.28, 0.8])
    assert found.nearest == ("a", pytest.approx(0.8))
    assert (found.notes, found.left_out) == ((), {})
    assert found.stand_ins[1].features["similarity"] == pytest.approx(0.8)
    assert [one.members[0].id for one in walk(bench, top=1).stand_ins] == ["b"]
    own = walk(bench, shelf=("a", "c"))
    assert [one.members[0].id for one in own.stand_ins] == ["a"]
    assert own.stand_ins[0].features["usual"] == 1.0, "what is at hand need not be found"
    assert found.stand_ins[1].features["usual"] == 0.0
    out = walk(bench, forbidden=("a", "c"))
    assert [one.members[0].id for one in out.stand_ins] == ["b"]
    assert (out.left_out, out.notes) == ({"prohibited": 1}, ("1 left out: prohibited",))
    far = walk(bench, shelf=("c",))
    assert (far.stand_ins, far.nearest) == ((), ("c", 0.0))
    assert far.notes[-1].startswith("nothing is near: the nearest is c at a similarity of 0")
    none = walk(bench, shelf=("old",))
    assert (none.stand_ins, none.nearest) == ((), None)
    assert none.notes[0] == "old stands on the shelf itself (100 %)"
    assert none.notes[-1].startswith("nothing passes")


def test_the_whole_walk_with_blends_in_the_small():
    bench = whole_bench()
    assert walk(bench, blend=2).notes[-1].startswith("no blend of 2 is clearly better")
    mixed = walk(bench, "a", blend=2, top=2)  # 0.8 and 0.6 of two at right angles, of which one is documented
    assert [one.rank for one in mixed.stand_ins] == [1, 2]
    (both,) = (one for one in mixed.stand_ins if len(one.members) == 2)
    assert [member.id for member in both.members] == ["old", "c"]
    assert both.similarity == pytest.approx(1.0)
    assert mixed.notes == ()
    refused = replace(tried("far", old=0.5, c=0.5), missing="a")
    known = replace(bench.tables, blends={"a": (refused,)})
    told = walk(replace(bench, tables=known), "a", blend=2)
    assert all(len(one.members) == 1 for one in told.stand_ins)
    assert told.notes == ("you found the blend of old and c far from it, so it is not offered",)
    own = walk(whole_bench((tried("near", a=0.5, b=0.5),)), top=2)
    assert [len(one.members) for one in own.stand_ins] == [2, 1]
    assert [one.rank for one in own.stand_ins] == [1, 2]


def test_a_blend_is_always_among_the_first():
    singles, notes = [answer(0.9, "a"), answer(0.5, "b"), answer(0.3, "c")], []
    last = answer(0.1, "d", "e")
    assert _with_blend(singles, last, 2, 3, notes) == [*singles[:2], last]
    middle = answer(0.6, "d", "e")
    assert _with_blend(singles, middle, 2, 3, notes) == [singles[0], middle, singles[1]]
    assert notes == []
    assert _with_blend(singles, None, 3, 3, notes) == singles
    assert notes[0].startswith("no blend of 3 is clearly better")


def test_left_out_counts_what_is_near_or_documented():
    pool = Pool((), {"a": "one", "b": "one", "c": "two", "d": "two", "e": "two"})
    like = np.array([0.39, 0.39, 0.4, 0.9, 0.4])
    around = {"a": Ground(0.5, "documented", (swap("old", "a"),)), "b": Ground(0.5, "same thing")}
    bench = SimpleNamespace(
        space=SimpleNamespace(
            like=lambda name: like, row={name: place for place, name in enumerate("abcde")}
        ),
        known=SimpleNamespace(around=lambda missing, because: around),
    )
    found = _left_out(bench, Ask("old", None), pool)
    assert list(found.items()) == [("two", 3), ("one", 1)]


def test_the_shelf_that_holds_it_is_told():
    bench = SimpleNamespace(tables=tables({"old": {}}))
    shelf = Shelf((Stock("old", 10.0), Stock("a")), "mine")
    assert _on_the_shelf(bench, Ask("old", situation(shelf=shelf))) == [
        "old stands on the shelf itself (10 %)"
    ]
    assert _on_the_shelf(bench, Ask("b", situation(shelf=shelf))) == []
    assert _on_the_shelf(bench, Ask("old", situation())) == []


def test_how_much_of_the_missing_one_may_stay():
    """At most 0.4 % of it; the accord is five parts of eight of it, so 0.64 % of the accord."""
    bench = SimpleNamespace(tables=tables({"old": {}}))

    def stay(because="limit", accord=None, most=0.4, **more):
        asked = situation(most_pct=lambda name: most, **more)
        return _stay(bench, Ask("old", asked, because, accord))

    less = [
        "at most 0.4 % of old itself in this product by the figures on file: less of it may do",
    ]
    assert stay() == less
    assert stay(accord=Accord("other", (Line("p", 1.0),))) == less
    dose = "as far as old goes, an accord stands as it is at a dose of 0.64 %"
    assert stay(accord=ACCORD) == [dose]
    assert stay(accord=ACCORD, dose=0.65) == [dose]
    enough = ["as far as old goes, an accord stands as it is at this dose (up to 0.64 %)"]
    assert stay(accord=ACCORD, dose=0.63) == enough
    assert stay(accord=replace(ACCORD, lines=(Line("old", 2.0), Line("p", 2.0))), most=0.5, dose=1.0) == [
        "as far as old goes, an accord stands as it is at this dose (up to 1 %)"
    ]
    for nothing in (stay("law"), stay(most=0.0), stay(most=None), stay(unknown=lambda name: ("p",))):
        assert nothing == []


def test_what_has_no_profile_is_answered_by_rows_alone():
    known = tables({"old": {}}, potency={"old": 3.0, "a": 1.0, "b": 1.0, "c": 1.0})
    rows = {"old": (swap("old", "a"), swap("old", "b", grams=2.0), swap("old", "c"))}
    none = np.zeros((0, 0))
    bench = SimpleNamespace(
        tables=known, known=Evidence(known, Space((), (), none, none, none, none, none), rows)
    )
    ask = Ask("old", situation(shelf=Shelf((), "mine"), status=lambda name: ("protected",) * (name == "b")))
    found = _documented_only(bench, ask, ("c", "b"), 2, ["first"])
    assert [(one.rank, one.members[0].id, one.evidence) for one in found.stand_ins] == [
        (1, "b", "documented"),
        (2, "c", "documented"),
    ]
    assert [one.members[0].amount.grams for one in found.stand_ins] == [2.0, pytest.approx(3.0)]
    assert [one.cautions for one in found.stand_ins] == [("protected: check before you buy or use it",), ()]
    assert all(math.isnan(one.similarity) for one in found.stand_ins)
    assert [one.in_words for one in found.stand_ins] == ["the nearest you have; a makeshift"] + [
        "only if nothing else"
    ]
    assert found.stand_ins[0].score > found.stand_ins[1].score
    assert len(_documented_only(bench, ask, ("c", "b"), 1, []).stand_ins) == 1
    with pytest.raises(InputError, match="no documented stand-in"):
        _documented_only(bench, ask, ("d",), 1, [])


def test_a_short_row_that_points_the_right_way_is_added():
    """The right direction is looked for, whatever the length: nine long rows have larger products."""
    target = np.zeros(11)
    target[:2] = 1.0
    rows = np.zeros((11, 11))
    rows[0, 0] = 1.0
    for place in range(1, 10):
        rows[place, 1], rows[place, 1 + place] = 10.0, 100.0
    rows[10, 1] = 0.5
    target /= np.linalg.norm(target)
    found = greedy(rows @ rows.T, rows @ target, 2, np.arange(11) == 0)
    assert (sorted(found.rows), found.cosine) == ([0, 10], pytest.approx(1.0))


# -- blends tried at the own bench ------------------------------------------------------------------------------


def tried(nearness: str, low=None, high=None, **parts: float) -> TriedBlend:
    return TriedBlend("old", parts, nearness, 4.0, low, high, "told")


def own_bench(*blends: TriedBlend):
    profiles = {"old": {"wood": 1, "moss": 1}, "a": {"wood": 1}, "b": {"moss": 1}}
    known = tables(
        potency={"old": 1.0, "a": 1.0, "b": 32.0}, profiles=profiles, blends={"old": blends} if blends else {}
    )
    staged = Staged(("old", "a", "b"), (0.0,), np.ones((3, 1)), np.array([[(1, 1)], [(1, 0)], [(0, 1)]]))
    return SimpleNamespace(
        tables=known,
        space=SimpleNamespace(row={"old": 0}),
        staged=staged,
        hearing=SimpleNamespace(power=0.42),
    )


def test_own_blends_are_offered_the_surest_first():
    bench = own_bench(
        tried("fair", a=0.25, b=0.75), tried("near", 2.0, 8.0, a=0.8, b=0.2), tried("far", a=1.0)
    )
    found = own_blends(bench, Ask("old", situation()), ("a", "b"))
    assert [one.score for one in found] == [0.98, 0.75]
    assert [one.in_words for one in found] == ["likely", "likely"]
    first, second = ([member.id for member in one.members] for one in found)
    assert first == second == ["b", "a"], "the louder one first"
    loud = (0.2 * 32.0) ** 0.42, 0.8**0.42
    assert found[0].similarity == pytest.approx(sum(loud) / math.sqrt(2 * (loud[0] ** 2 + loud[1] ** 2)))
    amounts = [member.amount for member in found[0].members]
    assert [(one.grams, one.low, one.high, one.ground) for one in amounts] == [
        (pytest.approx(0.8), pytest.approx(0.4), pytest.approx(1.6), "tried"),
        (pytest.approx(3.2), pytest.approx(1.6), pytest.approx(6.4), "tried"),
    ]
    plain = found[1].members[0].amount
    assert (plain.grams, plain.low, plain.high) == (3.0, 3.0, 3.0), "no range was judged"
    assert own_blends(bench, Ask("old", situation()), ("a",)) == []


def test_the_same_blend_found_far_is_not_offered_again():
    both, ask = answer(0.5, "a", "b"), Ask("old", situation())
    assert found_far(own_bench(tried("far", a=0.5, b=0.5)), ask, both)
    assert found_far(own_bench(tried("far", a=0.5, b=0.5), tried("not_smelled", a=0.4, b=0.6)), ask, both)
    assert not found_far(own_bench(tried("far", a=0.5, b=0.5), tried("near", a=0.4, b=0.6)), ask, both)
    assert not found_far(own_bench(tried("far", a=1.0)), ask, both)
    assert not found_far(own_bench(), ask, both)
    own = answer(0.75, "b", "a")
    others = [answer(0.9, "a"), both, answer(0.4, "b")]
    assert with_own(others, [own], 2) == [others[0], own]
    assert with_own(others, [own], 9) == [others[0], own, others[2]]


# -- cards and neighbours ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("potency", "words"),
    [
        (40.0, "smell it at 1 % first"),
        (39.9, "smell it at 10 % first"),
        (8.0, "smell it at 10 % first"),
        (7.9, ""),
        (None, ""),
    ],
)
def test_how_thin_to_smell_it_first(potency, words):
    assert smell_first(potency) == words


def test_a_card_in_the_small():
    limits = tuple(
        Limit(name, substance, "4", 0.5, "max", "", basis, "s")
        for name, substance, basis in (
            ("here", "x", "memory"),
            ("here", "many", "published"),
            ("here", "other", "published"),
            ("there", "x", "published"),
        )
    )
    known = tables(
        {"y": {}},
        potency={"x": 2.0, **dict.fromkeys("abcd", 1.0)},
        constituents={"oil": (held("x", 5.0), held("a", 1.0)), "wax": (held("x", 9.0),)},
        groups={"many": {"x": 1.0}, "others": {"a": 1.0}},
        limits=limits,
        limit_sets={name: LimitSet(name, name, "", None, "", "") for name in ("here", "there")},
        controls=tuple(Control(name, "control", "", "", None, "", "") for name in ("x", "x", "a")),
    )
    known = replace(known, materials={**known.materials, "other": Material("other", "other", "molecule")})
    evidence = {
        "x": tuple(swap("x", name, grams=4.0 if name == "b" else None) for name in "abacd"),
        "y": (swap("y", "x"), swap("y", "a")),
    }
    asked = SimpleNamespace(
        tables=known,
        exposure=SimpleNamespace(members=lambda name: known.groups[name]),
        context=SimpleNamespace(sets=(SimpleNamespace(limit_set=known.limit_sets["here"]),)),
        status=lambda name: (),
    )
    found = card(known, asked, evidence, "x")
    assert found.holders == (("wax", 9.0, 9.0, 9.0), ("oil", 5.0, 5.0, 5.0))
    assert found.replaced_by == ("a", "b", "c", "d")
    assert found.replaces == ("y",)
    assert [(row["substance"], bool(row["check"])) for row in found.limits] == [("x", True), ("many", False)]
    assert len(found.controls) == 2
    assert len(found.to_dict()["cautions"]) == 1, "that nothing is known of whom it may hurt is told"
    assert [row["id"] for row in loud_beside(known, evidence, "x")] == ["a", "b", "c"]
    assert [row["loud"] for row in found.beside[:2]] == [
        "it takes about 2 g to be as loud as 1 g of x",
        "it takes about 4 g to be as loud as 1 g of x",
    ]


def test_what_two_share_by_name():
    weights = {"wood": 5, "moss": 4, "rose": 3, "plum": 2, "leaf": 1}
    rows = {
        "one": (held("p", 1.0), held("q", 0.9), held("r", 30.0), held("s", 20.0), held("t", 9.0)),
        "two": (held("p", 1.0), held("q", 0.9), held("r", 30.0), held("s", 20.0), held("u", 9.0)),
        "three": (held("p", 1.0), held("q", 0.9), held("one", 7.0)),
    }
    known = tables(
        profiles={"one": weights, "two": {**weights, "wood": 3.5}, "three": {"salt": 1, "leaf": 9}},
        constituents=rows,
    )
    assert shared_words(known, "one", "two") == ("moss", "wood", "rose", "plum", "r", "s")
    assert shared_words(known, "one", "three", top=9) == ("leaf", "one", "p")


def test_neighbours_in_the_small():
    units = np.array([(1.0, 0.0), (0.8, 0.6), (0.6, 0.8), (0.0, 1.0), (1.0, 0.0)])
    ids = ("a", "b", "c", "d", "gone")
    kernel, none = np.array([(2.0, 0.0), (0.0, 3.0)]), np.zeros((0, 0))
    place = Space(ids, ("wood", "moss"), units, units, kernel, none, none)
    known = tables(
        {"gone": {"stocked": False}, "trace": {"stocked": False}, "oil": {"kind": "natural"}},
        profiles={name: {"wood": 4} if name != "c" else {"moss": 7} for name in ids},
        constituents={
            "oil": (held("trace", 2.5), held("a", 1.0)),
            "gone": (held("trace", 90.0),),
            "d": (held("trace", 50.0),),
        },
    )
    names = SimpleNamespace(find=lambda text: SimpleNamespace(id=text))

    def found(text, top=10):
        return [
            (one.id, round(one.similarity, 9), one.shared)
            for one in neighbours(known, place, names, text, top=top).near
        ]

    assert found("moss") == [
        ("d", 1.0, ("related words",)),
        ("c", 0.8, ("moss 7 of 10",)),
        ("b", 0.6, ("related words",)),
    ]
    assert found("b", 2) == [("c", 0.96, ()), ("a", 0.8, ("wood",))]
    assert found("trace") == [("d", 0.0, ("holds 50 %",)), ("oil", 0.0, ("holds 2.5 %",))]
    assert found("trace", 1) == [("d", 0.0, ("holds 50 %",))]


def test_the_word_that_ties_is_the_strongest_of_both():
    known = tables(profiles={"a": {"wood": 9, "moss": 5, "rose": 4}, "b": {"wood": 3, "moss": 6, "rose": 9}})
    assert tie(known, "a", "b")[1] == ("moss", "is smelled in")


def test_a_found_pair_is_told_first():
    own = Tried("old", "a", "near", 2.0, 1.0, 4.0, "near")
    back = Tried("b", "old", "far", None, None, None, "far")
    known = tables({"old": {}}, tried={("old", "a"): own, ("b", "old"): back}, nose={"old": 2.0})
    assert found_reason(known, "old", "a") == ["you found: near"]
    assert found_reason(known, "old", "b")[0].startswith("by what you found of others, 2 times")
