"""Reads the shipped tables, lays a person's own over them, and checks the whole.

A person's folder holds any of the same files with the same columns; a row there replaces ours that has the
same primary key.
"""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from ..errors import Complaint, InputError, TableError
from ..records import (
    Alias,
    Constituent,
    Control,
    Descriptor,
    Figure,
    Hazard,
    Limit,
    LimitSet,
    Material,
    NameWord,
    Price,
    Product,
    Release,
    Source,
    Swap,
    Tables,
)
from .check import check_references
from .files import read_bytes, read_rows
from .formulas import read_labels
from .schema import OWN_SOURCE, Resource, read_package

VARIABLE = "SUBSTITUTE_TABLES"


def data_folder() -> Path:
    """The shipped tables: beside the package when installed, in the checkout otherwise."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "data", package.parent / "data"):
        if (folder / "datapackage.json").is_file():
            return folder
    raise InputError(
        f"the tables are missing: neither {package / 'data'} nor {package.parent / 'data'} holds datapackage.json"
    )


def demo_folder() -> Path:
    """The demo scenario beside the tables."""
    return data_folder() / "demo"


def own_folder(tables=None) -> Path | None:
    """A person's own tables: the argument, then ``SUBSTITUTE_TABLES``, then none."""
    chosen = tables if tables is not None else os.environ.get(VARIABLE) or None
    if chosen is None:
        return None
    folder = Path(chosen)
    if not folder.is_dir():
        raise InputError(
            f"{folder}: there is no such folder of tables (from {'`tables`' if tables is not None else VARIABLE})"
        )
    return folder


def load_tables(tables=None) -> Tables:
    """The shipped tables with a person's own laid over them.

    Raises :class:`~substitute.errors.TableError` with every complaint if anything is wrong.
    """
    rows, digest, labels, complaints = read_all(own_folder(tables))
    if complaints:
        raise TableError(complaints)
    return assemble(rows, labels, digest)


def read_all(own: Path | None, shipped: Path | None = None):
    """Typed rows by table and key, a digest of the bytes read, labels, and all complaints."""
    shipped = shipped or data_folder()
    package = read_package(shipped)
    digest = hashlib.sha256()
    rows: dict[str, dict[tuple, dict]] = {}
    complaints: list[Complaint] = []
    for name, resource in package.items():
        rows[name] = _read(shipped / resource.path, resource, False, digest, complaints)
    labels: dict[str, str] = {}
    if own is not None:
        rows["sources"][("own",)] = dict(OWN_SOURCE)
        labels = _lay_over(own, package, rows, digest, complaints)
    if not complaints:
        complaints.extend(check_references(package, rows))
    return rows, digest.hexdigest(), labels, complaints


def _lay_over(own: Path, package: dict[str, Resource], rows, digest, complaints) -> dict[str, str]:
    found = False
    for name, resource in package.items():
        path = own / resource.path
        if not path.exists():
            continue
        found = True
        mine = _read(path, resource, True, digest, complaints)
        for row in mine.values():
            row["_own"] = True
        rows[name].update(mine)
    path = own / "labels.csv"
    if path.exists():
        found = True
        try:
            return read_labels(path)
        except TableError as error:
            complaints.extend(error.complaints)
    if not found:
        raise InputError(
            f"{own}: holds none of the tables ({', '.join(r.path for r in package.values())}, labels.csv)"
        )
    return {}


def _read(path: Path, resource: Resource, own: bool, digest, complaints) -> dict[tuple, dict]:
    data = read_bytes(path)
    digest.update(data)
    try:
        required = [name for name in resource.required if not (own and name in ("basis", "source"))]
        typed, wrong = resource.type_rows(read_rows(data, required, resource.columns, name=str(path)), own)
    except TableError as error:
        typed, wrong = {}, error.complaints
    complaints.extend(wrong)
    return typed


def _split(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


def _grouped(rows, by: str, make) -> dict[str, tuple]:
    found: dict[str, list] = {}
    for row in rows:
        found.setdefault(row[by], []).append(make(row))
    return {key: tuple(items) for key, items in found.items()}


def _material(row: dict) -> Material:
    texts = {
        name: row[name]
        for name in (
            "id",
            "name",
            "kind",
            "smiles",
            "structure",
            "botanical",
            "part",
            "process",
            "family",
            "description",
            "basis",
            "source",
        )
    }
    return Material(
        cas=_split(row["cas"]),
        owns_cas=not row["cas"].startswith(";"),
        synonyms=_split(row["synonyms"]),
        stocked=row["stocked"] == "yes",
        assessed=frozenset(_split(row["assessed"])),
        **texts,
    )


def _constituent(row: dict) -> Constituent:
    typical, own = row["typical_pct"], row.get("_own", False)
    alone = row["high_pct"] is None  # a single measured figure: nothing is known of its spread
    low = row["low_pct"] if row["low_pct"] is not None else (typical if own or alone else 0.0)
    high = row["high_pct"] if row["high_pct"] is not None else typical
    return Constituent(row["constituent"], low, typical, high, row["basis"], row["source"], own)


def _impressions(rows) -> dict[str, dict[str, tuple[float, ...]]]:
    """Panel -> descriptor -> weights on the panel's axes; an empty cell is no weight."""
    found: dict[str, dict[str, tuple[float, ...]]] = {}
    for row in rows:
        axes = tuple(row[name] or 0.0 for name in row if name.startswith("axis_"))
        found.setdefault(row["panel"], {})[row["descriptor"]] = axes
    return found


def _record(kind, row: dict, **changes):
    return kind(**{name: changes.get(name, row.get(name)) for name in kind.__dataclass_fields__})


def assemble(rows: dict[str, dict[tuple, dict]], labels: dict[str, str], digest: str) -> Tables:
    """Typed rows joined into :class:`~substitute.records.Tables`."""
    properties: dict[str, dict[str, Figure]] = {}
    for row in rows["properties"].values():
        properties.setdefault(row["material"], {})[row["property"]] = Figure(
            row["value"], row["at"], row["basis"], row["source"]
        )
    profiles: dict[str, dict[str, float]] = {}
    for row in rows["profiles"].values():
        profiles.setdefault(row["material"], {})[row["descriptor"]] = row["weight"]
    groups: dict[str, dict[str, float]] = {}
    for row in rows["groups"].values():
        groups.setdefault(row["group"], {})[row["material"]] = row["weight"]
    return Tables(
        materials={row["id"]: _material(row) for row in rows["materials"].values()},
        properties=properties,
        descriptors={row["id"]: _record(Descriptor, row) for row in rows["descriptors"].values()},
        profiles=profiles,
        constituents=_grouped(rows["constituents"].values(), "natural", _constituent),
        releases=_grouped(
            rows["releases"].values(),
            "material",
            lambda row: Release(row["releases"], row["share_pct"], row["basis"], row["source"]),
        ),
        limit_sets={row["id"]: _record(LimitSet, row) for row in rows["limit_sets"].values()},
        products=tuple(
            _record(Product, row, leave_on=row["leave_on"] == "yes", skin=row["skin"] == "yes")
            for row in rows["products"].values()
        ),
        groups=groups,
        limits=tuple(_record(Limit, row, own=row.get("_own", False)) for row in rows["limits"].values()),
        controls=tuple(_record(Control, row) for row in rows["controls"].values()),
        swaps=tuple(_record(Swap, row) for row in rows["swaps"].values()),
        sources={row["id"]: _record(Source, row) for row in rows["sources"].values()},
        prices={
            row["material"]: Price(row["price"], row["basis"], row["source"])
            for row in rows["prices"].values()
        },
        impressions=_impressions(rows["impressions"].values()),
        hazards=_grouped(rows["hazards"].values(), "material", lambda row: _record(Hazard, row)),
        labels=labels,
        digest=digest,
        aliases=tuple(_record(Alias, row, rank=int(row["rank"])) for row in rows["aliases"].values()),
        name_words=tuple(_record(NameWord, row) for row in rows["name_words"].values()),
    )
