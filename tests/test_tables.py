"""Names, CAS numbers, and a person's own tables laid over ours."""

import pytest

import substitute
from substitute.errors import InputError
from substitute.tables.bottle import cas_is_valid
from substitute.tables.load import load_tables
from substitute.tables.name_index import NameIndex
from substitute.tables.schema import Field
from substitute.tables.typed import read_all


@pytest.mark.parametrize(
    ("text", "id"),
    [
        ("linalool", "linalool"),
        ("Linalool", "linalool"),
        ("78-70-6", "linalool"),
        ("α-ionone", "alpha-ionone"),
        ("PHENETHYL ALCOHOL", "phenethyl-alcohol"),
        ("heliotropin", "piperonal"),
        ("9000-50-4", "oakmoss-absolute"),
    ],
)
def test_a_material_answers_to_many_names(library, text, id):
    assert library.find(text).id == id


def test_every_number_on_file_leads_somewhere(library):
    """A shared number leads to its owner; where several own one, the message names them."""
    for material in library.tables.materials.values():
        for cas in material.cas:
            try:
                assert cas in library.find(cas).cas
            except substitute.InputError as error:
                assert "is shared by several materials: say which of" in str(error)


def test_unknown_names_and_numbers(library):
    with pytest.raises(
        substitute.NotFound,
        match=r"'linalulool' is not in the tables; nearest: linalool.*the CAS number on the bottle works too",
    ) as caught:
        library.find("linalulool")
    assert caught.value.suggestions[0] == "linalool"
    with pytest.raises(substitute.NotFound, match="CAS 107-93-7 is not in the tables"):
        library.find("107-93-7")


def test_check_digits():
    assert cas_is_valid("78-70-6")
    assert not cas_is_valid("78-70-5")
    assert not cas_is_valid("78-70")
    for text in ("", "-", "linalool", "78-7o-6", "78-70-x", "6"):
        assert not cas_is_valid(text)


def test_views_of_the_tables(library):
    assert library.materials.loc["linalool", "cas"].split(";")[0] == "78-70-6"
    assert library.profile("coumarin")["coumarinic"] >= 5
    table = library.similarity(["coumarin", "vanillin", "atranol"])
    assert table.loc["coumarin", "coumarin"] == pytest.approx(1)
    assert table.loc["coumarin", "vanillin"] == pytest.approx(table.loc["vanillin", "coumarin"])
    assert 0 < table.loc["coumarin", "vanillin"] < 1
    assert table["atranol"].isna().all()


def lay(folder, **tables):
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text)
    return folder


def test_own_rows_replace_ours_one_by_one(library, tmp_path):
    lay(
        tmp_path,
        constituents="natural,constituent,typical_pct\nclove-bud-oil,eugenol,71\n",
        limits="limit_set,substance,category,max_pct,rule\nifra-51,eugenol,4,1.25,max\n",
        profiles="material,descriptor,weight\neugenol,clove,9\n",
        materials="id,name,kind,stocked\nmy-base,my base,mixture,yes\n",
        prices="material,price\nvanillin,dear\nmy-base,cheap\n",
        hazards="material,hazard,words\nmy-base,eyes,stings mine\nvanillin,eyes,stings mine too\n",
    )
    mine = substitute.load(tmp_path)
    row = next(r for r in mine.tables.constituents["clove-bud-oil"] if r.id == "eugenol")
    assert (row.low, row.typical, row.high, row.own) == (71, 71, 71, True)
    assert len(mine.tables.constituents["clove-bud-oil"]) == len(library.tables.constituents["clove-bud-oil"])
    assert [
        r.max_pct
        for r in mine.tables.limits
        if (r.limit_set, r.substance, r.category, r.rule) == ("ifra-51", "eugenol", "4", "max")
    ] == [1.25]
    assert mine.profile("eugenol")["clove"] == 9
    assert set(mine.profile("eugenol")) == set(library.profile("eugenol"))
    assert mine.find("my base").id == "my-base"
    assert (mine.tables.prices["vanillin"].word, mine.tables.prices["vanillin"].basis) == ("dear", "practice")
    assert mine.tables.prices["my-base"].step == 0
    assert library.tables.prices["vanillin"].word == "cheap"
    assert [one.words for one in mine.tables.hazards["my-base"]] == ["stings mine"]
    ours = {one.hazard: one for one in library.tables.hazards["vanillin"]}
    theirs = {one.hazard: one for one in mine.tables.hazards["vanillin"]}
    assert {k: v for k, v in theirs.items() if k != "eyes"} == {k: v for k, v in ours.items() if k != "eyes"}
    assert theirs["eyes"].words == "stings mine too"
    assert mine.tables.digest != library.tables.digest


def test_argument_then_variable_then_none(tmp_path, monkeypatch):
    one, other = tmp_path / "one", tmp_path / "other"
    for folder, weight in ((one, 3), (other, 4)):
        folder.mkdir()
        lay(folder, profiles=f"material,descriptor,weight\neugenol,clove,{weight}\n")
    monkeypatch.setenv("SUBSTITUTE_TABLES", str(one))
    assert substitute.load().profile("eugenol")["clove"] == 3
    assert substitute.load(other).profile("eugenol")["clove"] == 4
    monkeypatch.setenv("SUBSTITUTE_TABLES", str(tmp_path / "none"))
    with pytest.raises(
        substitute.InputError, match="there is no such folder of tables \\(from SUBSTITUTE_TABLES\\)"
    ):
        substitute.load()


BAD = {
    "price": (
        {"prices": "material,price\nvanillin,deer\n"},
        "prices.csv, row 2, column price: 'deer' is not allowed: one of cheap, ordinary, dear, very dear, "
        "precious; nearest is 'dear'",
    ),
    "hazard": (
        {"hazards": "material,hazard,words\nvanillin,burn,x\n"},
        "hazards.csv, row 2, column hazard: 'burn' is not allowed: one of sensitises, light",
    ),
    "cas": (
        {"materials": "id,name,kind,stocked,cas\nx,x,molecule,yes,78-70-5\n"},
        "materials.csv, row 2, column cas: '78-70-5' fails its check digit",
    ),
    "limit": (
        {"limits": "limit_set,substance,category,max_pct,rule\nifra-51,eugenol,4,101,max\n"},
        "limits.csv, row 2, column max_pct: 101 is out of range: allowed is 0 to 100",
    ),
    "category": (
        {"limits": "limit_set,substance,category,max_pct,rule\nifra-51,eugenol,44,1,max\n"},
        "row 2, column category: '44' is no category of ifra-51",
    ),
    "substance": (
        {"limits": "limit_set,substance,category,max_pct,rule\nifra-51,eugenoll,4,1,max\n"},
        "row 2, column substance: 'eugenoll' is neither a material nor a group; nearest is 'eugenol'",
    ),
    "two figures": (
        {
            "limits": "limit_set,substance,category,max_pct,rule\nifra-51,eugenol,4,1,max\nifra-51,eugenol,4,2,max\n"
        },
        "row 3, column limit_set: 'ifra-51, eugenol, 4, max' stands already in row 2",
    ),
    "rule": (
        {"limits": "limit_set,substance,category,max_pct,rule\nifra-51,eugenol,4,1,most\n"},
        "row 2, column rule: 'most' is not allowed: one of max, prohibited",
    ),
    "circle": (
        {"groups": "group,material,weight\na,b,1\nb,a,1\n"},
        "groups.csv, row 2, column material: the group 'a' contains itself",
    ),
    "date": (
        {"limit_sets": "id,title,market,in_force,source\nmine,mine,EU,soon,own\n"},
        "limit_sets.csv, row 2, column in_force: 'soon' is not a date: allowed is YYYY-MM-DD",
    ),
    "sum": (
        {"constituents": "natural,constituent,typical_pct\nrose-oil,geraniol,60\nrose-oil,citronellol,50\n"},
        "the typical shares of 'rose-oil' sum to 110, over 100",
    ),
    "order": (
        {"constituents": "natural,constituent,low_pct,typical_pct,high_pct\nrose-oil,geraniol,9,5,8\n"},
        "row 2, column low_pct: 9 is above typical_pct 5",
    ),
    "word": (
        {"profiles": "material,descriptor,weight\neugenol,clover,5\n"},
        "row 2, column descriptor: 'clover' is not a known id of descriptors.csv; nearest is 'clove'",
    ),
    "weight": (
        {"profiles": "material,descriptor,weight\neugenol,clove,11\n"},
        "row 2, column weight: 11 is out of range: allowed is 1 to 10",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_faults_in_own_tables_are_named(tmp_path, case):
    tables, message = BAD[case]
    with pytest.raises(substitute.TableError) as caught:
        substitute.load(lay(tmp_path, **tables))
    assert message in str(caught.value)


FAULTS_BETWEEN_CELLS = {
    "materials": (
        "id,name,kind,stocked,cas,family,assessed\n"
        "x,x,molecule,yes,78-70-6,wood,\n"
        "z,z,molecule,yes,78-70-6,lemon,\n"
        "y,y,natural,yes,78-70-5,citrus,all;eugenoll\n",
        {
            "row 2, column family: 'wood' is not a known id of descriptors.csv; nearest is 'woody'",
            "row 3, column family: 'lemon' is not a family",
            "row 4, column cas: '78-70-5' fails its check digit; read it on the bottle once more",
            "row 4, column assessed: 'eugenoll' is not a known material; nearest is 'eugenol'",
        },
    ),
    "properties": (
        "material,property,value\neugenol,potency,-1\neugenol,log_p,-1\n",
        {"row 2, column value: -1 is out of range: potency is 0 or more"},
    ),
    "constituents": (
        "natural,constituent,low_pct,typical_pct,high_pct\n"
        "rose-oil,geraniol,,5,4\nrose-oil,rose-oil,,1,\nlemon-oil,rose-oil,,1,\n",
        {
            "row 2, column high_pct: 4 is under typical_pct 5",
            "row 3, column constituent: 'rose-oil' cannot contain itself",
            "row 3, column constituent: 'rose-oil' is a natural; a constituent is a molecule",
            "row 4, column constituent: 'rose-oil' is a natural; a constituent is a molecule",
        },
    ),
    "descriptors": (
        "id,name,parent,definition\n"
        + "".join(f"own{i},own {i},,ours\n" for i in range(19))
        + "a,a,b,ours\nb,b,a,ours\n",
        {
            "column parent: 35 families; at most 18",
            "row 21, column parent: 'a' is its own ancestor; the words must form a tree",
            "row 22, column parent: 'b' is its own ancestor; the words must form a tree",
        },
    ),
    "groups": (
        "group,material,weight\neugenol,linalool,1\nours,linalol,1\na,b,1\nb,c,1\nb,d,1\nc,linalool,1\nd,a,1\n",
        {
            "row 2, column group: 'eugenol' is a material's id; a group needs one of its own",
            "row 3, column material: 'linalol' is neither a material nor a group; nearest is 'linalool'",
            "row 4, column material: the group 'a' contains itself",
            "row 6, column material: the group 'b' contains itself",
            "row 8, column material: the group 'd' contains itself",
        },
    ),
    "limits": (
        "limit_set,substance,category,max_pct,rule\nifra-51,coumarin,4,1,max\nifra-51,coumarin,4,0,prohibited\n",
        {"row 3, column max_pct: two figures for ifra-51, coumarin, 4: rules max and prohibited"},
    ),
    "swaps": (
        "missing,stand_in,because\nlinalool,linalool,price\n",
        {"row 2, column stand_in: 'linalool' cannot stand in for itself"},
    ),
}


def test_faults_between_cells_are_all_told_at_once(tmp_path):
    """Every complaint that needs more than one cell, in one reading, and none besides: a weight below zero of a
    property that has a sign, a group that holds another and a lot's own shares are no faults."""
    lay(tmp_path, **{name: text for name, (text, _) in FAULTS_BETWEEN_CELLS.items()})
    found: dict[str, set[str]] = {}
    for complaint in read_all(tmp_path)[3]:
        file, _, told = str(complaint).removeprefix(f"{tmp_path}/").partition(", ")
        found.setdefault(file, set()).add(told)
    assert found == {f"{name}.csv": wanted for name, (_, wanted) in FAULTS_BETWEEN_CELLS.items()}


def test_check_lists_everything_and_changes_nothing(library, tmp_path):
    lay(
        tmp_path,
        limits="limit_set,substance,category,max_pct,rule\nifra-51,eugenol,4,101,max\nifra-99,eugenol,4,1,max\n",
    )
    before = (tmp_path / "limits.csv").read_bytes()
    found = library.check(str(tmp_path / "limits.csv"))
    assert len(found.complaints) >= 1
    assert (tmp_path / "limits.csv").read_bytes() == before
    empty = tmp_path / "nothing"
    empty.mkdir()
    assert "holds neither tables nor accords" in str(library.check(str(empty)).complaints[0])


def test_graph_nodes_are_typed_and_words_form_a_tree(library):
    assert {node[0] for node in library.graph} == {"material", "constituent", "descriptor"}
    for word in library.tables.descriptors.values():
        assert not word.parent or not library.tables.descriptors[word.parent].parent
    found = library.neighbours("oakmoss absolute", to="vetiver oil")
    assert (found.path[0].id, found.path[-1].id) == ("oakmoss-absolute", "vetiver-oil")
    assert library.neighbours("mossy").near[0].id in (
        "oakmoss-absolute",
        "methyl-atrarate",
        "oakmoss-absolute-classical",
    )
    assert library.neighbours("bergapten").near[0].shared[0].startswith("holds")


def test_related_words_are_near(library):
    space = library.space
    mossy, earthy, woody, banana = (
        space.word_vector(word) for word in ("mossy", "earthy", "woody", "banana")
    )
    assert mossy @ earthy > 5 * (mossy @ banana)
    assert mossy @ woody > 5 * (mossy @ banana)


def test_an_own_material_without_potency_is_no_match_of_one(tmp_path):
    (tmp_path / "materials.csv").write_text("id,name,kind,stocked\nmy-base,my base,mixture,yes\n")
    (tmp_path / "profiles.csv").write_text("material,descriptor,weight\nmy-base,woody,5\n")
    accord = tmp_path / "shelf-mark.csv"
    accord.write_text("material,parts\nmy-base,30\nlinalool,2\nbenzyl-acetate,3\n")
    own = substitute.load(tmp_path)
    with pytest.raises(InputError, match="without my-base: no potency is on file"):
        own.adjust(accord, without=["my-base"])
    told = own.adjust(accord, without=["linalool"]).to_dict()["cautions"]
    assert "my base: no potency is on file, so the match does not hear it" in told


def test_what_is_kept_is_sealed_and_reads_the_same(tmp_path, monkeypatch):
    monkeypatch.setenv("SUBSTITUTE_CACHE", str(tmp_path / "cache"))
    fresh = load_tables()
    path = next((tmp_path / "cache").glob("tables-*.kept"))
    again = load_tables()
    assert again == fresh
    whole = path.read_bytes()
    path.write_bytes(whole.replace(b"linalool", b"limalool"))  # somebody's hand in it
    assert load_tables() == fresh
    assert path.read_bytes() == whole
    path.write_bytes(whole[:1000])
    assert load_tables() == fresh


def test_names_from_the_kept_index_are_the_same(tables, tmp_path, monkeypatch):
    monkeypatch.setenv("SUBSTITUTE_CACHE", str(tmp_path))
    built, kept = NameIndex(tables), NameIndex(tables)
    assert len(list(tmp_path.glob("names-*.kept"))) == 1
    for what in ("exact", "sure", "vocabulary", "plant_words", "_derived", "_plants"):
        assert getattr(built, what) == getattr(kept, what)
    assert list(built.exact) == list(kept.exact)  # ties between near names go by order


@pytest.mark.parametrize(
    ("type", "rules", "text", "read"),
    [
        ("string", {"required": True}, "  ", "is empty and must not be"),
        ("number", {"required": True}, "", "is empty and must not be"),
        ("string", {}, " ", ""),
        ("number", {}, "", None),
        ("date", {}, "", None),
        ("string", {"pattern": "[a-z]+"}, "a1", "'a1' has not the form [a-z]+"),
        ("string", {"pattern": "[a-z]+"}, "ab", "ab"),
        (
            "string",
            {"enum": ["near", "far"]},
            "fare",
            "'fare' is not allowed: one of near, far; nearest is 'far'",
        ),
        ("number", {"minimum": 0, "maximum": 1}, "1", 1.0),
        ("number", {"minimum": 0, "maximum": 1}, "1.01", "1.01 is out of range: allowed is 0 to 1"),
    ],
)
def test_a_cell_is_read_by_the_rules_of_its_column(type, rules, text, read):
    try:
        found = Field("x", type, constraints=rules).read(text, InputError)
    except InputError as error:
        found = str(error)
    assert found == read


def test_a_folder_without_tables_is_named(tmp_path):
    (tmp_path / "notes.csv").write_text("x")
    with pytest.raises(InputError, match=r"holds none of the tables \(materials.csv, "):
        read_all(tmp_path)
