"""From what stands on a bottle to a material: ids, names, synonyms, labels and CAS numbers, shared ones
included."""

from __future__ import annotations

import re
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

import substitute
from substitute.records import Material, Tables
from substitute.tables.bottle import cas_is_valid
from substitute.tables.formulas import read_accord
from substitute.tables.names import Names, plain
from substitute.tables.suggest import near_names


def toy(*materials: Material, labels: dict | None = None) -> Names:
    tables = Tables(
        {m.id: m for m in materials}, {}, {}, {}, {}, {}, {}, (), {}, (), (), (), {}, labels=labels or {}
    )
    return Names(tables)


# -- on a toy table whose right answers are known
# ---------------------------------------------------------------------------

BARK = Material(
    "bark-oil", "bark oil", "natural", ("8000-00-0", "8000-01-1"), synonyms=("spice oil", "mixed oil")
)
LEAF = Material("leaf-oil", "leaf oil", "natural", ("8000-01-1", "8000-02-2"), synonyms=("mixed oil",))
ROOT = Material(
    "root-oil", "root oil", "natural", ("8000-02-2", "8000-03-3"), owns_cas=False, synonyms=("bark oil",)
)
TOY = toy(BARK, LEAF, ROOT)


def test_an_own_number_beats_a_shared_one():
    assert TOY.find("8000-00-0").id == "bark-oil"
    assert TOY.find("8000-01-1").id == "leaf-oil"  # bark-oil only shares it


def test_a_number_nobody_owns_leads_to_its_only_holder():
    assert TOY.find("8000-03-3").id == "root-oil"


def test_a_number_that_several_share_asks_which():
    with pytest.raises(
        substitute.InputError,
        match=r"^CAS 8000-02-2 is shared by several materials: say which of leaf-oil, root-oil$",
    ):
        toy(LEAF, ROOT, Material("x", "x", "natural", ("8000-00-0",))).find("8000-02-2")


def test_a_name_beats_another_material_s_synonym():
    assert TOY.find("Bark oil").id == "bark-oil"


def test_a_synonym_of_two_asks_which():
    with pytest.raises(
        substitute.InputError,
        match=r"^'Mixed Oil' may be several materials: say which of bark-oil, leaf-oil$",
    ):
        TOY.find("Mixed Oil")


def test_labels_lead_through_the_cas_number():
    names = toy(BARK, LEAF, labels={"Big Brown Bottle": "8000-01-1"})
    assert names.find("big brown-bottle").id == "leaf-oil"
    names.add_labels({"bark oil": "8000-01-1"})  # a person's own word beats ours
    assert names.find("bark oil").id == "leaf-oil"
    assert names.find("bark-oil").id == "bark-oil"  # an id is always itself


def test_a_label_with_a_number_that_is_not_on_file_says_so():
    with pytest.raises(substitute.NotFound, match=r"^CAS 107-93-7 is not in the tables"):
        toy(BARK, labels={"mystery": "107-93-7"}).find("mystery")


# -- spelling
#
# ---------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("β-Ionone", "beta ionone"),
        ("  Rosé, N°1 ", "rose n 1"),
        ("2,6-Nonadienal", "2 6 nonadienal"),
        ("YLANG—YLANG", "ylang ylang"),
        ("", ""),
        ("★", "★"),
        ("Ёлка й", "ёлка й"),
        ("がぎ", "がぎ"),
        ("λεβάντα α", "λεβαντα alpha"),
        ("Citronellöl", "citronell oil"),
    ],
)
def test_plain(text, key):
    assert plain(text) == key


@given(st.text(max_size=40))
def test_plain_is_stable(text):
    key = plain(text)
    assert plain(key) == key
    assert key == " ".join(key.split())


@given(st.sampled_from("абвгдежзийклмнопрстуфхцчшщъыьэюя"), st.sampled_from("אבגדהוזחטיכלמנסעפצקרשת"))
def test_letters_of_every_script_stay(one, other):
    """Every label of a script that is not Latin once collapsed into one empty key."""
    assert len({plain(one), plain(other), plain(one + other), plain(other + one)}) == 4


@pytest.mark.parametrize(
    "text", ["beta-ionone", "Beta Ionone", "BETA IONONE", "β-ionone", "  beta ionone  ", "14901-07-6"]
)
def test_habits_of_spelling_do_not_matter(library, text):
    assert library.find(text).id == "beta-ionone"


@pytest.mark.parametrize("id", ["oakmoss-absolute", "phenethyl-alcohol", "piperonal", "clove-bud-oil"])
def test_every_name_of_a_material_leads_to_it(library, id):
    material = library.tables.materials[id]
    for text in (material.id, material.name, *material.synonyms, material.main_cas):
        assert library.find(text).id == id, text


def test_every_id_and_name_leads_to_its_material(library):
    for material in library.tables.materials.values():
        assert library.find(material.id) is material
        assert library.find(material.name) is material, material.name


def test_first_numbers_are_owned_once(library):
    owned = Counter(m.cas[0] for m in library.tables.materials.values() if m.cas and m.owns_cas)
    assert [cas for cas, times in owned.items() if times > 1] == []
    for material in library.tables.materials.values():
        if material.cas and material.owns_cas:
            assert library.find(material.cas[0]) is material


def test_bark_and_leaf_share_a_number_that_has_an_owner(library):
    """Cinnamon oils are registered under one number; the bark oil has it first, the leaf oil answers to
    its name."""
    assert library.find("8015-91-6").id == "cinnamon-bark-oil"
    assert "8015-91-6" in library.find("cinnamon leaf oil").cas
    assert not library.find("cinnamon leaf oil").owns_cas


# -- what is not there
# ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "near"),
    [("linalulool", "linalool"), ("eugnol", "eugenol"), ("bergamot terpeneless", "bergamot-oil")],
)
def test_unknown_names_give_the_nearest_and_mention_the_number(library, text, near):
    with pytest.raises(substitute.NotFound) as caught:
        library.find(text)
    assert str(caught.value).startswith(f"'{text}' is not in the tables; nearest: ")
    assert str(caught.value).endswith("; the CAS number on the bottle works too")
    assert caught.value.suggestions[0] == near
    assert all(name in library.tables.materials for name in caught.value.suggestions)


def test_a_number_with_a_wrong_digit_says_so(library):
    with pytest.raises(
        substitute.NotFound,
        match=r"^CAS 64-17-4 fails its check digit; read it on the bottle once more; nearest: 64-17-5$",
    ):
        library.find("64-17-4")


@pytest.mark.parametrize("text", ["", "   ", "★", "zzzzzzzz", "x" * 10_000, "two\nlines", "💐"])
def test_rubbish_is_one_short_line(library, text):
    with pytest.raises(substitute.NotFound) as caught:
        library.find(text)
    assert "is not in the tables" in str(caught.value)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 250


@given(st.text(max_size=30))
def test_any_text_finds_or_fails_politely(library, text):
    try:
        assert library.find(text).id in library.tables.materials
    except substitute.InputError as error:
        assert "\n" not in str(error)


@given(st.integers(2, 7), st.data())
def test_one_wrong_digit_never_passes(digits, data):
    head = data.draw(st.text("0123456789", min_size=digits, max_size=digits))
    pair = data.draw(st.text("0123456789", min_size=2, max_size=2))
    good = next(f"{head}-{pair}-{last}" for last in range(10) if cas_is_valid(f"{head}-{pair}-{last}"))
    assert sum(cas_is_valid(f"{head}-{pair}-{last}") for last in range(10)) == 1
    assert cas_is_valid(good)


# -- short names (common practice, no source: how bottles and orders are written)
# -------------------------------------------

TAKEN = """
bergamot = bergamot-oil; Bergamotte = bergamot-oil; bergamot (FCF) = bergamot-oil-bergapten-free; lemon = lemon-oil
patchouli = patchouli-oil; oakmoss = oakmoss-absolute; Eichenmoos = oakmoss-absolute; mousse de chêne = oakmoss-absolute
lavender = lavender-oil; clove oil = clove-bud-oil; Nelkenblattöl = clove-leaf-oil; absolue de rose = rose-absolute
phenyl ethyl alcohol = phenethyl-alcohol; heliotropine = piperonal; methyl ionone gamma = alpha-isomethyl-ionone
ionone alpha = alpha-ionone; α-ionone = alpha-ionone; a-pinene = alpha-pinene; huile essentielle de vétiver = vetiver-oil
aldehyde C14 = gamma-undecalactone; aldehyde C-16 = ethyl-methylphenylglycidate; Aldehyd C18 = gamma-nonalactone
C-8 aldehyde = octanal; aldehyde C 10 = decanal; C11 undecylenic = 10-undecenal; aldehyde C-12 MNA = 2-methylundecanal
aldehyde C12 lauric = dodecanal; DPG = dipropylene-glycol; IPM = isopropyl-myristate; TEC = triethyl-citrate
DEP = diethyl-phthalate; BB = benzyl-benzoate; PG = propylene-glycol; PEA = phenethyl-alcohol
linaloool = linalool; vanilin = vanillin; patchuli oil = patchouli-oil; eugenole = eugenol; lavander oil = lavender-oil
frankinsense = frankincense-oil; acetato di linalile = linalyl-acetate; Linalylacetat = linalyl-acetate
Citrus Aurantium Bergamia Peel Oil = bergamot-oil; Evernia Prunastri Extract = oakmoss-absolute
Lavandula Angustifolia Oil = lavender-oil; Pogostemon Cablin Oil = patchouli-oil; citral 95% = citral
Linalool 78-70-6 = linalool; linalool (synthetic) = linalool; vetiver Haiti = vetiver-oil; бергамот = bergamot-oil
バニリン = vanillin; κουμαρίνη = coumarin; ونילין = vanillin; sandalwood (Mysore) = sandalwood-oil-east-indian
""".replace("ونילין", "ונילין")
PAIRS = [tuple(part.split(" = ")) for line in TAKEN.strip().splitlines() for part in line.split("; ")]


@pytest.mark.parametrize(("text", "id"), PAIRS)
def test_what_people_write_is_taken(library, text, id):
    assert library.find(text).id == id


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("rose", "rose-oil"),
        ("cinnamon", "cinnamon-bark-oil"),
        ("cedarwood", "cedarwood-oil-virginia"),
        ("aldehyde C12", "dodecanal"),
        ("aldehyde C-11", "10-undecenal"),
        ("ionone", "beta-ionone"),
        ("carvone", "l-carvone"),
        ("linalool 60-12-8", "linalool"),
    ],
)
def test_several_are_asked_likeliest_first(library, text, first):
    with pytest.raises(substitute.Several) as caught:
        library.find(text)
    assert caught.value.suggestions[0] == first
    assert len(caught.value.suggestions) > 1
    assert all(name in library.tables.materials for name in caught.value.suggestions)


@pytest.mark.parametrize("text", ["pineapple", "musk", "amber", "violet", "Maiglöckchen", "leather", "море"])
def test_a_word_for_a_note_is_not_a_material(library, text):
    with pytest.raises(
        substitute.NotFound, match="is a word for a note, not a material; what gives it: "
    ) as caught:
        library.find(text)
    assert caught.value.note
    assert caught.value.suggestions


@pytest.mark.parametrize(
    "text",
    [
        "v\u0430nillin",
        "rose synthetic",
        "bergamot terpeneless",
        "musk rose accord",
        "hexanol-decanal",
        "lime blossom base",
    ],
)
def test_what_tells_apart_is_never_passed_over(library, text):
    with pytest.raises(substitute.InputError):
        library.find(text)


def test_a_reading_says_what_was_taken_and_what_was_not_looked_at(library):
    read = library.names.read
    assert read("linalool").plain
    assert str(read("bergamot")) == (
        "'bergamot' read as bergamot oil, cold pressed; if you mean another: bergamot-oil-bergapten-free"
    )
    assert read("vetiver Haiti organic").left_out in (("haiti", "organic"), ("organic",))
    assert (read("indole 10 % in DPG").material.id, read("indole 10 % in DPG").strength) == ("indole", 10)
    assert read("citral 95%").strength is None
    with pytest.raises(substitute.InputError, match="names a solvent but no strength"):
        read("indole in DPG")


# Remarks in brackets, two numbers, grades and forms: id that is taken, what was not looked at (common practice, no
# source: how labels are written).
REMARKS = [
    ("zzz (linalool)", "linalool", ()),
    ("muguet (hydroxycitronellal)", "hydroxycitronellal", ()),
    ("muguet (linalool) (linalool)", "linalool", ()),
    ("carvone (l-carvone)", "l-carvone", ()),
    ("rose (rose absolute)", "rose-absolute", ()),
    ("rose oil (rose)", "rose-oil", ()),  # what the remark leaves open the name outside has said
    ("bergamot oil (bergamot)", "bergamot-oil", ()),
    ("vetiver (strange) (haiti)", "vetiver-oil", ("strange", "haiti")),
    ("linalool ex bois de rose", "linalool", ("ex bois de rose",)),
    ("linalool 78-70-6 [78-70-6]", "linalool", ()),
    ("orange oil (natural)", "sweet-orange-oil", ("natural",)),
    ("cardamom seed", "cardamom-oil", ()),
]


@pytest.mark.parametrize(("text", "id", "left_out"), REMARKS)
def test_remarks_in_brackets_are_heard_first(library, text, id, left_out):
    reading = library.names.read(text)
    assert (reading.material.id, reading.left_out) == (id, left_out)
    assert not reading.sure


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        ("vanillin (coumarin)", ("vanillin", "coumarin")),
        ("rose oil (damask rose) (geraniol)", ("rose-oil", "geraniol")),
        ("muguet (linalool) (coumarin)", ("linalool", "coumarin")),
        ("78-70-6 64-17-5", ("linalool", "ethanol")),
        ("rose (rose)", ("rose-oil", "rose-absolute", "rose-centifolia-absolute")),
    ],
)
def test_remarks_that_name_another_material_ask_which(library, text, ids):
    with pytest.raises(substitute.Several, match="say which") as caught:
        library.names.read(text)
    assert tuple(caught.value.suggestions[: len(ids)]) == ids


@pytest.mark.parametrize(
    "text",
    [
        "linalool (amber)",  # a word that tells materials apart
        "rose (aldehyde)",
        "blue zed (haiti)",  # nothing but the remark is known, and a place is no material
        "zed distilled",  # a quality of nothing on file
        "distilled",
        "oil absolute",  # forms of nothing
        "rose seed",  # the oil is won from another part
        "synthetic lavender oil",
        "linalool / coumarin",
    ],
)
def test_what_is_left_of_a_name_is_not_guessed_at(library, text):
    with pytest.raises(substitute.NotFound, match="is not in the tables"):
        library.names.read(text)


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        ("lavender extract", ["lavender-absolute"]),  # an extract is any form that is not distilled
        ("lemon peel", ["lemon-oil"]),  # a form that is missing is filled in
        ("jasmine extract", ["jasmine-absolute", "jasmine-sambac-absolute"]),
        ("oakmoss extract", ["oakmoss-absolute", "oakmoss-absolute-classical", "treemoss-absolute"]),
        ("hyacinth extract", ["hyacinth-absolute"]),
        ("acetylated vetiver", ["acetylated-vetiver-oil"]),
    ],
)
def test_a_form_that_is_written_holds_and_a_missing_one_is_filled_in(library, text, ids):
    reading = library.names.read(text)
    assert [reading.material.id, *reading.others] == ids


@pytest.mark.parametrize(
    ("text", "ids"),
    [
        ("coffee extract", ["coffee-absolute", "coffee-co2-extract"]),
        ("orris extract", ["orris-absolute", "orris-resinoid"]),
        ("fir oil", ["fir-needle-oil-siberian", "fir-balsam-oil"]),
        ("lippia citriodora", ["lemon-verbena-oil", "lemon-verbena-absolute"]),  # the oil before the absolute
        ("immortelle flower italicum", ["immortelle-oil", "immortelle-absolute"]),
    ],
)
def test_forms_that_two_materials_have_ask_which(library, text, ids):
    with pytest.raises(substitute.Several) as caught:
        library.names.read(text)
    assert list(caught.value.suggestions) == ids


@pytest.mark.parametrize(
    "text", ["patchouli absolute", "rose resinoid", "lemon absolute", "lavender absolute oil"]
)
def test_a_form_that_is_not_on_file_is_no_other_form(library, text):
    with pytest.raises(substitute.NotFound):
        library.names.read(text)


def test_two_letters_are_too_few_for_a_hint(library):
    for text in ("zq", "?!", "a b"):
        assert near_names(library.names.index, text) == []
    assert near_names(library.names.index, "linalol")[0] == "linalool"


def test_a_pressed_oil_is_never_taken_for_a_distilled_one(library):
    """The distilled quality of a citrus oil is another material, or none on file (common practice, no source)."""
    materials = library.tables.materials
    pressed = [one for one in materials.values() if one.process == "expressed" and one.stocked]
    assert len(pressed) > 5
    for material in pressed:
        try:
            found = library.names.read(f"distilled {material.name.split(',')[0]}").material
        except substitute.InputError:
            continue
        assert found.process != "expressed", material.id


def test_a_reading_of_a_solution_says_its_strength(library):
    assert str(library.names.read("indole 10 % in DPG")) == (
        "'indole 10 % in DPG' read as indole, a solution of 10 %"
    )
    assert library.names.read("78-70-6").strength is None
    assert library.names.read("CAS 78-70-6 10 %").strength == 10


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (
            "linalool 70 %",
            "says 70 %; is it a solution (then name the solvent) or the purity (then leave it out)?",
        ),
        ("linalool 101 %", "says 101 %; a strength is above 0 to 100"),
        ("linalool 0 %", "says 0 %; a strength is above 0 to 100"),
        ("78-70-6 70 %", "says 70 %; is it a solution"),
    ],
)
def test_a_percentage_that_may_mean_two_things_is_asked_about(library, text, why):
    with pytest.raises(substitute.InputError, match=re.escape(f"'{text}' {why}")):
        library.names.read(text)


@pytest.mark.parametrize(
    ("labels", "message"),
    [
        ({"Hay jar": "91-64-5", "hay JAR": "78-70-6"}, "labels: 'hay JAR' and 'Hay jar' read alike"),
        ({"hay jar": "barkoil"}, "label 'hay jar': 'barkoil' is not a known id"),
    ],
)
def test_labels_given_as_a_mapping_are_checked_too(labels, message):
    with pytest.raises(substitute.InputError, match=message):
        toy(BARK, LEAF, labels=labels)


def test_aliases_name_each_material_once_and_clash_with_no_name(library):
    from substitute.tables.names import plain as key

    own = {}
    for material in library.tables.materials.values():
        own.setdefault(key(material.name), material.id)
    first = {}
    for row in library.tables.aliases:
        if row.rank == 1:
            assert first.setdefault(key(row.alias), row.material) == row.material, row.alias
            assert own.get(key(row.alias), row.material) == row.material, row.alias
            held = library.tables.materials[row.material]
            assert held.stocked or row.use != "note", row.alias
    assert len(first) >= 400


def test_every_stocked_material_answers_to_its_botanical_name_or_says_which(library):
    missed = []
    for material in library.tables.materials.values():
        if material.kind == "natural" and material.stocked and "(" not in material.botanical:
            species = (
                material.botanical.split(";")[0].split("/")[0].split(" and ")[0].split(" or ")[0].strip()
            )
            if len(species.split()) != 2:
                continue
            try:
                found = [library.find(species).id, *library.names.read(species).others]
            except substitute.InputError as error:
                found = error.suggestions
            if material.id not in found:
                missed.append((species, material.id))
    assert missed == []


# -- a person's own bottles
# -------------------------------------------------------------------------------------------------


def test_the_demo_labels_all_lead_somewhere():
    demo = substitute.load().demo
    library = substitute.load(labels=demo / "labels.csv")
    own = [
        line.split(",")[0].strip('"')
        for line in (demo / "labels.csv").read_text(encoding="utf-8").splitlines()[1:]
    ]
    assert library.find("blue tin 3").id == "phenethyl-alcohol"
    assert len(own) >= 5


def test_labels_and_numbers_name_lines_of_an_accord(tmp_path):
    (tmp_path / "labels.csv").write_text('label,cas\n"Jar, small",91-64-5\n', encoding="utf-8")
    (tmp_path / "accord.csv").write_text('material,parts\n"JAR small",2\n78-70-6,3\n', encoding="utf-8")
    library = substitute.load(labels=tmp_path / "labels.csv")
    assert read_accord(tmp_path / "accord.csv", library.names).active() == {"coumarin": 2.0, "linalool": 3.0}


def test_labels_of_any_script_stay_apart_and_may_name_an_id(tmp_path):
    text = "label,cas\nмох,9000-50-4\nваниль,121-33-5\nמוס,91-64-5\n苔,78-70-6\nجرة,linalyl-acetate\n"
    (tmp_path / "labels.csv").write_text(text, encoding="utf-8")
    find = substitute.load(labels=tmp_path / "labels.csv").find
    assert [find(label).id for label in ("Мох", "ВАНИЛЬ", "מוס", "苔", "جرة")] == [
        "oakmoss-absolute",
        "vanillin",
        "coumarin",
        "linalool",
        "linalyl-acetate",
    ]


def test_labels_in_own_tables_count_too(tmp_path):
    (tmp_path / "labels.csv").write_text("label,cas\nhay jar,91-64-5\n", encoding="utf-8")
    assert substitute.load(tmp_path).find("Hay Jar").id == "coumarin"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "label,cas\nhay jar,Coumarin!\n",
            "row 2, column cas: 'Coumarin!' is neither a CAS number (digits-dd-d, as on the bottle) nor an id",
        ),
        ("label,cas\nhay jar,91-64-6\n", "row 2, column cas: 91-64-6 fails its check digit"),
        ("label,cas\nмох,91-64-5\nМОХ,78-70-6\n", "row 3, column label: 'МОХ' and 'мох' read alike"),
        ("label,cas\n,1\nhay,2-3\n", "(and 2 more; `substitute check` lists them)"),
        ("label,cas\n,91-64-5\n", "row 2, column label: is empty; the name on the bottle is wanted"),
        ("label,number\nhay jar,91-64-5\n", "row 1, column cas: the header lacks this column"),
        ("", "is empty; a header with label, cas is wanted"),
    ],
)
def test_faulty_labels_are_named(tmp_path, text, message):
    path = tmp_path / "labels.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(substitute.TableError) as caught:
        substitute.load(labels=path)
    assert message in str(caught.value)
