"""Fits ``data/impressions.csv`` to what panels said: ``python -m substitute.odour.train [FOLDER]``.

``FOLDER`` holds ``atlas_1985.csv`` and ``panel_2016.csv`` (``tests/reference/people`` of a checkout by
default). Needs rdkit, which joins the panels' molecules to ours by the first fourteen letters of the InChIKey
(so stereochemistry is ignored). The same tables give the same bytes. How the settings were chosen, and what
was tried and failed, stands in DEVELOPERS.md.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from ..records import Tables
from ..tables.load import data_folder, load_tables
from ..tables.writing import write_whole
from .likeness import CONSTANT, Array, impression_inputs
from .space import Space, fit_space

RIDGE = 0.3  # chosen by ten-fold cross-validation over molecules, see tests/evaluation/people.py
AXES = 8  # as good as all axes; six begin to lose
DIGITS = 5
PANELS = {"atlas-1985": "atlas_1985.csv", "panel-2016": "panel_2016.csv"}
NO_WORDS = {
    "inchikey", "iupac", "cid", "cas",
    "level", "dilution", "intensity_or_strength", "valence_or_pleasantness",
}  # fmt: skip


def read_panel(path: Path) -> dict[str, Array]:
    """First block of the InChIKey -> mean of the panel's words over levels."""
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    words = [name for name in rows[0] if name not in NO_WORDS]
    found: dict[str, list[list[float]]] = {}
    for row in rows:
        found.setdefault(row["inchikey"][:14], []).append([float(row[word]) for word in words])
    return {key: np.mean(values, axis=0) for key, values in found.items()}


def skeletons(tables: Tables, ids: Sequence[str]) -> dict[str, str]:
    """First block of the InChIKey -> the material of ``ids`` that has it first, for molecules with a
    structure.
    """
    from rdkit import Chem, RDLogger

    RDLogger.DisableLog("rdApp.*")  # type: ignore[attr-defined]
    found: dict[str, str] = {}
    for name in ids:
        material = tables.materials[name]
        molecule = Chem.MolFromSmiles(material.smiles) if material.smiles else None
        if molecule is not None and material.kind == "molecule":
            found.setdefault(Chem.MolToInchiKey(molecule)[:14], name)  # type: ignore[no-untyped-call]
    return found


def fit_map(space: Space, said: Mapping[str, Array], ridge: float = RIDGE) -> Array:
    """(1 + D, W) map from a material's inputs to the square roots of a panel's words; ``said`` maps id to
    ratings (W).
    """
    from sklearn.linear_model import Ridge

    rows = [space.row[name] for name in said]
    targets = np.sqrt(np.maximum(np.array(list(said.values())), 0.0))
    mean = targets.mean(axis=0)
    inputs = impression_inputs(space)[rows, 1:]
    found = Ridge(alpha=ridge).fit(inputs, targets - mean)
    return np.vstack([mean + found.intercept_, found.coef_.T])


def few_axes(space: Space, weights: Array, axes: int = AXES) -> Array:
    """(1 + D, ``axes``) the map on the axes along which our materials differ most; signs are fixed."""
    predicted = impression_inputs(space) @ weights
    _, _, turn = np.linalg.svd(predicted.T @ predicted)
    turn = turn[:axes]
    turn *= np.sign(turn[np.arange(len(turn)), np.abs(turn).argmax(axis=1)])[:, None]
    return np.asarray(weights @ turn.T)


def fit(tables: Tables, folder: Path) -> str:
    """The table's text."""
    space = fit_space(tables)
    ours = skeletons(tables, space.ids)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["panel", "descriptor", *(f"axis_{i}" for i in range(1, AXES + 1)), "basis"])
    for panel, file in PANELS.items():
        said = {ours[key]: words for key, words in read_panel(folder / file).items() if key in ours}
        weights = few_axes(space, fit_map(space, said))
        for word, row in zip((CONSTANT, *space.words), weights, strict=True):
            writer.writerow([panel, word, *(f"{value:.{DIGITS}g}" for value in row), "estimate"])
    return out.getvalue()


def main(arguments: Sequence[str] = ()) -> int:
    default = data_folder().parent / "tests" / "reference" / "people"
    folder = Path(arguments[0]) if arguments else default
    lacking = [file for file in PANELS.values() if not (folder / file).is_file()]
    if lacking:
        print(f"{folder}: lacks {', '.join(lacking)}; nothing was written", file=sys.stderr)
        return 2
    write_whole(data_folder() / "impressions.csv", fit(load_tables(), folder), force=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
