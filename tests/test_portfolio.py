"""Many accords at once: the same arithmetic as one accord, changes between sets, mending, and what may be wrong with a portfolio."""

from __future__ import annotations

import csv
import datetime as dt
import json
import random
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from effort import examples, thorough
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import substitute
from substitute.errors import InputError
from substitute.figures import as_known
from substitute.library import Library
from substitute.records import Accord, Limit, LimitSet, Line
from substitute.rules import portfolio_kept
from substitute.rules.compiled import compiled_for
from substitute.rules.judge import judge
from substitute.rules.portfolio import Screener, judge_all
from substitute.rules.portfolio_columns import compile_columns
from substitute.rules.portfolio_kept import columns_for
from substitute.tables import portfolios
from substitute.tables.portfolios import Portfolio

pa = pytest.importorskip("pyarrow")
pq = pytest.importorskip("pyarrow.parquet")


@pytest.fixture(scope="module")
def demo(library):
    return substitute.load(library.demo / "rules")


def random_accords(library, count: int, seed: int, most: int = 30) -> list[Accord]:
    """Accords of any materials, with strengths, zero lines and repeated materials; amounts over many powers of ten."""
    rng = random.Random(seed)
    ids = list(library.tables.materials)
    naturals = [name for name in ids if library.tables.materials[name].kind == "natural"]
    found = []
    for number in range(count):
        lines = []
        for _ in range(rng.randint(1, most)):
            name = rng.choice(naturals if rng.random() < 0.3 else ids)
            parts = 0.0 if rng.random() < 0.05 else round(10 ** rng.uniform(-4, 3), 6)
            lines.append(Line(name, parts, rng.choice([100.0, 100.0, 10.0, 1.0, 0.1])))
        lines.append(Line(rng.choice(["ethanol", lines[0].material]), round(10 ** rng.uniform(0, 6), 3)))
        found.append(Accord(f"accord-{number}", tuple(lines)))
    return found


def write_long(path: Path, accords, delimiter: str = ",") -> Path:
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, delimiter=delimiter)
        writer.writerow(["accord", "material", "parts", "strength_pct"])
        for accord in accords:
            writer.writerows(
                [accord.name, line.material, repr(line.parts), line.strength] for line in accord.lines
            )
    return path


def write_parquet(path: Path, accords, **options) -> Path:
    rows = [
        (accord.name, line.material, line.parts, line.strength) for accord in accords for line in accord.lines
    ]
    pq.write_table(
        pa.table(dict(zip(("accord", "material", "parts", "strength_pct"), map(list, zip(*rows))))),
        path,
        **options,
    )
    return path


def one_by_one(library, accords, context, dose):
    """Breaches and unknown counts from verdicts of single accords."""
    breaches, unknown, doubtful = {}, {}, 0
    for accord in accords:
        verdict = judge(compiled_for(library.exposure, context), accord.active(), accord.total, dose)
        for row in verdict.broken:
            breaches[accord.name, row.substance, row.limit_set, row.rule, row.category] = (
                row.limit_pct,
                row.used if row.rule == "sum_of_fractions" else row.found_pct,
            )
        doubtful += bool(verdict.unknown)
        for row in verdict.unknown:
            key = row.substance, row.limit_set
            unknown[key] = unknown.get(key, 0) + 1
    return breaches, unknown, doubtful


def assert_same(library, accords, path, *, dose, workers=1, **where):
    found = library.screen(path, dose=dose, workers=workers, **where)
    answer = found.to_dict()
    context = library.context(**where)
    breaches, unknown, doubtful = one_by_one(library, accords, context, dose)
    mine = {
        (b["accord"], b["substance"], b["limit_set"], b["rule"], b["category"]): (
            b["limit_pct"],
            b["times"] if b["rule"] == "sum_of_fractions" else b["found_pct"],
        )
        for b in answer["breaches"]
    }
    assert mine.keys() == breaches.keys()
    for key, (limit, amount) in breaches.items():
        assert mine[key][0] == limit, key
        assert mine[key][1] == pytest.approx(amount, rel=1e-9), key
    counted = {}
    for row in answer["unknown"]["by_substance"]:
        key = row["substance"], row["limit_set"]
        counted[key] = counted.get(key, 0) + row["accords"]
    assert counted == unknown
    assert answer["unknown"]["accords"] == doubtful
    assert answer["accords"] == len(accords)
    assert not answer["rejected"]
    return answer


# -- the same as one accord at a time --------------------------------------------------------------------------------------


@pytest.mark.parametrize(("where", "dose"), [
    ({"product": "fine-fragrance"}, 20.0), ({"product": "hand-lotion"}, 0.5), ({"category": "5A"}, 3.0),
    ({"product": "fine-fragrance", "limits": ("ifra-49",)}, 100.0), ({"category": "1", "market": "UK"}, 1.0),
])  # fmt: skip
def test_random_accords_as_judged_one_by_one(library, tmp_path, where, dose):
    accords = random_accords(library, 250, 7)
    answer = assert_same(library, accords, write_long(tmp_path / "many.csv", accords), dose=dose, **where)
    rules = {b["rule"] for b in answer["breaches"]}
    if "limits" not in where:
        assert {"max", "prohibited", "prohibited_as_such"} <= rules


def test_every_kind_of_rule_occurs(library, tmp_path):
    accords = random_accords(library, 600, 3)
    answer = assert_same(
        library,
        accords,
        write_parquet(tmp_path / "many.parquet", accords),
        dose=50,
        product="fine-fragrance",
        workers=2,
    )
    assert {"max", "prohibited", "prohibited_as_such", "grade", "sum_of_fractions"} <= {
        b["rule"] for b in answer["breaches"]
    }


def test_demo_accords_as_judged_one_by_one(library, demo):
    accords, rejected = library.read_accords(library.demo / "accords")
    assert not rejected
    products = ("room-spray", "hand-lotion", "fine-fragrance")
    for product in products if thorough() else products[:1]:  # the others: random accords, above
        assert_same(library, accords, library.demo / "accords", dose=20, product=product)
    for one in ("demo-2026", "demo-2027"):
        assert_same(demo, accords, library.demo / "accords", dose=15, product="hand-lotion", limits=(one,))


def test_own_lots_let_the_alternative_govern(library, tmp_path):
    """A lot analysis of every oil of a sum, for what the alternative limits: the alternative governs, the single limits do not."""
    group = next(
        row.substance
        for row in library.tables.limits
        if row.rule == "alternative" and row.limit_set == "ifra-51"
    )
    sums = next(
        row.substance
        for row in library.tables.limits
        if row.rule == "sum_of_fractions" and row.limit_set == "ifra-51"
    )
    oils = [
        name for name in library.exposure.members(sums) if library.tables.materials[name].kind == "natural"
    ][:4]
    tables = tmp_path / "own"
    tables.mkdir()
    lines = ["natural,constituent,low_pct,typical_pct,high_pct"]
    for oil in oils[:3]:
        for name in library.exposure.members(group):
            lines.append(f"{oil},{name},0.001,0.002,{0.003 if oil != oils[0] else 5}")
    (tables / "constituents.csv").write_text("\n".join(lines) + "\n")
    own = substitute.load(tables)
    rng = random.Random(5)
    accords = []
    for number in range(120):
        some = rng.sample(oils, rng.randint(0, 2)) + rng.sample(
            ["linalool", "ethanol", "coumarin", "lavender-oil"], 2
        )
        accords.append(
            Accord(f"a{number}", tuple(Line(name, round(10 ** rng.uniform(-1, 3), 3)) for name in some))
        )
    answer = assert_same(
        own, accords, write_long(tmp_path / "lots.csv", accords), dose=20, product="fine-fragrance"
    )
    assert "alternative" in {b["rule"] for b in answer["breaches"]}


@settings(
    max_examples=examples(25), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.integers(0, 10**6), st.floats(0.01, 100))
def test_any_accords_at_any_dose(library, tmp_path, seed, dose):
    accords = random_accords(library, 12, seed)
    assert_same(
        library, accords, write_long(tmp_path / "any.csv", accords), dose=dose, product="fine-fragrance"
    )


def test_equal_to_the_limit_is_within(library, tmp_path):
    """0.1 parts of 1 at dose 2 % is 0.2 %: exact and one more in the ninth figure."""
    limit = next(
        row
        for row in library.tables.limits
        if row.limit_set == "ifra-51"
        and row.category == "4"
        and row.rule == "max"
        and (row.max_pct or 0) > 0
        and row.substance in library.tables.materials
        and library.tables.materials[row.substance].kind == "molecule"
    )
    accords = [
        Accord(name, (Line(limit.substance, parts), Line("ethanol", 100 - parts)))
        for name, parts in (("at", limit.max_pct), ("over", limit.max_pct * (1 + 1e-9)))
    ]
    answer = library.screen(
        write_parquet(tmp_path / "edge.parquet", accords), dose=100, category="4", limits=("ifra-51",)
    ).to_dict()
    assert [b["accord"] for b in answer["breaches"] if b["substance"] == limit.substance] == ["over"]


# -- kept columns ----------------------------------------------------------------------------------------------------------


def same_columns(one, other) -> bool:
    arrays = [
        (
            each.values.indptr,
            each.values.indices,
            each.values.data,
            each.most,
            each.words,
            *each.grades.values(),
        )
        for each in (one, other)
    ]
    return (
        all(a.dtype == b.dtype and np.array_equal(a, b) for a, b in zip(*arrays, strict=True))
        and (one.columns, one.alternatives, one.materials)
        == (other.columns, other.alternatives, other.materials)
        and [*one.bit_of_rule.items()] == [*other.bit_of_rule.items()]
        and [*one.grades] == [*other.grades]
    )


def test_columns_are_kept_and_damage_is_not_believed(library, demo, tmp_path, monkeypatch):
    monkeypatch.setenv("SUBSTITUTE_CACHE", str(tmp_path))
    contexts = [
        compiled_for(demo.exposure, demo.context(product="fine-fragrance", limits=(one,)))
        for one in ("demo-2027", "demo-2026")
    ]
    made = compile_columns(contexts, tuple(demo.tables.materials))
    first = columns_for(contexts)
    assert same_columns(first, made)
    (file,) = tmp_path.glob("columns-*.kept")
    whole = file.read_bytes()
    calls = []
    monkeypatch.setattr(
        portfolio_kept, "compile_columns", lambda *given: calls.append(given) or compile_columns(*given)
    )
    assert same_columns(columns_for(contexts), made)
    assert not calls
    for damaged in (whole[:-200], whole.replace(b"0.", b"1.", 1), b""):
        file.write_bytes(damaged)
        assert same_columns(columns_for(contexts), made)
        assert file.read_bytes() == whole
    assert len(calls) == 3
    columns_for(contexts[:1])
    columns_for([compiled_for(library.exposure, library.context(category="4", limits=("ifra-49",)))])
    assert len(calls) == 5
    assert len([*tmp_path.glob("columns-*.kept")]) == 3  # another context and other tables have their own


def test_columns_where_nothing_can_be_kept(demo, tmp_path, monkeypatch):
    blocked = tmp_path / "file"
    blocked.write_text("no folder")
    monkeypatch.setenv("SUBSTITUTE_CACHE", str(blocked))
    contexts = [compiled_for(demo.exposure, demo.context(product="fine-fragrance", limits=("demo-2027",)))]
    made = compile_columns(contexts, tuple(demo.tables.materials))
    assert same_columns(columns_for(contexts), made)
    assert blocked.read_text() == "no folder"


def test_threads_judge_as_one_does(demo, tmp_path):
    accords = random_accords(demo, 60, 9)
    path = write_parquet(tmp_path / "many.parquet", accords, row_group_size=100)
    compiled = compiled_for(demo.exposure, demo.context(product="fine-fragrance"))
    screener = Screener(columns_for([compiled]), 20.0, compiled.rules)
    chunks = list(portfolios.Portfolio(path, demo.names, demo.tables.materials).chunks())
    assert len(chunks) > 5
    one, *others = (
        [
            [*judged.names, *judged.hits.found.tolist(), judged.doubtful]
            for judged in judge_all(screener, some, n)
        ]
        for some, n in ((iter(chunks), None), (chunks, None), (chunks, 3))
    )
    assert others == [one, one]


# -- forms of a portfolio --------------------------------------------------------------------------------------------------


def answers(library, *paths, **where):
    found = []
    for path in paths:
        answer = library.screen(path, dose=20, product="fine-fragrance", **where).to_dict()
        found.append(
            (
                answer["accords"],
                sorted(
                    (b["accord"], b["substance"], b["limit_set"], round(b["found_pct"] or b["times"], 9))
                    for b in answer["breaches"]
                ),
                answer["unknown"],
            )
        )
    return found


def test_all_forms_give_the_same(library, tmp_path):
    accords = random_accords(library, 80, 11)
    folder = tmp_path / "folder"
    folder.mkdir()
    for accord in accords:
        lines = [
            f"{line.material};{str(line.parts).replace('.', ',')};{str(line.strength).replace('.', ',')}"
            for line in accord.lines
        ]
        (folder / f"{accord.name}.csv").write_text("material;parts;strength_pct\n" + "\n".join(lines) + "\n")
    plain = write_long(tmp_path / "long.csv", accords)
    tabs = tmp_path / "tabs.tsv"
    tabs.write_bytes(plain.read_text().replace(",", "\t").encode("utf-16"))
    whole = write_parquet(tmp_path / "a.parquet", accords)
    small = write_parquet(
        tmp_path / "b.parquet", accords, row_group_size=7, use_dictionary=False, compression="zstd"
    )
    first, *others = answers(library, plain, folder, tabs, whole, small)
    for other in others:
        assert other == first


def test_names_and_cas_numbers_and_other_types(library, tmp_path):
    tables = [
        {"Accord": pa.array([1, 1, 2], pa.int32()), "Material": pa.array(["91-64-5", "Ethanol", "coumarin"]), "PARTS": pa.array([1, 9, 5], pa.int64())},
        {"accord": pa.array(["1", "1", "2"], pa.large_string()), "material": pa.array(["coumarin", "ethanol", "coumarin"]).dictionary_encode(), "parts": pa.array(["1", "9,0", "5"])},
        {"accord": pa.array(["1", "1 ", "2"]), "material": pa.array([b"coumarin", b"ethanol", b"coumarin"], pa.binary()), "parts": pa.array([1, 9, 5], pa.float32()),
         "strength_pct": pa.array([None, 100, None], pa.float64())},
    ]  # fmt: skip
    paths = []
    for number, columns in enumerate(tables):
        paths.append(tmp_path / f"{number}.parquet")
        pq.write_table(pa.table(columns), paths[-1])
    first, *others = answers(library, *paths)
    assert first[0] == 2
    for other in others:
        assert other == first


def test_nulls_and_blanks_read_as_in_a_csv(library, tmp_path):
    """Blanks around names go, a null is an empty cell; neighbours that are then the same are one accord."""
    columns = {
        "accord": ["a", "a ", "", None, "b\N{NO-BREAK SPACE}", "b", "é", " ü", "c"],
        "material": [
            "coumarin",
            "ethanol",
            "ethanol",
            "ethanol",
            "coumarin",
            None,
            "ethanol",
            "coumarin",
            "ethanol",
        ],
        "parts": [1.0, 9.0, 1.0, 1.0, 5.0, 5.0, 1.0, 1.0, None],
    }
    path = tmp_path / "n.csv"
    cells = zip(*(["" if cell is None else str(cell) for cell in column] for column in columns.values()))
    path.write_text("\n".join(["accord,material,parts", *map(",".join, cells), ""]), encoding="utf-8")
    pq.write_table(pa.table(columns), tmp_path / "n.parquet")
    large = pa.array(columns["accord"], pa.large_string())
    pq.write_table(pa.table(columns | {"accord": large}), tmp_path / "large.parquet", use_dictionary=False)
    first, *others = (
        library.screen(tmp_path / name, dose=20, product="fine-fragrance")
        for name in ("n.csv", "n.parquet", "large.parquet")
    )
    assert first.accords == 3
    assert [name for name, _ in first.rejected] == ["", "b", "c"]
    for other in others:
        assert other.broken_names == first.broken_names == ["a", "ü"]
        assert [name for name, _ in other.rejected] == [name for name, _ in first.rejected]
        assert (other.accords, other.unknown) == (first.accords, first.unknown)


def test_blocks_cut_through_accords(library, tmp_path, monkeypatch):
    from substitute.tables import long_files, parquet

    accords = random_accords(library, 60, 2)
    csv_path, parquet_path = (
        write_long(tmp_path / "l.csv", accords),
        write_parquet(tmp_path / "l.parquet", accords),
    )
    before = answers(library, csv_path)[0]
    monkeypatch.setattr(long_files, "BLOCK", 7)
    monkeypatch.setattr(parquet, "BLOCK", 7)
    assert answers(library, csv_path, parquet_path) == [before, before]


# -- accords inside accords ------------------------------------------------------------------------------------------------


def test_a_base_counts_as_its_lines(library, tmp_path):
    """10 parts of a 50 % solution of a base that is half coumarin: 2.5 parts of coumarin in 100."""
    rows = "use,base-one,10,50\nuse,ethanol,90,\nbase-one,coumarin,5,\nbase-one,base-two,5,\nbase-two,ethanol,3,\n"
    path = tmp_path / "long.csv"
    path.write_text("accord,material,parts,strength_pct\n" + rows)
    answer = library.screen(path, dose=100, product="fine-fragrance").to_dict()
    found = {
        b["accord"]: b["found_pct"]
        for b in answer["breaches"]
        if b["substance"] == "coumarin" and b["limit_set"] == "ifra-51"
    }
    assert found == {"base-one": pytest.approx(50.0), "use": pytest.approx(2.5)}
    folder = tmp_path / "folder"
    folder.mkdir()
    for name in ("use", "base-one", "base-two"):
        lines = [line.split(",", 1)[1] for line in rows.splitlines() if line.startswith(f"{name},")]
        (folder / f"{name}.csv").write_text("material,parts,strength_pct\n" + "\n".join(lines) + "\n")
    accords, _ = library.read_accords(folder)
    assert_same(library, accords, folder, dose=100, category="5A")
    assert_same(library, accords, path, dose=100, category="5A")


def screened(library, path):
    """The answer in a fine fragrance, and what was rejected with its message."""
    answer = library.screen(path, dose=20, product="fine-fragrance").to_dict()
    return answer, {row["accord"]: row["message"] for row in answer["rejected"]}


def test_circles_and_bad_bases_are_refused_by_name(library, tmp_path):
    path = tmp_path / "long.csv"
    path.write_text(
        "accord,material,parts\nfine,coumarin,1\nfirst,second,1\nsecond,third,1\nsecond,coumarin,1\nthird,first,2\nself,self,1\nabove,first,1\n"
        "spoiled,coumarin,many\nuses-spoiled,spoiled,1\n"
    )
    answer, rejected = screened(library, path)
    assert answer["accords"] == 1
    assert rejected.keys() == {"first", "second", "third", "self", "above", "spoiled", "uses-spoiled"}
    assert "circle" in rejected["above"]
    assert "first > second > third > first" in rejected["above"]
    assert rejected["self"].endswith("self > self")
    assert "row 9, column parts" in rejected["spoiled"]
    assert "row 9, column parts" in rejected["uses-spoiled"]


def test_bases_as_deep_as_they_go(library, tmp_path):
    depth = 3000
    lines = [f"a{number},a{number + 1},1" for number in range(depth)] + [f"a{depth},coumarin,1"]
    path = tmp_path / "deep.csv"
    path.write_text("accord,material,parts\n" + "\n".join(lines) + "\n")
    answer = library.screen(path, dose=20, product="fine-fragrance").to_dict()
    assert answer["accords"] == depth + 1
    assert not answer["rejected"]
    assert len({b["accord"] for b in answer["breaches"] if b["substance"] == "coumarin"}) in (0, depth + 1)


# -- what is wrong with one accord, and with the whole ---------------------------------------------------------------------


def test_a_malformed_accord_is_rejected_and_the_rest_go_on(library, tmp_path):
    path = tmp_path / "long.csv"
    path.write_text(
        "accord,material,parts,strength_pct\ngood,musk-xylene,1,\nwords,coumarin,ten,\nunknown,unobtainium,1,\nminus,coumarin,-1,\nempty,coumarin,,\n"
        'zero,coumarin,0,\nstrong,coumarin,1,101\n,coumarin,1,\nlong,coumarin,1,,extra\nlast,musk-xylene,"1,5",10\n'
    )
    answer, rejected = screened(library, path)
    assert answer["accords"] == 2
    assert {b["accord"] for b in answer["breaches"]} == {"good", "last"}
    assert rejected.keys() == {"words", "unknown", "minus", "empty", "zero", "strong", "", "long"}
    assert "row 3, column parts: 'ten' is not a number" in rejected["words"]
    assert "row 4, column material: 'unobtainium' is not in the tables" in rejected["unknown"]
    assert "row 8, column strength_pct" in rejected["strong"]
    assert "row 10" in rejected["long"]
    assert "too many" in rejected["long"]


def test_lines_that_stand_apart(library, tmp_path):
    path = tmp_path / "long.csv"
    path.write_text("accord,material,parts\na,musk-xylene,1\nb,musk-xylene,1\na,ethanol,100\n")
    answer = library.screen(path, dose=20, product="fine-fragrance").to_dict()
    assert answer["accords"] == 1
    assert {b["accord"] for b in answer["breaches"]} == {"b"}
    assert [row["accord"] for row in answer["rejected"]] == ["a"]
    assert "stand in 2 places" in answer["rejected"][0]["message"]


def test_a_folder_with_one_bad_file(library, tmp_path):
    (tmp_path / "good.csv").write_text("material,parts\ncoumarin,1\n")
    (tmp_path / "bad.csv").write_text("material,pieces\ncoumarin,1\n")
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "many.csv").write_text("accord,material,parts\na,coumarin,1\n")
    answer = library.screen(tmp_path, dose=20, product="fine-fragrance").to_dict()
    assert answer["accords"] == 1
    assert {row["accord"] for row in answer["rejected"]} == {
        "bad",
        "empty",
        "many",
    }


def bad_files(folder: Path) -> dict[str, tuple[Path, str]]:
    """Unusable portfolios and a part of the message each must give."""
    accords = [
        Accord(
            f"a{number}", tuple(Line(name, float(number + 1)) for name in ("coumarin", "ethanol", "linalool"))
        )
        for number in range(4000)
    ]
    whole = write_parquet(folder / "whole.parquet", accords)
    pq.write_table(
        pa.table({"formula": ["a"], "material": ["coumarin"], "weight": [1.0]}), folder / "columns.parquet"
    )
    pq.write_table(
        pa.table({"accord": ["a"], "material": ["coumarin"], "parts": [True]}), folder / "types.parquet"
    )
    pq.write_table(
        pa.table(
            {
                "accord": pa.array([], pa.string()),
                "material": pa.array([], pa.string()),
                "parts": pa.array([], pa.float64()),
            }
        ),
        folder / "none.parquet",
    )
    data = whole.read_bytes()
    (folder / "cut.parquet").write_bytes(data[: len(data) // 2])
    middle = bytearray(data)
    middle[200:6000] = bytes(5800)
    (folder / "damaged.parquet").write_bytes(middle)
    (folder / "empty.parquet").write_bytes(b"")
    (folder / "empty.csv").write_bytes(b"")
    (folder / "header.csv").write_text("accord,material,parts\n")
    (folder / "columns.csv").write_text("accords,material,weight\na,coumarin,1\n")
    (folder / "binary.csv").write_bytes(b"accord,material,parts\na,\x00\x01,1\n")
    (folder / "latin.csv").write_bytes(b"accord,material,parts\na,ros\x81,1\n")
    (folder / "nothing-in-it").mkdir()
    return {
        "columns.parquet": (folder / "columns.parquet", "lacks the columns accord, parts"), "types.parquet": (folder / "types.parquet", "holds bool, numbers are wanted"),
        "none.parquet": (folder / "none.parquet", "holds no lines"), "cut.parquet": (folder / "cut.parquet", "is not a whole Parquet file"),
        "damaged.parquet": (folder / "damaged.parquet", "damaged"), "empty.parquet": (folder / "empty.parquet", "is empty"), "empty.csv": (folder / "empty.csv", "is empty"),
        "header.csv": (folder / "header.csv", "has a header but no lines"), "columns.csv": (folder / "columns.csv", "lacks the columns accord, parts"),
        "binary.csv": (folder / "binary.csv", "binary data"), "latin.csv": (folder / "latin.csv", "is neither UTF-8 nor Windows-1252"), "folder": (folder / "nothing-in-it", "holds no accords"),
        "missing": (folder / "not-there.csv", "no such file"),
    }  # fmt: skip


def test_unusable_portfolios_give_one_message_each(library, tmp_path):
    for name, (path, part) in bad_files(tmp_path).items():
        with pytest.raises(InputError) as caught:
            library.screen(path, dose=20, product="fine-fragrance")
        assert part in str(caught.value) and "\n" not in str(caught.value), name


def test_bad_options(library, demo):
    accords = library.demo / "accords"
    for options, part in [
        ({"dose": 0, "product": "fine-fragrance"}, "out of range"), ({"dose": 20}, "product or category"),
        ({"dose": 20, "product": "fine-fragrance", "limits": ("nonsense",)}, "not a known set of limits"),
        ({"dose": 20, "product": "fine-fragrance", "since": "ifra-94"}, "not a known set of limits"),
    ]:  # fmt: skip
        with pytest.raises(InputError, match=part):
            library.screen(accords, **options)


# -- since -----------------------------------------------------------------------------------------------------------------


def state_by_set(library, accord, context, substance, one):
    rows = [row for row in judge(compiled_for(library.exposure, context), accord.active(), accord.total, 20).rows
            if row.substance == substance and row.limit_set == one and (row.applies or row.ok is False)]  # fmt: skip
    states = [row.ok for row in rows]
    return False if False in states else None if None in states else True


def test_since_is_the_difference_of_two_verdicts(demo):
    accords, _ = demo.read_accords(demo.demo / "accords")
    where = {"product": "fine-fragrance"}
    answer = demo.screen(
        demo.demo / "accords", dose=20, limits=("demo-2027",), since="demo-2026", **where
    ).to_dict()
    new, old = (demo.context(**where, limits=(one,)) for one in ("demo-2027", "demo-2026"))
    substances = {row.substance for row in demo.tables.limits if row.limit_set in ("demo-2026", "demo-2027")}
    expected = {"newly_broken": set(), "newly_fine": set(), "newly_unknown": set()}
    for accord in accords:
        for substance in substances:
            after, before = (
                state_by_set(demo, accord, new, substance, "demo-2027"),
                state_by_set(demo, accord, old, substance, "demo-2026"),
            )
            for kind, state in (("newly_broken", False), ("newly_unknown", None)):
                if after is state and before is not state:
                    expected[kind].add((accord.name, substance))
            if after is True and before is False:
                expected["newly_fine"].add((accord.name, substance))
    for kind, pairs in expected.items():
        assert pairs, kind
        assert {(c["accord"], c["substance"]) for c in answer["changes"] if c["change"] == kind} == pairs, (
            kind
        )
    kinds = [c["change"] for c in answer["changes"]]
    assert {"tighter", "looser"} <= set(kinds)
    for kind in set(kinds):
        ratios = [c["times"] for c in answer["changes"] if c["change"] == kind and c["times"] is not None]
        assert ratios == sorted(ratios, reverse=True)
    for row in answer["changed_limits"]:
        if row["limit_pct"] is not None and row["old_limit_pct"] is not None:
            assert not (
                row["looser"] or row["newly_fine"]
                if row["limit_pct"] < row["old_limit_pct"]
                else row["tighter"] or row["newly_broken"]
            )
    assert sum(row["newly_broken"] for row in answer["changed_limits"]) == len(expected["newly_broken"])


def test_since_where_every_lot_was_measured(library, tmp_path):
    """A limit on a constituent in place of a sum of fractions, where the oils' own analyses are known: the changes are
    still the difference of two verdicts, accord by accord, whether the oils of it were measured or not."""
    sets = {
        name: LimitSet(name, name, "house", dt.date(year, 1, 1), before, "own")
        for name, year, before in (("house-a", 2024, ""), ("house-b", 2025, "house-a"))
    }
    rows = [
        Limit(name, substance, "all", most, rule, "", "practice", "own")
        for name, figures in (("house-a", (1.0, 1.5, 100.0, 0.0015)), ("house-b", (1.0, 1.2, 60.0, 0.001)))
        for substance, most, rule in zip(
            ("bergamot-oil", "lemon-oil", "phototoxic-oils", "bergapten"),
            figures,
            ("max", "max", "sum_of_fractions", "alternative"),
        )
    ]
    measured = {
        id: tuple(replace(row, own=True) for row in library.tables.constituents[id])
        for id in ("bergamot-oil",)
    }
    tables = replace(
        library.tables,
        limit_sets={**library.tables.limit_sets, **sets},
        limits=tuple(rows),
        constituents={**library.tables.constituents, **measured},
    )
    own, rng = Library(tables), random.Random(3)
    lines = [
        f"accord-{i},{id},{parts * rng.uniform(0.1, 2.0):.3f}"
        for i in range(120)
        for id, parts in (("bergamot-oil", 2.0), ("lemon-oil", 2.0), ("linalool", 96.0))
        if id == "linalool" or rng.random() < 0.6
    ]
    path = tmp_path / "many.csv"
    path.write_text("\n".join(["accord,material,parts", *lines, ""]))
    where = {"product": "fine-fragrance"}
    found = own.screen(path, dose=20, limits=("house-b",), since="house-a", **where).to_dict()
    new, old = (own.context(**where, limits=(one,)) for one in ("house-b", "house-a"))
    expected = Counter()
    for accord in Portfolio(path, own.names, tables.materials).accords([f"accord-{i}" for i in range(120)]):
        for substance in ("bergamot-oil", "lemon-oil", "phototoxic-oils", "bergapten"):
            after, before = (
                state_by_set(own, accord, context, substance, one)
                for context, one in ((new, "house-b"), (old, "house-a"))
            )
            if after is False and before is not False:
                expected["newly_broken", accord.name, substance] += 1
            if after is True and before is False:
                expected["newly_fine", accord.name, substance] += 1
    told = Counter(
        (one["change"], one["accord"], one["substance"])
        for one in found["changes"]
        if one["change"] in ("newly_broken", "newly_fine")
    )
    assert told == expected
    assert {substance for _, _, substance in expected} >= {"lemon-oil", "phototoxic-oils", "bergapten"}


def test_since_leaves_the_other_sets_alone(library):
    """All sets in force apply; only the one that replaces the old set is compared."""
    answer = library.screen(
        library.demo / "accords", dose=20, product="fine-fragrance", since="ifra-49"
    ).to_dict()
    plain = library.screen(library.demo / "accords", dose=20, product="fine-fragrance").to_dict()
    assert answer["breaches"] == plain["breaches"]
    assert answer["unknown"] == plain["unknown"]
    assert {(c["limit_set"], c["old_limit_set"]) for c in answer["changes"]} <= {("ifra-51", "ifra-49")}


@pytest.mark.parametrize(("limits", "since", "part"), [
    (("demo-2026",), "demo-2027", "'demo-2027' is newer than 'demo-2026', which it replaces"), (("demo-2027",), "demo-2027", "is applied itself"),
    (("eu-annex-ii",), "ifra-51", "is older than 'ifra-51'"), ((), "demo-2026", "no set applied replaces 'demo-2026'"),
])  # fmt: skip
def test_since_the_wrong_way_round(demo, limits, since, part):
    with pytest.raises(InputError, match=part):
        demo.screen(demo.demo / "accords", dose=20, product="fine-fragrance", limits=limits, since=since)


def test_unknown_names_are_refused_in_bulk_in_the_same_words(library, tmp_path, monkeypatch):
    """With the quick way shut, the reader of single accords says the same of the same accords."""
    rng, held = (
        random.Random(5),
        ["linalool", "vanillin", "bergamot", "no-such-thing", "nor-this", "pineapple"],
    )
    lines = [
        f"accord-{i},{rng.choice(held)},{rng.choice(['1', '2.5', '0', 'x', '1e9', ''])}"
        for i in range(300)
        for _ in range(rng.randint(1, 4))
    ]
    path = tmp_path / "many.csv"
    path.write_text("\n".join(["accord,material,parts", *lines, ""]))
    asked = {"dose": 10, "product": "fine-fragrance"}
    quick = library.screen(path, **asked)
    calls = []
    monkeypatch.setattr(portfolios.Portfolio, "_refusal", lambda *given: calls.append(given))
    slow = library.screen(path, **asked)
    assert len(calls) > 20
    assert quick.rejected == slow.rejected
    assert quick.accords == slow.accords


def test_a_set_older_than_the_one_it_replaces(library, tmp_path):
    (tmp_path / "limit_sets.csv").write_text(
        "id,title,market,in_force,replaces,source\nhouse-a,House A,house,2025-01-01,,own\nhouse-b,House B,house,2024-01-01,house-a,own\n"
    )
    limits = [f"{name},linalool,all,1,max,,practice,own" for name in ("house-a", "house-b")]
    (tmp_path / "limits.csv").write_text(
        "\n".join(["limit_set,substance,category,max_pct,rule,note,basis,source", *limits, ""])
    )
    own = substitute.load(tmp_path)
    with pytest.raises(InputError, match=r"'house-b' .* is older than 'house-a'"):
        own.screen(
            library.demo / "accords", dose=20, product="fine-fragrance", limits=("house-b",), since="house-a"
        )


# -- mend ------------------------------------------------------------------------------------------------------------------


def test_mended_copies_break_nothing(demo, tmp_path):
    where = {"dose": 20, "product": "fine-fragrance", "limits": ("demo-2027",)}
    source = tmp_path / "some"
    source.mkdir()
    for name in ("may-day-loan", "cinnamon-crumbs", "clean-sleeves-trolley"):
        (source / f"{name}.csv").write_bytes((demo.demo / "accords" / f"{name}.csv").read_bytes())
    folder = tmp_path / "mended"
    found = demo.screen(source, mend=folder, **where)
    mended = found.to_dict()["mended"]
    assert len(mended) == 3
    assert all(one["file"] for one in mended)
    assert not demo.screen(folder, **where).broken
    text = (folder / "may-day-loan.csv").read_text()
    assert text.splitlines()[0].endswith(",why")
    assert "over a limit" in text
    with pytest.raises(InputError, match="exists already"):
        demo.screen(source, mend=folder, **where)
    assert len(demo.screen(source, mend=folder, force=True, **where).mended) == 3
    with pytest.raises(InputError, match="among the accords themselves"):
        demo.screen(source, mend=source, force=True, **where)


def test_long_files_are_mended_too_and_walls_are_named(demo, tmp_path):
    path = tmp_path / "long.csv"
    path.write_text(
        "accord,material,parts\nbase/one,coumarin,50\nbase/one,linalool,50\nuses,base/one,90\nuses,ethanol,10\nonly,musk-xylene,1\n"
    )
    folder = tmp_path / "mended"
    mended = {
        one["accord"]: one
        for one in demo.screen(
            path, dose=20, product="fine-fragrance", limits=("demo-2027",), mend=folder
        ).to_dict()["mended"]
    }
    assert Path(mended["base/one"]["file"]).name == "base-one.csv"
    assert mended["uses"]["file"]
    assert mended["only"]["file"] or mended["only"]["message"]
    assert not demo.screen(folder, dose=20, product="fine-fragrance", limits=("demo-2027",)).broken


# -- the command -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def run(library, demo):
    from substitute.cli import cli

    def call(*arguments):
        return CliRunner().invoke(cli, [str(one) for one in arguments])

    return call


def test_command_exit_codes_and_json(run, library, tmp_path):
    folder, rules = library.demo / "accords", library.demo / "rules"
    found = run(
        "--tables",
        rules,
        "screen",
        folder,
        "--dose",
        20,
        "--product",
        "fine-fragrance",
        "--limits",
        "demo-2027",
        "--since",
        "demo-2026",
        "--format",
        "json",
    )
    assert found.exit_code == 1
    answer = json.loads(found.stdout)
    assert answer["accords"] == len(list(folder.glob("*.csv")))
    assert {"accord", "substance", "limit_set", "limit_pct", "found_pct"} <= answer["breaches"][0].keys()
    asked = {"dose": 20, "product": "fine-fragrance", "limits": ("demo-2027",), "since": "demo-2026"}
    same = substitute.load(rules).screen(folder, **asked).to_dict()
    assert answer == json.loads(json.dumps(as_known(same)))
    calm = tmp_path / "calm.csv"
    calm.write_text("accord,material,parts\na,ethanol,1\n")
    found = run("screen", calm, "--dose", 1, "--category", "4", "--format", "json")
    assert found.exit_code == 0
    assert json.loads(found.stdout)["breaches"] == []
    found = run("screen", folder, "--dose", 20, "--product", "fine-fragrance", "--format", "csv")
    assert found.exit_code == 1
    assert found.stdout.startswith("accord,substance,limit_set,limit_pct,found_pct")
    assert len(list(csv.reader(found.stdout.splitlines()))) > 10
    found = run("screen", folder, "--dose", 20, "--product", "fine-fragrance")
    assert found.exit_code == 1
    assert "break a limit" in found.stdout
    assert "no safety" not in found.stderr


@pytest.mark.parametrize("ending", ["md", "xlsx", "html"])
def test_summaries(run, library, tmp_path, ending):
    path = tmp_path / f"summary.{ending}"
    arguments = [
        "--tables",
        library.demo / "rules",
        "screen",
        library.demo / "accords",
        "--dose",
        20,
        "--product",
        "fine-fragrance",
        "--limits",
        "demo-2027",
        "--since",
        "demo-2026",
        "--summary",
        path,
    ]
    path.write_bytes(b"somebody's")
    refused = run(*arguments)
    assert isinstance(refused.exception, InputError)
    assert "exists already" in str(refused.exception)
    assert path.read_bytes() == b"somebody's"
    assert run(*arguments, "--force").exit_code == 1
    data = path.read_bytes()
    if ending == "xlsx":
        from openpyxl import load_workbook

        assert {"What breaks", "Not known", "read first"} <= set(load_workbook(path).sheetnames)
    else:
        text = data.decode()
        for part in (
            "What breaks",
            "Changes since demo-2026",
            "newly broken",
            "Not known",
            "not a safety assessment",
        ):
            assert part in text


def test_summary_of_another_kind_is_refused_first(run, library, tmp_path):
    found = run(
        "screen",
        library.demo / "accords",
        "--dose",
        20,
        "--product",
        "fine-fragrance",
        "--summary",
        tmp_path / "x.doc",
        "--mend",
        tmp_path / "m",
    )
    assert isinstance(found.exception, InputError)
    assert not (tmp_path / "m").exists()


def test_rooms_of_the_portfolio():
    """The engine knows neither accords nor stand-ins."""
    root = Path(substitute.__file__).parent
    for name in (
        *(path.stem for path in (root / "rules").glob("portfolio*.py")),
        "screening",
        "screened",
        "changes",
    ):
        imports = [
            line
            for line in (root / "rules" / f"{name}.py").read_text().splitlines()
            if line.lstrip().startswith(("from ", "import "))
        ]
        assert imports
        assert not any(room in line for line in imports for room in ("accords", "standins", "shelf"))
