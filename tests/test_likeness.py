"""Likeness as people rate it: its contract, the shipped map, and agreement with panels on molecules left out of the fit."""

from __future__ import annotations

import csv
import io
import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from effort import examples
from hypothesis import given, settings
from hypothesis import strategies as st

import substitute
from substitute.odour.likeness import CONSTANT, Likeness, cosines, people_said, rated
from substitute.odour.mixing import U_COS_ALPHA, mix_u_model
from substitute.odour.transport import plan, transport
from substitute.tables.load import data_folder

sys.path.insert(0, str(Path(__file__).parent / "evaluation"))


def test_the_same_is_one_and_order_does_not_matter(library):
    rose = ["phenethyl-alcohol", "citronellol", "geraniol"]
    assert library.likeness("vanillin", "vanillin") == 1
    assert library.likeness(rose, rose[::-1]) == pytest.approx(1)
    for one, other in (("vanillin", "indole"), (rose, "rose oil"), ({"linalool": 2, "indole": 0.01}, rose)):
        assert library.likeness(one, other) == pytest.approx(library.likeness(other, one))
        assert 0 <= library.likeness(one, other) < 1


def test_amounts_of_the_same_materials_matter_and_scale_does_not(library):
    base = {"linalool": 10.0, "indole": 0.05}
    more = library.likeness(base, {"linalool": 10.0, "indole": 0.1})
    much = library.likeness(base, {"linalool": 10.0, "indole": 5.0})
    assert much < more < 1
    assert library.likeness(base, {"linalool": 20.0, "indole": 0.1}) == pytest.approx(1)
    assert library.likeness({"linalool": 1.0}, {"linalool": 5.0, "ethanol": 90.0}) == pytest.approx(1)


def test_nothing_that_smells_is_unknown_and_a_bad_amount_is_refused(library):
    assert library.likeness("ethanol", "vanillin") is None
    assert library.likeness([], "vanillin") is None
    with pytest.raises(substitute.InputError, match="allowed is 0 or more"):
        library.likeness({"vanillin": -1.0}, "vanillin")
    with pytest.raises(substitute.NotFound):
        library.likeness("no such thing", "vanillin")


@settings(max_examples=examples(100))
@given(
    st.integers(1, 12),
    st.integers(1, 12),
    st.sampled_from((1.0, 3.0)),
    st.booleans(),
    st.integers(0, 2**32 - 1),
)
def test_transport_against_a_linear_program(rows, columns, power, ties, seed):
    """scipy's linear programs (HiGHS): its plan, and by strong duality (Kantorovich) the least sum of prices."""
    from scipy.optimize import linprog

    draw = np.random.default_rng(seed)
    share, weight = (draw.random(n) ** power + 1e-3 for n in (rows, columns))
    share, weight = share / share.sum(), weight / weight.sum()
    pairs = draw.random((rows, columns)).round(1 if ties else 9)
    forth, back = np.kron(np.eye(rows), np.ones((columns, 1))), np.kron(np.ones((rows, 1)), np.eye(columns))
    dual = linprog(
        np.r_[share, weight], A_ub=-np.hstack([forth, back]), b_ub=-pairs.ravel(), bounds=(None, None)
    )
    assert transport(pairs, share, weight) == pytest.approx(dual.fun, abs=1e-7)
    assert transport(pairs.T, weight, share) == pytest.approx(transport(pairs, share, weight), abs=1e-9)
    flow = plan(1 - pairs, share, weight)
    assert flow.min() > -1e-12
    assert flow.sum(axis=1) == pytest.approx(share, abs=1e-10)
    assert flow.sum(axis=0) == pytest.approx(weight, abs=1e-10)


def test_transport_of_shares_far_apart_in_size():
    """A share near nothing beside a large one: a linear program's presolve gave up on such."""
    share, weight = np.array([1 - 1e-9, 1e-9]), np.array([0.5, 0.5 - 1e-11, 1e-11])
    pairs = np.array([[1.0, 0.5, 0.0], [0.0, 1.0, 1.0]])
    assert transport(pairs, share, weight) == pytest.approx(0.75, abs=1e-8)


def test_rated_falls_with_distance_and_with_unequal_sizes():
    s = np.linspace(0, 1, 50)
    assert (np.diff(rated(s)) >= 0).all()
    assert rated(1.0, 40.0) == 1
    assert rated(0.8, 10.0) < rated(0.8)
    assert rated(0.0) == 0


def test_what_a_likeness_means_to_people_rises():
    said = [people_said(value) for value in np.linspace(0, 1, 101)]
    assert (np.diff(said) >= 0).all()
    assert said[-1] == pytest.approx(0.87)


def test_every_panel_has_a_constant_and_known_words(library):
    assert set(library.tables.impressions) == {"atlas-1985", "panel-2016"}
    for words in library.tables.impressions.values():
        assert set(words) == {CONSTANT, *library.tables.descriptors}


def test_an_own_material_is_compared_by_its_words_alone(library, tmp_path):
    (tmp_path / "materials.csv").write_text("id,name,kind,stocked\nmy-vanilla,my vanilla base,mixture,yes\n")
    profile = library.profile("vanillin")
    (tmp_path / "profiles.csv").write_text(
        "material,descriptor,weight\n"
        + "".join(f"my-vanilla,{word},{weight:g}\n" for word, weight in profile.items())
    )
    own = substitute.load(tmp_path)
    assert own.likeness("my-vanilla", "vanillin") > 0.95


def test_cosines_whatever_the_length_and_none_of_nothing():
    found = cosines(np.array([[0.5, 0.0], [0.02, 0.02], [0.0, 300.0], [0.0, 0.0]]))
    half = math.sqrt(0.5)
    assert found == pytest.approx(
        np.array([[1.0, half, 0.0, 0.0], [half, 1.0, half, 0.0], [0.0, half, 1.0, 0.0], [0.0, 0.0, 0.0, 0.0]])
    )


def test_the_ratio_of_part_counts_is_of_what_is_heard(library):
    """Three equal parts against two are 1.5 times as many, whichever is named first; one of four that is nearly all
    counts nearly as one: 1 / sum of squared shares, written out."""
    likeness = Likeness(library.tables, library.space)
    ids = ["vanillin", "coumarin", "linalool", "eugenol"]
    rows = [library.space.row[id] for id in ids]
    near = likeness.among(rows)
    for one, other in (
        ([1, 1, 1, 0], [0, 0, 1, 1]),
        ([97, 1, 1, 1], [1, 1, 0, 0]),
        ([1, 0, 0, 0], [1, 1, 1, 1]),
    ):
        first, second = (np.array(side) / sum(side) for side in (one, other))
        counts = sorted(1.0 / (side**2).sum() for side in (first, second))
        here = np.ix_(np.flatnonzero(first), np.flatnonzero(second))
        wanted = rated(transport(near[here], first[first > 0], second[second > 0]), counts[1] / counts[0])
        sides = [{id: float(part) for id, part in zip(ids, side) if part} for side in (one, other)]
        assert likeness.of(*sides) == pytest.approx(float(wanted))
        assert likeness.of(*reversed(sides)) == pytest.approx(float(wanted))


def test_words_that_the_space_does_not_know_say_nothing_of_anything(library):
    own = Likeness(library.tables, library.space).panels
    more = {
        panel: {**words, "a word of nobody": tuple(9.0 for _ in next(iter(words.values())))}
        for panel, words in library.tables.impressions.items()
    }
    found = Likeness(replace(library.tables, impressions=more), library.space).panels
    assert all((found[panel] == own[panel]).all() for panel in own)


def test_training_without_the_panels_writes_nothing(tmp_path, monkeypatch, capsys):
    from substitute.odour import train

    monkeypatch.setattr(train, "data_folder", lambda: tmp_path)
    monkeypatch.setattr(train, "fit", lambda tables, folder: f"fitted on {folder.name}\n")
    monkeypatch.setattr(train, "load_tables", lambda: None)
    assert train.main([str(tmp_path / "none")]) == 2
    assert "lacks atlas_1985.csv, panel_2016.csv; nothing was written" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
    people = tmp_path / "people"
    people.mkdir()
    for name in train.PANELS.values():
        (people / name).write_text("")
    assert train.main([str(people)]) == 0
    assert (tmp_path / "impressions.csv").read_text() == "fitted on people\n"


def test_the_shipped_map_is_what_fitting_gives(library):
    """``python -m substitute.odour.train`` gives the shipped figures (on one machine the same bytes)."""
    pytest.importorskip("rdkit")
    from substitute.odour import train

    folder = Path(__file__).parent / "reference" / "people"
    fitted, shipped = (
        list(csv.reader(io.StringIO(text)))
        for text in (
            train.fit(library.tables, folder),
            (data_folder() / "impressions.csv").read_text(encoding="utf-8"),
        )
    )
    assert [row[:2] for row in fitted] == [row[:2] for row in shipped]
    for ours, theirs in zip(
        fitted[1:], shipped[1:], strict=True
    ):  # another machine may round the last digits otherwise
        assert list(map(float, ours[2:-1])) == pytest.approx(
            list(map(float, theirs[2:-1])), rel=1e-3, abs=2e-3
        )


@pytest.mark.slow
def test_agreement_with_panels_beats_the_space(library):
    """Dravnieks 1985 (ASTM DS 61), Keller and Vosshall 2016 and Snitz et al. 2013: on molecules left out of the fit. Floors are far under
    what ``tests/evaluation/people.py`` prints, so that they fail for a broken model and not for a changed profile."""
    pytest.importorskip("rdkit")
    import people as measured

    people = measured.People(library)
    for panel, floor in (("atlas-1985", 0.45), ("panel-2016", 0.3)):
        said = people.said[panel]
        at, truth = [people.space.row[name] for name in said], measured.measured(said)
        ours = measured.agreement(people.similarity, at, truth, draws=2)[0]
        assert ours > max(floor, measured.agreement(people.space.similarity, at, truth, draws=2)[0] + 0.1)
    pairs = [pair for pair in people.pairs if not pair.same][::2]
    rating = np.array([pair.rating for pair in pairs])
    assert len(pairs) > 100
    assert np.corrcoef(measured.of_pairs(people.similarity, pairs), rating)[0, 1] > 0.4


def test_two_part_mixtures_are_nearer_a_p_norm_than_their_strongest_part():
    """Ma, Tang, Xu and Thomas-Danguin 2021, Data in Brief 36:107143."""
    import people as measured

    error = measured.mixtures_of_two()
    assert error["p_norm"] < error["strongest"] - 0.05
    assert error["vector"] < error["u_model"] < error["p_norm"]  # but these two hold for two parts only


def test_the_angle_of_the_u_model_is_the_one_that_fits_the_open_mixtures():
    """Least squares by a line search in place of the closed form; Ma, Tang, Xu and Thomas-Danguin 2021."""
    import people as measured

    both, truth, molecules = measured.two_parts()
    assert len(truth) == 131
    errors = {
        step: float(((mix_u_model(both, cos_alpha=-step / 1000) - truth) ** 2).mean())
        for step in range(300, 600)
    }
    assert -min(errors, key=errors.get) / 1000 == U_COS_ALPHA
    assert measured.fitted_cos_alpha(both, truth) == pytest.approx(U_COS_ALPHA, abs=5e-4)
    left_out = measured.u_model_left_out(both, truth, molecules)
    assert float(((left_out - truth) ** 2).mean()) > errors[444]  # what a fit saw it does better
