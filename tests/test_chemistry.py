"""The molecules against structure libraries and published measurements, looked up by CAS number, never by
name.

rdkit computes from our own SMILES; the open library `chemicals` answers from CAS numbers alone, so that a
wrong structure and a wrong number cannot agree with each other. Known differences stand in the lists below,
each with its reason.
"""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest

from substitute.tables.names import Names

chemicals = pytest.importorskip("chemicals")
Chem = pytest.importorskip("rdkit.Chem")

REFERENCE = Path(__file__).parent / "reference"
MASS_TOLERANCE = 0.1  # g/mol: atomic weights were revised by less, a missing hydrogen is ten times that
VAPOUR_FACTOR = 3.0
T = 298.15  # K
R = 8.314  # J / (mol K)

# Own CAS number -> why the library's structure differs from ours. Compared without stereochemistry.
OTHER_STRUCTURE = {
    "dihydromyrcenyl-acetate": "the number is registered for an unspecified acetate and the library drew a chain of another branching; "
    "our second number, 53767-93-4, is the defined ester",
    "tricyclodecenyl-propionate": "sold as a mixture of double-bond isomers; the library drew the other one",
    "dipropylene-glycol": "a mixture of isomers; the library drew a structure that is not a glycol ether at all",
}

# Further CAS numbers that lead to another skeleton, and why a bottle under that number is still this
# material.
OTHER_ISOMER = {
    "11050-62-7": "isojasmone is sold as a mixture of alkylcyclopentenones",
    "144020-22-4": "sold as a mixture of ring isomers",
    "123-69-3": "the isomer of seed oil, with the double bond elsewhere in the same ring",
    "3391-83-1": "the ring oxygen stands elsewhere; sold for the same purpose",
    "6707-60-4": "the ring oxygen stands elsewhere; sold for the same purpose",
    "65442-31-1": "the sec-butyl isomer, sold under the iso name",
    "765-70-8": "the keto form of the same tautomer",
    "1335-66-6": "a mixture of isomers of trimethylcyclohexenecarbaldehyde",
    "3853-83-6": "alpha-himachalene beside beta in one entry",
}

# Molecule -> why our vapour pressure differs from the library's by more than a factor of three.
OTHER_VAPOUR_PRESSURE = {
    "musk-xylene": "a solid at 25 C: ours is the solid's (3e-5 Pa in the European risk assessment, recalled); the library continues the liquid's line",
    "benzoic-acid": "a solid at 25 C: ours is the pressure of sublimation (0.1 Pa, recalled); the library continues the liquid's line",
    "triacetin": "the library's constants give 264 Pa, three decades over what safety data sheets say (0.3 Pa, recalled)",
    "acetoin": "the library gives 1090 Pa, handbooks 360 Pa (2.7 mmHg, recalled); just outside a factor of three",
}


def rows(name: str) -> list[dict]:
    with (REFERENCE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def structures(tables):
    """id -> rdkit molecule, of every SMILES in the table."""
    found = {m.id: Chem.MolFromSmiles(m.smiles) for m in tables.materials.values() if m.smiles}
    assert [name for name, molecule in found.items() if molecule is None] == []
    return found


@pytest.fixture(scope="module")
def by_cas():
    """CAS number -> the library's record of exactly that number, or None."""
    from chemicals.identifiers import pubchem_db

    while not pubchem_db.finished_loading:
        pubchem_db.autoload_main_db()
        pubchem_db.finish_loading()

    def find(cas: str):
        return pubchem_db.search_CAS(int(cas.replace("-", ""))) or None

    return find


def spearman(one, other) -> float:
    from scipy.stats import spearmanr  # a second of the processor: only where it is asked for

    return spearmanr(one, other).statistic


def own_cas(material) -> str:
    return material.cas[0] if material.cas and material.owns_cas else ""


# -- molar mass and structure --------------------------------------------------------------------------------


def test_molar_masses_are_those_of_the_structures(tables, structures):
    from rdkit.Chem.Descriptors import MolWt

    masses = {name: tables.value(name, "molar_mass_g_mol") for name in structures}
    known = {name: mass for name, mass in masses.items() if mass is not None}
    assert len(known) >= 250
    wrong = {
        name: (mass, round(MolWt(structures[name]), 2))
        for name, mass in known.items()
        if abs(mass - MolWt(structures[name])) > MASS_TOLERANCE
    }
    assert wrong == {}


def test_molar_masses_are_those_of_the_cas_numbers(tables, by_cas):
    checked, wrong = 0, {}
    for material in tables.materials.values():
        mass, record = (
            tables.value(material.id, "molar_mass_g_mol"),
            by_cas(own_cas(material)) if own_cas(material) else None,
        )
        if mass is None or record is None:
            continue
        checked += 1
        if abs(mass - record.MW) > MASS_TOLERANCE:
            wrong[material.id] = (own_cas(material), mass, record.MW)
    assert checked >= 250
    assert wrong == {}


# Names that stand for another molecule in the library, or for several: a short form, a mixture, a tautomer, a
# position left open.
NAMES_THAT_MISLEAD = {
    ("sinensal", "alpha-sinensal"),  # sold as the two isomers together; the structure shown is the beta one
    ("sinensal", "2,6,10-trimethyldodeca-2,6,9,11-tetraenal"),
    ("isojasmone", "isojasmone"),
    ("pentadecanolide", "omega-pentadecalactone"),
    ("6-methylquinoline", "p-methylquinoline"),
    ("methyl-cyclopentenolone", "MCP"),
    ("methyl-cyclopentenolone", "3-methyl-1,2-cyclopentanedione"),  # the diketone and its enol
    ("isoamyl-acetate", "amyl acetate"),
    ("2-methylbutyl-acetate", "2-methylbutyl ethanoate"),
    ("tricyclodecenyl-propionate", "tricyclodecenyl propionate"),
    ("tricyclodecenyl-propionate", "hexahydro-4,7-methanoinden-5(or 6)-yl propionate"),
    ("2-6-nonadienal", "nonadienal"),
    ("2-isopropyl-3-methoxypyrazine", "IPMP"),
    ("dimethyl-hydroquinone", "DMHQ"),
    ("cadinene", "cadinene"),
}


def test_names_lead_to_our_structures(tables, structures, by_cas):
    """Every name and synonym that `chemicals` knows is the molecule of our structure, so that name, CAS and
    structure say the same.
    """
    from chemicals.identifiers import pubchem_db

    checked, wrong = 0, set()
    for name, molecule in structures.items():
        material = tables.materials[name]
        skeleton = Chem.MolToInchiKey(molecule)[:14]
        for word in (material.name, *material.synonyms) if material.kind == "molecule" else ():
            record = pubchem_db.search_name(word.lower())
            if record:
                checked += 1
                if record.InChI_key[:14] != skeleton:
                    wrong.add((name, word))
    assert checked >= 1000
    assert wrong <= NAMES_THAT_MISLEAD


def test_an_id_names_the_molecule_whose_structure_stands_there(tables, structures):
    """An id that says octahydro, tetrahydro or dihydro names a ring that holds those hydrogens (rdkit): no
    aromatic ring left over.
    """
    for name, molecule in structures.items():
        if name.startswith(("octahydro", "hexahydro", "perhydro")):
            assert not any(atom.GetIsAromatic() for atom in molecule.GetAtoms()), name


def test_cas_numbers_lead_to_our_structures(tables, structures, by_cas):
    """First block of the InChI key (the skeleton), by our SMILES and by the CAS number."""
    checked, wrong = 0, {}
    for name, molecule in structures.items():
        cas = own_cas(tables.materials[name])
        record = by_cas(cas) if cas else None
        if record is None:
            continue
        checked += 1
        if Chem.MolToInchiKey(molecule)[:14] != record.InChI_key[:14]:
            wrong[name] = (cas, tables.materials[name].smiles, record.smiles)
    assert checked >= 450
    assert {name: what for name, what in wrong.items() if name not in OTHER_STRUCTURE} == {}


def test_further_cas_numbers_are_the_same_skeleton(tables, structures, by_cas):
    """Racemates, single isomers, salts of a name: other numbers of one material differ in stereochemistry
    only, or are explained.
    """
    owners = {own_cas(m): m.id for m in tables.materials.values() if own_cas(m)}
    keys = {name: Chem.MolToInchiKey(molecule)[:14] for name, molecule in structures.items()}
    wrong = []
    for name, key in keys.items():
        material = tables.materials[name]
        for cas in material.cas[1 if material.owns_cas else 0 :]:
            record, owner = by_cas(cas), owners.get(cas)
            elsewhere = owner and owner in keys and keys[owner] != key
            if cas not in OTHER_ISOMER and ((record and record.InChI_key[:14] != key) or elsewhere):
                wrong.append((name, cas, owner or record.smiles))
    assert wrong == []


def test_nearly_every_molecule_has_a_structure(tables, structures):
    molecules = [m.id for m in tables.materials.values() if m.kind == "molecule"]
    assert len([name for name in molecules if name in structures]) / len(molecules) >= 0.98


def test_mirror_images_are_told_apart(tables, structures):
    """The carvones smell of spearmint (R, laevo) and of caraway (S, dextro); their numbers are not shared
    first.
    """
    keys = {name: Chem.MolToInchiKey(structures[name]) for name in ("l-carvone", "d-carvone")}
    assert keys["l-carvone"][:14] == keys["d-carvone"][:14]
    assert keys["l-carvone"] != keys["d-carvone"]
    for name, handed in (("l-carvone", "R"), ("d-carvone", "S"), ("limonene", "R")):
        assert [
            sign for _, sign in Chem.FindMolChiralCenters(structures[name], useLegacyImplementation=False)
        ] == [handed]
    for one, other in (("geraniol", "nerol"), ("borneol", "isoborneol")):
        assert Chem.MolToInchiKey(structures[one]) != Chem.MolToInchiKey(structures[other])


def test_structure_classes_fit_the_structures(tables, structures):
    """The class of a molecule names a group that its SMILES has."""
    patterns = {
        "aldehyde": "[CX3H1,CX3H2](=O)",
        "ketone": "[#6]~[#6X3](=O)~[#6]",
        "ester": "C(=O)O[#6]",
        "lactone": "[#6;R](=O)[#8;R]",
        "nitrile": "C#N",
        "sulphur": "[#16]",
        "salicylate": "c1(O)c(C(=O)O)cccc1",
        "musk-nitro": "[N+](=O)[O-]",
        "phenol": "c[OX2H1]",
        "acid": "C(=O)[OX2H1]",
        "amine-n-heterocycle": "[#7]",
        "acetal": "[CX4](O[#6])O[#6]",
        "schiff-base": "[#6]=[NX2]",
    }
    wrong = {}
    for name, molecule in structures.items():
        pattern = patterns.get(tables.materials[name].structure)
        if pattern and not molecule.HasSubstructMatch(Chem.MolFromSmarts(pattern)):
            wrong[name] = (tables.materials[name].structure, tables.materials[name].smiles)
        if tables.materials[name].structure == "hydrocarbon" and {
            atom.GetSymbol() for atom in molecule.GetAtoms()
        } != {"C"}:
            wrong[name] = ("hydrocarbon", tables.materials[name].smiles)
    assert wrong == {}


# -- volatility ----------------------------------------------------------------------------------------------


def published_vapour_pressures(cas: str) -> list[float]:
    """Every correlation of the library that has 298.15 K inside its range [Pa]."""
    from chemicals import vapor_pressure as vp

    def row(table):
        frame = getattr(vp, table)
        return frame.loc[cas] if cas in frame.index else None

    found = []
    r = row("Psat_data_WagnerMcGarry")
    if r is not None and r.Tmin <= T <= r.Tc:
        found.append(vp.Wagner_original(T, r.Tc, r.Pc, r.A, r.B, r.C, r.D))
    r = row("Psat_data_WagnerPoling")
    if r is not None and r.Tmin <= T <= r.Tmax:
        found.append(vp.Wagner(T, r.Tc, r.Pc, r.A, r.B, r.C, r.D))
    r = row("Psat_data_VDI_PPDS_3")
    if r is not None and r.Tm <= T <= r.Tc:
        found.append(vp.Wagner(T, r.Tc, r.Pc, r.A, r.B, r.C, r.D))
    r = row("Psat_data_AntoinePoling")
    if r is not None and r.Tmin <= T <= r.Tmax:
        found.append(vp.Antoine(T, r.A, r.B, r.C))
    r = row("Psat_data_Perrys2_8")
    if r is not None and r.Tmin <= T <= r.Tmax:
        found.append(math.exp(r.C1 + r.C2 / T + r.C3 * math.log(T) + r.C4 * T**r.C5))
    r = row("Psat_data_Landolt_Antoine")
    if r is not None and r.Tmin <= T <= r.Tmax:
        found.append(vp.Antoine(T, r.A, r.B, r.C, base=math.e))
    return [float(value) for value in found]


def test_vapour_pressures_against_published_correlations(tables):
    checked, wrong = 0, {}
    for material in tables.materials.values():
        ours, published = (
            tables.value(material.id, "vapour_pressure_pa"),
            published_vapour_pressures(own_cas(material)) if own_cas(material) else [],
        )
        if ours is None or not published:
            continue
        checked += 1
        middle = float(np.median(published))
        if (
            not 1 / VAPOUR_FACTOR <= ours / middle <= VAPOUR_FACTOR
            and material.id not in OTHER_VAPOUR_PRESSURE
        ):
            wrong[material.id] = (ours, middle)
    assert checked >= 70
    assert wrong == {}


def test_vapour_pressures_called_published_are_the_correlations(tables):
    """Figures that cite the library stand within a quarter of one of its correlations."""
    for name, figures in tables.properties.items():
        figure = figures.get("vapour_pressure_pa")
        if figure is not None and figure.source == "chemicals-vp":
            published = published_vapour_pressures(own_cas(tables.materials[name]))
            assert any(abs(math.log(figure.value / value)) <= math.log(1.25) for value in published), (
                name,
                figure.value,
                published,
            )


def test_heavier_members_of_a_series_are_less_volatile(tables):
    series = [
        ("hexanal", "heptanal", "octanal", "nonanal", "decanal", "undecanal"),
        ("hexanol", "octanol", "nonanol", "decanol"),
        ("gamma-nonalactone", "gamma-decalactone", "gamma-undecalactone", "gamma-dodecalactone"),
    ]
    for names in series:
        pressures = [tables.value(name, "vapour_pressure_pa") for name in names]
        assert pressures == sorted(pressures, reverse=True), names


def test_tenacity_falls_with_vapour_pressure(tables):
    """Measured: -0.97 over 647 molecules, -0.99 over the 31 with a published pressure. Asked: -0.90."""
    both = [
        (tables.value(m.id, "tenacity_h"), tables.value(m.id, "vapour_pressure_pa"))
        for m in tables.materials.values()
        if m.kind == "molecule"
    ]
    both = np.array([pair for pair in both if None not in pair])
    assert len(both) >= 500
    assert spearman(both[:, 0], both[:, 1]) <= -0.90


# -- strength ------------------------------------------------------------------------------------------------


def potency_and_threshold(tables, found) -> np.ndarray:
    """(potency, 1 / threshold, saturated concentration / threshold) of each of ``found`` (id -> threshold in
    g per m3).
    """
    out = []
    for name, threshold in found.items():
        potency, pressure, mass = (
            tables.value(name, key) for key in ("potency", "vapour_pressure_pa", "molar_mass_g_mol")
        )
        if potency and pressure and mass:  # solvents have no potency
            out.append((potency, 1 / threshold, pressure * mass / (R * T) / threshold))
    return np.array(out)


def test_potency_against_compiled_air_thresholds(tables):
    """Rank correlation over 39 molecules, mostly small ones (Abraham et al. 2012).

    Measured: 0.67 with saturated concentration / threshold; the threshold alone, the baseline, does better:
    0.83. Potency is strength per gram on a strip at use level, so volatility counts for less than saturation
    would have it.
    """
    logs = defaultdict(list)
    for row in rows("air_thresholds.csv"):
        mass = tables.value(row["material"], "molar_mass_g_mol")
        logs[row["material"]].append(math.log(float(row["threshold"]) * 1e-6 * 101_325 * mass / (R * T)))
    potency, threshold, saturated = potency_and_threshold(
        tables, {name: math.exp(np.mean(values)) for name, values in logs.items()}
    ).T
    assert len(potency) >= 35
    assert spearman(potency, saturated) >= 0.55
    assert spearman(potency, threshold) >= 0.70


def test_potency_against_thresholds_of_dose_response(tables):
    """Rank correlation over 18 perfumery materials (Wakayama et al. 2019).

    Measured: 0.60 with the threshold alone, 0.12 with saturated concentration / threshold: no relation. Both
    are quoted so that nobody takes potency for an odour activity value.
    """
    names = Names(tables)
    found = {}
    for row in rows("dose_response.csv"):
        if row["threshold_ng_l"]:
            found[names.find(row["cas"]).id] = float(row["threshold_ng_l"]) * 1e-6
    potency, threshold, saturated = potency_and_threshold(tables, found).T
    assert len(potency) >= 16
    assert spearman(potency, threshold) >= 0.45
    assert spearman(potency, saturated) >= 0.0


# -- what is in the oils -------------------------------------------------------------------------------------

# (natural, constituent, citation begins) -> why our typical share lies outside the printed range.
OUTSIDE = {
    (
        "lavender-oil",
        "lavandulyl-acetate",
        "European Pharmacopoeia",
    ): "printed as a maximum of 0.2; the Pharmacopoeia is recalled to ask for at least 0.2, as the ISO range does",
    (
        "lavender-oil",
        "lavandulol",
        "European Pharmacopoeia",
    ): "printed as a maximum of 0.1; recalled as at least 0.1",
    (
        "jasmine-absolute",
        "benzyl-benzoate",
        "Anac",
    ): "these samples held up to 36 % ethanol and less benzyl benzoate than later papers found (10 to 25 %, recalled)",
    (
        "jasmine-absolute",
        "methyl-anthranilate",
        "Anac",
    ): "0.8 to 1.7 here, 0.1 to 1 in later papers (recalled)",
}


def test_typical_shares_lie_in_published_ranges(tables):
    shares = {(natural, part.id): part for natural, parts in tables.constituents.items() for part in parts}
    checked, wrong = 0, []
    for row in rows("oil_ranges.csv"):
        key = row["natural"], row["constituent"]
        assert key in shares, f"{key} has a published range but no row of ours"
        low, high = float(row["min_pct"] or 0), float(row["max_pct"] or 100)
        checked += 1
        excused = any(key == known[:2] and row["citation"].startswith(known[2]) for known in OUTSIDE)
        if not low <= shares[key].typical <= high and not excused:
            wrong.append((*key, shares[key].typical, low, high, row["citation"]))
    assert checked >= 90
    assert wrong == []


def test_rows_called_published_keep_the_published_range(tables):
    """Where a row of ours is basis published, low and high don't reach beyond the widest of the printed
    ranges by more than rounding.
    """
    ranges = defaultdict(list)
    for row in rows("oil_ranges.csv"):
        ranges[row["natural"], row["constituent"]].append(
            (float(row["min_pct"] or 0), float(row["max_pct"] or 100))
        )
    wrong = []
    for natural, parts in tables.constituents.items():
        for part in parts:
            printed = ranges.get((natural, part.id))
            if (
                printed
                and part.basis == "published"
                and not (
                    min(low for low, _ in printed) - 0.05 <= part.low
                    and part.high <= max(high for _, high in printed) + 0.05
                )
            ):
                wrong.append((natural, part.id, part.low, part.high, printed))
    assert wrong == []


def test_releases_are_the_arithmetic_of_hydrolysis(tables):
    """Percent given back = molar mass of what is freed / molar mass of the whole, for one mole each (acetals
    may free two of the alcohol).
    """
    for name, releases in tables.releases.items():
        whole = tables.value(name, "molar_mass_g_mol")
        for release in releases:
            part = tables.value(release.id, "molar_mass_g_mol")
            if whole is None or part is None:
                continue
            full = 100 * part / whole
            assert any(abs(release.share - times * full) <= 1.0 for times in (1, 2)), (
                name,
                release.id,
                release.share,
                round(full, 1),
            )
