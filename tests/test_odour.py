"""Perception: the published worked examples at their printed precision, and what must hold for any accord.

Numbers stand in tests/reference beside their citation. Where a model of ours does worse than another, the
test says so.
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from substitute.odour import dose_response, mixing, perception
from substitute.odour.evaporation import loss_rate, remaining
from substitute.odour.perception import FAINT, Hearing, impression, match

REFERENCE = Path(__file__).parent / "reference"
PRINTED = 5e-4  # relative: four printed figures


def rows(name: str) -> list[dict]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def rmse(found, measured) -> float:
    return float(np.sqrt(np.mean((np.asarray(found) - np.asarray(measured)) ** 2)))


# -- binary mixtures: Ma, Tang, Xu and Thomas-Danguin (2021), Data in Brief 107143 ---------------------------


@pytest.fixture(scope="module")
def binaries():
    """Ten of the 222 rated mixtures: intensities alone (10, 2), measured together (10), and the printed
    predictions.
    """
    found = rows("binary_mixtures.csv")
    return {
        "alone": np.array([[float(row["a_alone"]), float(row["b_alone"])] for row in found]),
        "inside": np.array([[float(row["a_in_mix"]), float(row["b_in_mix"])] for row in found]),
        **{
            name: np.array([float(row[name]) for row in found])
            for name in ("measured", "vector", "strongest")
        },
    }


def test_the_vector_model_gives_the_printed_predictions(binaries):
    assert mixing.mix_vector(binaries["alone"]) == pytest.approx(binaries["vector"], abs=1e-3)


def test_the_strongest_component_gives_the_printed_predictions(binaries):
    assert mixing.mix_strongest(binaries["alone"]) == pytest.approx(binaries["strongest"], abs=1e-3)


def test_p_norm_on_binaries_beats_the_strongest_and_stays_behind_the_vector_model(binaries):
    """On these ten: vector 0.31, p-norm 0.36, strongest 0.52, sum 4.87, on a scale of 0 to 10 (on all 222
    printed: 0.34, -, 0.48, 5.2).
    """
    errors = {
        method: rmse(perception.mixture_intensity(binaries["alone"], method=method), binaries["measured"])
        for method in ("p_norm", "vector", "strongest")
    }
    assert errors["vector"] == pytest.approx(0.314, abs=0.005)
    assert errors["p_norm"] == pytest.approx(0.362, abs=0.005)
    assert errors["strongest"] == pytest.approx(0.523, abs=0.005)
    assert rmse(binaries["alone"].sum(axis=1), binaries["measured"]) == pytest.approx(4.87, abs=0.01)


def test_p_of_six_is_the_best_whole_number_on_binaries(binaries):
    errors = {
        p: rmse(mixing.mix_p_norm(binaries["alone"], p=float(p)), binaries["measured"]) for p in range(1, 16)
    }
    assert min(errors, key=errors.get) == mixing.P


def test_shares_follow_intensity_to_the_power_of_1_2(binaries):
    """What each component is of the mixture. Within 0.04 of the ratings here; exponents of 0.8 and 1 do as
    well on these ten (0.035).
    """
    rated = binaries["inside"][:, 0] / binaries["inside"].sum(axis=1)
    errors = {
        power: rmse(mixing.perceived_shares(binaries["alone"], exponent=power)[:, 0], rated)
        for power in (0.35, 1.0, 1.2, 2.0)
    }
    assert mixing.SHARE_EXPONENT == 1.2
    assert errors[1.2] == pytest.approx(0.038, abs=0.002)
    assert errors[1.2] < errors[0.35]
    assert errors[1.2] < errors[2.0]


# -- two to four components: Yan, Liu and Fang (2015), Sensors 15, 5697 --------------------------------------


@pytest.fixture(scope="module")
def up_to_four():
    """Fifteen mixtures. Single intensities are not printed: they follow from the printed strongest ones, 1.07
    per unit of ln OAV.
    """
    found = rows("odour_activity_mixtures.csv")
    logs = [[float(value) for value in row["ln_odour_activity"].split(";")] for row in found]
    strongest = np.array([float(row["strongest"]) for row in found])
    top = np.array([max(values) for values in logs])
    slope = float(top @ strongest / (top @ top))
    single = np.zeros((len(found), 4))
    for i, values in enumerate(logs):
        single[i, : len(values)] = slope * np.array(values)
    columns = {
        name: np.array([float(row[name]) for row in found]) for name in ("measured", "modified_vector")
    }
    return {
        "slope": slope,
        "single": single,
        "strongest": strongest,
        "count": [len(values) for values in logs],
        **columns,
    }


def test_single_intensities_follow_from_the_printed_ones(up_to_four):
    assert up_to_four["slope"] == pytest.approx(1.067, abs=0.002)
    assert up_to_four["single"].max(axis=1) == pytest.approx(
        up_to_four["strongest"], abs=0.06
    )  # printed to one decimal


def test_p_norm_on_more_components_beats_the_strongest(up_to_four):
    """RMSE 0.94 against 1.15 of the strongest; the paper's own fitted model has 0.53, and p near 2.5 would
    have 0.59 here.

    These intensities are logarithms of odour activity: one p cannot serve both kinds of scale, and 6 is the
    careful side.
    """
    ours = mixing.mix_p_norm(up_to_four["single"])
    assert rmse(ours, up_to_four["measured"]) == pytest.approx(0.943, abs=0.01)
    assert rmse(up_to_four["strongest"], up_to_four["measured"]) == pytest.approx(1.154, abs=0.01)
    assert rmse(up_to_four["modified_vector"], up_to_four["measured"]) == pytest.approx(0.525, abs=0.01)
    nearer = np.abs(ours - up_to_four["measured"]) < np.abs(up_to_four["strongest"] - up_to_four["measured"])
    assert nearer.mean() >= 0.8
    best = min(
        np.arange(1.5, 8.1, 0.5),
        key=lambda p: rmse(mixing.mix_p_norm(up_to_four["single"], p=float(p)), up_to_four["measured"]),
    )
    assert best == 2.5


def test_mean_of_predicted_over_measured_as_printed(up_to_four):
    """Printed: 0.96 for the modified vector model, 0.78 for the strongest component. Ours: 0.83."""
    ratio = {
        name: float(np.mean(up_to_four[name] / up_to_four["measured"]))
        for name in ("modified_vector", "strongest")
    }
    assert ratio["modified_vector"] == pytest.approx(0.96, abs=0.005)
    assert ratio["strongest"] == pytest.approx(0.78, abs=0.005)
    assert float(np.mean(mixing.mix_p_norm(up_to_four["single"]) / up_to_four["measured"])) == pytest.approx(
        0.827, abs=0.005
    )


def test_the_vector_model_holds_up_to_three_equal_components_only():
    """Its square is n + n (n - 1) cos(alpha): negative from n = 4 on with cos(alpha) = -0.388."""
    for n in range(1, 4):
        assert mixing.mix_vector(np.ones(n)) >= 0
    for n in range(4, 9):
        with pytest.raises(
            ValueError,
            match="the vector model holds for two components: with these its square is negative; use p_norm",
        ):
            mixing.mix_vector(np.ones(n))


def test_every_published_mixture_of_four_breaks_the_vector_model(up_to_four):
    for single, count in zip(up_to_four["single"], up_to_four["count"]):
        if count == 4:
            with pytest.raises(ValueError, match="negative"):
                mixing.mix_vector(single)


# -- the U model: Patte and Laffort (1979), Chemical Senses and Flavour 4, 267-274, recalled -----------------
# Their printed numbers were not at hand: values by hand, what the equation must keep to, and its tie to the vector
# model.


@pytest.mark.parametrize(
    ("pair", "cos_alpha", "total"),
    [
        ((4, 9), 1.0, 25.0),  # the square roots add: (2 + 3) ** 2
        ((4, 9), 0.0, 13.0),  # the intensities add
        ((4, 9), -0.5, 7.0),  # 13 - 6
        ((4, 9), -1.0, 1.0),  # (3 - 2) ** 2
        ((7, 7), -0.5, 7.0),  # two equal ones, as strong as one
        ((7, 7), -1.0, 0.0),  # nothing left, and not under nothing
        ((0, 9), -1.0, 9.0),
        ((0, 0), -1.0, 0.0),
    ],
)
def test_the_u_model_by_hand(pair, cos_alpha, total):
    for each in (pair, pair[::-1]):
        found = perception.mixture_intensity(each, method="u_model", cos_alpha=cos_alpha)
        assert found == pytest.approx(total, abs=1e-12)


def test_two_equal_ones_that_cancel_leave_no_less_than_nothing():
    """Rounding of the roots would put some of these a little under zero."""
    equal = np.repeat(np.arange(1.0, 100.0), 2).reshape(-1, 2)
    found = mixing.mix_u_model(equal, cos_alpha=-1.0)
    assert np.all(found >= 0)
    assert found == pytest.approx(np.zeros(99), abs=1e-12)


def test_the_u_model_takes_its_own_angle_by_default():
    """2 (1 - 0.444); the total is the stronger one's where the weaker is (2 x 0.444) ** 2 of it, and less below."""
    found = perception.mixture_intensity([[1.0, 1.0], [1.0, 0.788544], [1.0, 0.5]], method="u_model")
    assert found[:2] == pytest.approx([1.112, 1.0], abs=1e-9)
    assert found[2] == pytest.approx(1.5 - 0.888 * 0.5**0.5)
    assert found[2] < 1


def test_the_u_model_takes_no_third_component_and_no_negative_one():
    assert mixing.mix_u_model([0.0, 4.0, 0.0, 9.0], cos_alpha=-0.5) == pytest.approx(7)
    for three in ([1.0, 1.0, 1.0], [[0.0, 4.0, 9.0], [4.0, 9.0, 1e-9]]):
        with pytest.raises(
            ValueError, match="the U model holds for two components: here are more; use p_norm"
        ):
            mixing.mix_u_model(three)
    with pytest.raises(ValueError, match="an intensity is negative: allowed is 0 or more"):
        mixing.mix_u_model([4.0, -1e-9])


@pytest.mark.parametrize("cos_alpha", [-1.01, 1.01, float("nan")])
def test_a_cosine_that_is_none_is_refused(cos_alpha):
    with pytest.raises(ValueError, match=r"cos_alpha .* is out of range: allowed is from -1 to 1"):
        mixing.mix_u_model([4.0, 9.0], cos_alpha=cos_alpha)


def test_three_equal_ones_summed_over_pairs_would_be_absurd(up_to_four):
    """Why a third is refused: 3 + 6 cos(alpha) is 0.34 of one alone, where every published mixture of three was
    at least as strong as its strongest (within 0.05 of the scale).
    """
    over_pairs = 3 + 6 * mixing.U_COS_ALPHA
    assert over_pairs == pytest.approx(0.336)
    for measured, strongest, count in zip(
        up_to_four["measured"], up_to_four["strongest"], up_to_four["count"]
    ):
        assert count == 2 or measured > strongest - 0.05


# -- dose and response: Wakayama, Sakasai, Yoshikawa and Inoue (2019) ----------------------------------------


def parameters(row: dict) -> dict:
    return {"i_max": float(row["i_max"]), "c": float(row["c"]), "d": float(row["d"])}


@pytest.mark.parametrize(
    "row",
    [row for row in rows("dose_response.csv") if row["threshold_ng_l"]],
    ids=lambda row: row["material"],
)
def test_thresholds_as_printed(row):
    assert dose_response.threshold(**parameters(row)) == pytest.approx(
        float(row["threshold_ng_l"]), rel=PRINTED
    )


@pytest.mark.parametrize(
    "row", [row for row in rows("dose_response.csv") if row["c_at_15_ug_l"]], ids=lambda row: row["material"]
)
def test_concentrations_of_equal_intensity_as_printed(row):
    found = dose_response.concentration_for(15, **parameters(row))
    assert found == pytest.approx(float(row["c_at_15_ug_l"]), rel=PRINTED)
    assert dose_response.intensity_dose_response(found, **parameters(row)) == pytest.approx(15)


def test_the_rows_without_printed_results_are_explained():
    """Vanillin is printed with D = 0.00, a step, from which no threshold follows; two ceilings lie so near 15
    that no dose was printed.
    """
    bare = {row["material"]: row for row in rows("dose_response.csv") if not row["c_at_15_ug_l"]}
    assert set(bare) == {"vanillin", "hexamethylindanopyran", "methyl dihydrojasmonate"}
    assert float(bare.pop("vanillin")["d"]) == 0
    assert all(float(row["i_max"]) < 17 for row in bare.values())


def test_intensity_at_or_over_the_ceiling_has_no_concentration():
    for intensity in (0, -1, 30, 31):
        with pytest.raises(ValueError, match=r"is out of range: allowed is above 0 and under 30"):
            dose_response.concentration_for(intensity, i_max=30, c=0, d=0.5)


def test_no_concentration_no_intensity():
    assert dose_response.intensity_dose_response(0.0, i_max=30, c=0, d=0.5) == 0


# -- headspace: Santana, Rodrigues, Nogueira et al. (2023), ChemRxiv 656703395bc9fcb5c9a3a476 ----------------


def test_ideal_mixing_names_the_wrong_leading_note():
    """A limit of this package, kept as a test: it assumes ideal mixing.

    Four components in ethanol. With activity coefficients limonene leads among the odorants; under ideal
    mixing geraniol does, vanillin comes next and limonene last, because limonene's coefficient is 5.3.
    """
    found = {row["material"]: row for row in rows("headspace.csv") if row["material"] != "ethanol"}
    ideal = {
        name: float(row["mole_fraction"]) * float(row["vapour_pressure_pa"]) / float(row["threshold_g_m3"])
        for name, row in found.items()
    }
    molar_mass = {"limonene": 136.23, "geraniol": 154.25, "vanillin": 152.15}
    ideal = {name: value * molar_mass[name] / (8.314 * 298.15) for name, value in ideal.items()}
    real = {name: value * float(found[name]["activity_coefficient"]) for name, value in ideal.items()}
    for name, row in found.items():
        assert ideal[name] == pytest.approx(float(row["odour_value_ideal"]), rel=2e-3)
        assert real[name] == pytest.approx(float(row["odour_value_real"]), rel=2e-3)
    assert sorted(ideal, key=ideal.get, reverse=True) == ["geraniol", "vanillin", "limonene"]
    assert max(real, key=real.get) == "limonene"


# -- models by name ------------------------------------------------------------------------------------------


def test_models_are_chosen_by_name():
    assert perception.intensity(8.0, method="power_law", potency=2.0, exponent=0.5) == pytest.approx(4.0)
    assert perception.mixture_intensity([3.0, 4.0], method="p_norm", p=2.0) == pytest.approx(5.0)
    with pytest.raises(
        ValueError, match="method 'sum' is not known: one of p_norm, vector, u_model, strongest$"
    ):
        perception.mixture_intensity([1.0], method="sum")
    with pytest.raises(ValueError, match="method 'log' is not known: one of power_law, dose_response"):
        perception.intensity(1.0, method="log")


# -- what holds for any mixture ------------------------------------------------------------------------------

intensities = arrays(float, st.integers(1, 8), elements=st.one_of(st.just(0.0), st.floats(1e-9, 1e6)))
positive = st.floats(1e-3, 1e3)


@given(intensities)
def test_p_norm_lies_between_the_strongest_and_the_sum(values):
    total = float(mixing.mix_p_norm(values))
    assert float(values.max()) * (1 - 1e-12) <= total <= float(values.sum()) * (1 + 1e-12)


@given(intensities, positive)
def test_p_norm_scales_with_its_components(values, factor):
    assert float(mixing.mix_p_norm(values * factor)) == pytest.approx(
        factor * float(mixing.mix_p_norm(values)), rel=1e-9
    )


one_part = st.one_of(st.just(0.0), st.floats(1e-6, 1e6))
two = one_part, one_part
cosines = st.floats(-1, 1)


@given(*two, cosines)
def test_the_u_model_is_symmetric_and_between_difference_and_sum_of_roots(one, other, cos_alpha):
    total = float(mixing.mix_u_model([one, other], cos_alpha=cos_alpha))
    assert total == float(mixing.mix_u_model([other, one], cos_alpha=cos_alpha))
    slack = 1e-12 * (one + other)
    assert (one**0.5 - other**0.5) ** 2 - slack <= total <= (one**0.5 + other**0.5) ** 2 + slack


@given(*two, cosines, positive)
def test_the_u_model_scales_with_its_components(one, other, cos_alpha, factor):
    larger = float(mixing.mix_u_model([one * factor, other * factor], cos_alpha=cos_alpha))
    same = factor * float(mixing.mix_u_model([one, other], cos_alpha=cos_alpha))
    assert larger == pytest.approx(same, rel=1e-9, abs=1e-12 * factor * (one + other))


@given(*two, cosines)
def test_the_u_model_is_the_vector_model_on_square_roots(one, other, cos_alpha):
    """Both by the law of cosines: U of a ** 2 and b ** 2 is the square of the vector model's total of a and b."""
    total = float(mixing.mix_u_model([one**2, other**2], cos_alpha=cos_alpha))
    by_vector = one**2 + other**2 + 2 * cos_alpha * one * other
    assert total == pytest.approx(by_vector, rel=1e-9, abs=1e-11 * (one**2 + other**2))
    if cos_alpha > -0.99:  # nearer to -1 the vector model's own square may round to under zero
        vector = float(mixing.mix_vector([one, other], cos_alpha=cos_alpha))
        assert total == pytest.approx(vector**2, rel=1e-9)


@given(intensities)
def test_shares_sum_to_one_or_nothing_smells(values):
    shares = mixing.perceived_shares(values)
    assert np.all(shares >= 0)
    assert float(shares.sum()) == pytest.approx(1.0 if values.max() > 0 else 0.0)


@given(st.floats(0, 1e4), st.floats(0, 1e4), st.floats(0.01, 1e4))
def test_what_remains_falls_with_time_and_rises_with_tenacity(early, late, tenacity):
    early, late = sorted((early, late))
    assert 0 <= remaining(late, tenacity) <= remaining(early, tenacity) <= 1
    assert remaining(early, tenacity) <= remaining(early, tenacity * 2)
    assert remaining(0, tenacity) == 1


@given(st.floats(0.01, 1e4))
def test_tenacity_is_the_time_until_one_percent_is_left(tenacity):
    assert remaining(tenacity, tenacity) == pytest.approx(0.01)
    assert loss_rate(tenacity) > 0


@given(positive, positive)
def test_dose_response_is_monotone_and_comes_back(one, other):
    low, high = sorted((one, other))
    shape = {"i_max": 40.0, "c": 0.5, "d": 0.6}
    below, above = (float(dose_response.intensity_dose_response(dose, **shape)) for dose in (low, high))
    assert 0 < below <= above < 40
    assert dose_response.concentration_for(below, **shape) == pytest.approx(low, rel=1e-6)


# -- what holds for any two accords --------------------------------------------------------------------------

N, STAGES, WORDS = 5, 3, 4
grams = arrays(float, N, elements=st.one_of(st.just(0.0), st.floats(1e-4, 1e4)))


@st.composite
def bench(draw):
    """Potencies (N, T) that fall from stage to stage, and profiles (N, T, D) whose rows sum to 1."""
    start = draw(arrays(float, (N, 1), elements=st.floats(1e-2, 1e2)))
    fade = draw(arrays(float, (N, 1), elements=st.floats(0.01, 1)))
    profile = draw(arrays(float, (N, 1, WORDS), elements=st.floats(0.01, 10)))
    profile = profile / profile.sum(axis=-1, keepdims=True)
    return start * fade ** np.arange(STAGES), np.repeat(profile, STAGES, axis=1)


@given(bench(), grams, grams)
def test_match_is_symmetric_and_between_nothing_and_one(materials, one, other):
    potency, profile = materials
    first, second = impression(one, potency, profile), impression(other, potency, profile)
    there, back = match(second, first), match(first, second)
    assert 0 <= there.overall <= 1 + 1e-12
    for stage, forth, back_again in zip(range(STAGES), there.stages, back.stages):
        if forth is not None:
            assert 0 <= forth <= 1 + 1e-12
        if forth is not None and back_again is not None:  # a stage is judged by the old accord's strength
            assert forth == pytest.approx(back_again, abs=1e-9), stage


@given(bench(), grams)
def test_an_accord_matches_itself_wholly(materials, amounts):
    potency, profile = materials
    found = impression(amounts, potency, profile)
    itself = match(found, found)
    assert itself.overall == pytest.approx(1.0 if amounts.max() > 0 else 0.0)
    for strength, stage in zip(found.strength, itself.stages):
        assert (stage is not None) == bool(
            found.strength.max() > 0 and strength >= FAINT * found.strength.max()
        )
        assert stage is None or stage == pytest.approx(1.0)


@given(bench(), grams, st.floats(0.01, 100))
def test_scaling_all_grams_changes_the_strength_only(materials, amounts, factor):
    potency, profile = materials
    before, after = impression(amounts, potency, profile), impression(amounts * factor, potency, profile)
    assert after.shares == pytest.approx(before.shares, abs=1e-9)
    assert after.strength == pytest.approx(before.strength * factor ** Hearing().exponent, rel=1e-9)
    ratio = min(factor, 1 / factor) ** Hearing().exponent
    for stage in match(after, before).stages:
        assert stage is None or stage == pytest.approx(ratio, rel=1e-6)


@given(bench(), grams)
def test_the_order_of_lines_does_not_matter(materials, amounts):
    potency, profile = materials
    turned = impression(amounts[::-1], potency[::-1], profile[::-1])
    straight = impression(amounts, potency, profile)
    assert turned.shares == pytest.approx(straight.shares, abs=1e-12)
    assert turned.strength == pytest.approx(straight.strength, rel=1e-12)


def test_equal_potency_times_grams_smells_equally_strong():
    potency = np.array([[10.0], [1.0]])
    profile = np.array([[[1.0, 0.0]], [[0.0, 1.0]]])
    one, other = impression([1.0, 0.0], potency, profile), impression([0.0, 10.0], potency, profile)
    assert one.strength == pytest.approx(other.strength)
    assert match(other, one).overall == 0  # and of nothing in common


def test_a_stage_hardly_noticed_is_not_judged():
    potency = np.array([[1.0, 1e-9]])
    found = impression([1.0], potency, np.ones((1, 2, 1)))
    assert match(found, found).stages == (1.0, None)


# -- naturals ------------------------------------------------------------------------------------------------


def test_naturals_fade_constituent_by_constituent(library):
    staged = library.staged
    for name in ("bergamot-oil", "rose-oil", "vetiver-oil"):
        row = staged.rows([name])[0]
        assert (np.diff(staged.potency[row]) < 0).all()
        assert staged.profile[row].sum(axis=1) == pytest.approx(1)
    bergamot = staged.profile[staged.rows(["bergamot-oil"])[0]]
    assert np.abs(bergamot[0] - bergamot[2]).sum() > 0.05  # it does not smell the same the next day


def test_every_stage_of_every_material_is_sound(library):
    """Potency never grows with time, profiles are shares, and nothing that smells is silent from the start."""
    staged = library.staged
    assert np.all(np.diff(staged.potency, axis=1) <= 1e-12)
    assert np.all(staged.profile >= 0)
    sums = staged.profile.sum(axis=2)
    assert np.all(np.isclose(sums, 1) | (sums == 0))
    heard = [staged.rows([name])[0] for name in library.tables.profiles]
    assert np.all(staged.potency[heard, 0] > 0)


def test_volatile_constituents_leave_a_natural_first(library):
    """What bergamot oil smells of on the next day is less citrus than at the start."""
    staged, space = library.staged, library.space
    citrus = [
        i for i, word in enumerate(space.words) if "citrus" in (word, library.tables.descriptors[word].parent)
    ]
    bergamot = staged.profile[staged.rows(["bergamot-oil"])[0]]
    assert bergamot[0, citrus].sum() > bergamot[2, citrus].sum()
