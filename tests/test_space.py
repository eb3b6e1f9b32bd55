"""The vector space and the graph: what lies near what, facts of the trade, and the kept arrays."""

from __future__ import annotations

import numpy as np
import pytest

import substitute
from substitute.odour import space as space_module
from substitute.odour.graph import edges, path_between
from substitute.odour.space import SpaceSettings, fit_space, heat_kernel, load_space
from substitute.records import Shelf, Stock

SYMMETRY = 1e-12


@pytest.fixture(scope="module")
def table(library):
    return library.similarity()


# -- descriptors ---------------------------------------------------------------------------------------------


def nearness(library, one: str, other: str) -> float:
    return float(library.space.word_vector(one) @ library.space.word_vector(other))


@pytest.mark.parametrize(
    ("word", "near", "far"),
    [
        ("mossy", "earthy", "banana"),
        ("mossy", "woody", "banana"),
        ("lemon", "lime", "leathery"),
        ("rose", "geranium", "smoky"),
        ("clove", "cinnamon", "melon"),
        ("vanilla", "caramel", "pine"),
    ],
)
def test_related_words_are_nearer(library, word, near, far):
    assert nearness(library, word, near) > 2 * nearness(library, word, far)


def test_a_word_is_nearest_to_itself(library):
    vectors = np.array([library.space.word_vector(word) for word in library.space.words])
    cosines = vectors @ vectors.T
    assert np.allclose(np.diag(cosines), 1)
    assert (cosines.argmax(axis=1) == np.arange(len(cosines))).all()


def test_without_heat_words_are_unrelated_columns(library):
    """What the kernel is for: with no diffusion, two words have nothing in common."""
    cold = fit_space(library.tables, SpaceSettings(heat=0.0))
    assert float(cold.word_vector("mossy") @ cold.word_vector("earthy")) == 0
    assert nearness(library, "mossy", "earthy") > 0.1


def test_heat_kernel_spreads_and_keeps_the_sum():
    conductance = np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 1.0], [0.0, 1.0, 0.0]])
    kernel = heat_kernel(conductance, 0.5)
    assert kernel.sum(axis=1) == pytest.approx([1, 1, 1])
    assert (kernel >= 0).all()
    assert kernel[0, 0] > kernel[0, 1] > kernel[0, 2] > 0  # nearer words get more
    assert (heat_kernel(conductance, 0) == np.eye(3)).all()


# -- similarity ----------------------------------------------------------------------------------------------


def test_similarity_is_square_symmetric_and_between_nothing_and_one(library, table):
    assert list(table.index) == list(table.columns) == list(library.tables.materials)
    known = list(library.space.ids)
    values = table.loc[known, known].to_numpy()
    assert np.abs(values - values.T).max() <= SYMMETRY
    assert np.allclose(np.diag(values), 1)
    assert values.min() >= 0
    assert values.max() <= 1 + SYMMETRY


def test_similarity_is_unknown_without_profile(library, table):
    silent = [name for name in library.tables.materials if name not in library.tables.profiles]
    assert silent
    assert table.loc[silent].isna().all(axis=None)
    assert table[silent].isna().all(axis=None)
    assert set(library.space.ids) == set(library.tables.profiles)


def test_similarity_of_some_takes_any_name_and_keeps_the_order(library, table):
    some = library.similarity(["91-64-5", "Vanillin", "ethanol"])
    assert list(some.index) == ["coumarin", "vanillin", "ethanol"]
    assert some.loc["coumarin", "vanillin"] == pytest.approx(table.loc["coumarin", "vanillin"])
    assert some.loc["ethanol"].isna().all()
    with pytest.raises(substitute.NotFound):
        library.similarity(["no such thing"])


def test_no_two_materials_are_one_point(library):
    """Different materials may be near, never the same."""
    values = library.space.similarity - np.eye(len(library.space.ids))
    assert values.max() < 1 - 1e-6


@pytest.mark.parametrize(
    ("one", "near", "far"),
    [
        ("l-carvone", "spearmint-oil", "d-carvone"),  # mirror images: spearmint and caraway
        ("oakmoss-absolute", "methyl-atrarate", "gamma-undecalactone"),
        ("cedarwood-oil-virginia", "cedrol", "cedar-leaf-oil"),  # a wood and a leaf that share a word
        ("vanillin", "ethyl-vanillin", "indole"),
        ("orange-flower-absolute", "neroli-oil", "sweet-orange-oil"),  # a flower and its fruit
    ],
)
def test_like_is_nearer_than_unlike(library, table, one, near, far):
    assert table.loc[one, near] > table.loc[one, far]


# -- facts of the trade: common practice, no source ----------------------------------------------------------


def ranked(library, missing: str, **options) -> list[str]:
    return [
        "+".join(member.id for member in answer.members)
        for answer in library.swap(missing, **options).stand_ins
    ]


SCHIFF_BASES = {
    "methyl-anthranilate-hydroxycitronellal-schiff-base",
    "methyl-anthranilate-cyclohexenecarbaldehyde-schiff-base",
    "methyl-anthranilate-butylphenyl-methylpropional-schiff-base",
}
IONONES = {
    "alpha-ionone",
    "beta-ionone",
    "methyl-ionone-mixed",
    "alpha-isomethyl-ionone",
    "alpha-n-methyl-ionone",
    "dihydro-beta-ionone",
}
PEACH_LACTONES = {
    "gamma-decalactone",
    "gamma-undecalactone",
    "gamma-dodecalactone",
    "delta-decalactone",
    "delta-undecalactone",
}

# (missing, any of these, among the first so many), without looking at the documented swaps
BY_PROFILE = [
    ("oakmoss-absolute", {"methyl-atrarate"}, 3),
    ("piperonal", {"3-4-dimethoxybenzaldehyde", "anisaldehyde"}, 5),
    ("eugenol", {"clove-bud-oil"}, 4),
    ("eugenol", {"clove-leaf-oil"}, 4),
    ("clove-bud-oil", {"eugenol"}, 3),
    ("clove-leaf-oil", {"eugenol"}, 3),
    ("alpha-ionone", IONONES, 3),
    ("beta-ionone", IONONES, 3),
    ("gamma-undecalactone", PEACH_LACTONES, 3),
    ("gamma-decalactone", PEACH_LACTONES, 3),
]

# The same with them; the last needs them: words alone put methyl anthranilate eighth or lower for a Schiff
# base.
WITH_EVIDENCE = [
    *BY_PROFILE,
    ("methyl-anthranilate", SCHIFF_BASES, 5),
    *[(name, {"methyl-anthranilate"}, 5) for name in sorted(SCHIFF_BASES)],
]


@pytest.mark.parametrize(("missing", "usual", "most"), BY_PROFILE)
def test_profiles_alone_know_the_trade(plain, missing, usual, most):
    assert usual & set(ranked(plain, missing, top=most))


@pytest.mark.parametrize(("missing", "usual", "most"), WITH_EVIDENCE)
def test_with_evidence_the_trade_is_known(library, missing, usual, most):
    assert usual & set(ranked(library, missing, top=most))


def test_rose_absolute_is_a_source_of_phenethyl_alcohol(library, plain):
    """By constituent: about two thirds of it, so a gram and a half brings one gram. Rose oil has lost it to
    the water.
    """
    holders = {
        entry["id"]: entry["typical_pct"] for entry in library.show("phenethyl-alcohol").to_dict()["held_by"]
    }
    assert max(holders, key=holders.get) == "rose-absolute"
    assert holders["rose-oil"] < 5
    shelf = Shelf((Stock("rose-absolute"), Stock("coumarin")))
    for asked, evidence in ((library, "documented"), (plain, "constituent")):
        answer = asked.swap("phenethyl-alcohol", shelf=shelf).to_dict()["stand_ins"][0]
        assert answer["materials"][0]["id"] == "rose-absolute"
        assert answer["evidence"] == evidence
    assert answer["supply"]["grams_for_one_gram_of"] == pytest.approx(100 / holders["rose-absolute"])
    path = library.neighbours("phenethyl alcohol", to="rose absolute").to_dict()["path"]
    assert [step["id"] for step in path] == ["phenethyl-alcohol", "rose-absolute"]
    assert path[0]["shared"] == "contains"


def test_rose_lies_near_phenethyl_alcohol(library):
    found = [near.id for near in library.neighbours("phenethyl-alcohol", top=8).near]
    assert {"rose-absolute", "rose-oil", "rose-centifolia-absolute"} & set(found)


def test_evidence_switches_off(plain, library):
    assert plain.swaps_by_missing == {}
    assert library.swaps_by_missing
    assert all(answer.evidence != "documented" for answer in plain.swap("oakmoss-absolute", top=20).stand_ins)


# -- the graph -----------------------------------------------------------------------------------------------


def test_edges_have_strengths_between_nothing_and_one(library):
    for edge in edges(library.tables):
        assert 0 < edge.weight <= 1, edge
        assert edge.start != edge.end
        assert edge.relation in ("smells of", "kind of", "contains", "releases")


def test_every_node_of_an_edge_is_a_material_or_a_word(library):
    tables = library.tables
    for kind, name in library.graph:
        assert name in (tables.descriptors if kind == "descriptor" else tables.materials)
        assert kind == "descriptor" or (kind == "material") == tables.materials[name].stocked


def test_paths_do_not_run_through_families(library):
    """Everything meets in a family; that says nothing."""
    families = {word.id for word in library.tables.descriptors.values() if not word.parent}
    for one, other in (("linalool", "indole"), ("oakmoss-absolute", "vanillin"), ("limonene", "ambroxide")):
        steps = path_between(library.graph, ("material", one), ("material", other))
        assert steps[0][0] == ("material", one)
        assert steps[-1][0] == ("material", other)
        assert not families & {name for (kind, name), _ in steps if kind == "descriptor"}


def test_no_path_is_an_empty_one(library):
    import networkx

    graph = networkx.Graph()
    graph.add_node(("material", "a"), label="a")
    graph.add_node(("material", "b"), label="b")
    assert path_between(graph, ("material", "a"), ("material", "b")) == []


# -- the kept arrays -----------------------------------------------------------------------------------------


@pytest.fixture
def counted(monkeypatch, tmp_path):
    """An empty cache folder, and a list that grows with every fit."""
    fitted = []

    def fit(*arguments):
        fitted.append(1)
        return fit_space(*arguments)

    monkeypatch.setenv("SUBSTITUTE_CACHE", str(tmp_path))
    monkeypatch.setattr(space_module, "fit_space", fit)
    return tmp_path, fitted


def test_a_space_is_fitted_once(library, counted):
    folder, fitted = counted
    first, second = load_space(library.tables), load_space(library.tables)
    assert len(fitted) == 1
    assert [path.suffix for path in folder.iterdir()] == [".kept"]  # no half-written neighbour stays behind
    assert first.ids == second.ids
    assert first.words == second.words
    for name in ("shares", "unit", "kernel", "weight"):
        assert (getattr(first, name) == getattr(second, name)).all()


def test_a_broken_file_is_fitted_anew_and_mended(library, counted):
    """Empty, rubbish, a false seal, half a file, and one changed by another hand."""
    folder, fitted = counted
    whole = load_space(library.tables)
    (kept,) = folder.iterdir()
    held = kept.read_bytes()
    other = held[:-8] + b"\0" * 7 + b"\x40"  # the last figure is 2
    for times, damage in enumerate((b"", b"rubbish", b"0" * 64 + b"rubbish!" + b"{", held[:5000], other), 2):
        kept.write_bytes(damage)
        assert (load_space(library.tables).unit == whole.unit).all(), damage[:20]
        assert len(fitted) == times, damage[:20]
        load_space(library.tables)
        assert len(fitted) == times, damage[:20]


def test_other_settings_have_a_file_of_their_own(library, counted):
    folder, fitted = counted
    load_space(library.tables)
    load_space(library.tables, SpaceSettings(heat=0.4))
    assert len(fitted) == 2
    assert len(list(folder.iterdir())) == 2


def test_a_folder_that_cannot_be_written_only_costs_time(library, monkeypatch, tmp_path):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    monkeypatch.setenv("SUBSTITUTE_CACHE", str(blocked))
    assert load_space(library.tables).ids == library.space.ids


def test_own_tables_change_the_digest_and_the_space(library, tmp_path):
    (tmp_path / "profiles.csv").write_text(
        "material,descriptor,weight\nlinalool,leathery,10\n", encoding="utf-8"
    )
    mine = substitute.load(tmp_path)
    assert mine.tables.digest != library.tables.digest
    assert substitute.load(tmp_path).tables.digest == mine.tables.digest
    assert (
        mine.similarity(["linalool", "birch-tar-oil"]).iloc[0, 1]
        > library.similarity(["linalool", "birch-tar-oil"]).iloc[0, 1]
    )


def test_fitting_leaves_global_random_state_alone(library):
    np.random.seed(7)
    before = np.random.get_state()[1].copy()
    fit_space(library.tables)
    assert (np.random.get_state()[1] == before).all()
