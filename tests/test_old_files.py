"""A person's files of version 0.1 are read as they are.

The accord, trial and adjusted accord were written by that version; the shelf and labels are its demo's; the
tables have its columns.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import substitute
from substitute.accords.trial_files import read_history

OLD = Path(__file__).parent / "reference" / "files_0_1"


@pytest.fixture(scope="module")
def library():
    return substitute.load(tables=OLD / "tables", labels=OLD / "labels.csv")


def test_accords_and_trials(library):
    assert library.read_accord(OLD / "wax.csv").total == pytest.approx(468)
    written = library.read_accord(OLD / "adjusted.csv")
    assert [line.material for line in written.lines][-2:] == ["eugenol", "ethanol"]
    first, second = read_history(OLD / "wax.trial-2.csv", library.names)
    assert (first.name, second.name) == ("wax.csv", "wax.trial-2.csv")
    assert first.verdicts == {"vanillin": "too_strong"} or second.verdicts == {"vanillin": "too_strong"}


def test_the_next_trial_goes_on_from_an_old_one(library, tmp_path):
    for name in ("wax.csv", "wax.trial-2.csv"):
        shutil.copy(OLD / name, tmp_path)
    found = library.rebalance(tmp_path / "wax.trial-2.csv", too_weak=["vanillin"]).to_dict()
    assert found["trial"] == 3
    after = next(line["parts_after"] for line in found["lines"] if line["id"] == "vanillin")
    # between the 26.4 of 480 parts that were too weak and the 50 of 468 that were too strong
    assert 26.43 < after < 50


def test_shelf_and_labels(library):
    shelf = library.read_shelf(OLD / "shelf.csv")
    assert {bottle.material for bottle in shelf.stock} >= {"methyl-atrarate", "ethanol"}
    assert library.find("driver's hay").id == "coumarin"


def test_own_tables(library):
    held = {row.id: row for row in library.tables.constituents["rosewood-oil"]}
    assert held["linalool"].typical == 84
    accord = library.accord_of([{"material": "coumarin", "parts": "1"}])
    rows = library.limits(accord, dose=1, category="4", limits=["ifra-51"]).to_dict()["limits"]
    coumarin = next(row for row in rows if row["substance"] == "coumarin")
    assert (coumarin["limit_pct"], coumarin["basis"]) == (1.2, "published")
