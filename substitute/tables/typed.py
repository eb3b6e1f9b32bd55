"""Tables read cell by cell from their files, typed by the data package's descriptor, and all that is wrong in
them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..errors import Complaint, TableError
from .check import check_references
from .columns import OWN_ROW, OWN_SOURCE, Columns
from .files import read_rows
from .load import TableFiles, data_folder
from .schema import Cells, Resource, TypedRows, read_package


def read_all(
    own: Path | None, shipped: Path | None = None
) -> tuple[TypedRows, str, dict[str, str], list[Complaint]]:
    """Typed rows by table and key, a digest of the bytes read, labels, and all complaints."""
    files = TableFiles(shipped or data_folder(), own)
    rows, complaints = read_typed(files)
    return rows, files.digest, files.labels, [*complaints, *files.label_faults]


def read_typed(files: TableFiles) -> tuple[TypedRows, list[Complaint]]:
    """Rows by table and key, and everything wrong with them.

    Ours are taken as kept, if they are, and read from their files only if a complaint is of them: what was
    kept does not tell in which row of a file it stood.
    """
    package = read_package(files.shipped)
    kept = files.kept_ours() if files.mine else None
    if kept is not None:
        rows, complaints = _laid_over(files, package, _as_rows(package, kept), [])
        if all(one.row is not None for one in complaints):
            return rows, complaints
    ours: TypedRows = {}
    faults: list[Complaint] = []
    for name, resource in package.items():
        ours[name] = _read(files.ours[name], files.shipped / resource.path, resource, faults, own=False)
    return _laid_over(files, package, ours, faults)


def as_columns(files: TableFiles, rows: TypedRows) -> Columns:
    """Checked rows column by column, and under ``OWN_ROW`` whether each is a person's own."""
    return {
        name: {
            column: [row.get(column, False) for row in rows[name].values()]
            for column in (*resource.columns, OWN_ROW)
        }
        for name, resource in read_package(files.shipped).items()
    }


def _as_rows(package: dict[str, Resource], columns: Columns) -> TypedRows:
    found: TypedRows = {}
    for name, resource in package.items():
        held = columns[name]
        table = {column: held[column] for column in resource.columns}
        cells = [dict(zip(table, row)) for row in zip(*table.values())]
        found[name] = dict(zip(zip(*(table[key] for key in resource.primary_key)), cells))
    return found


def _laid_over(
    files: TableFiles, package: dict[str, Resource], rows: TypedRows, complaints: list[Complaint]
) -> tuple[TypedRows, list[Complaint]]:
    """A person's rows laid over ours, and the whole checked."""
    if files.own is not None and files.mine:
        rows["sources"][("own",)] = dict(OWN_SOURCE)
        for name, data in files.mine.items():
            resource = package[name]
            mine = _read(data, files.own / resource.path, resource, complaints, own=True)
            for row in mine.values():
                row[OWN_ROW] = True
            rows[name].update(mine)
    if not complaints:
        complaints.extend(check_references(package, rows))
    return rows, complaints


def _read(
    data: bytes, path: Path, resource: Resource, complaints: list[Complaint], *, own: bool
) -> dict[tuple[Any, ...], Cells]:
    try:
        required = [name for name in resource.required if not (own and name in ("basis", "source"))]
        typed, wrong = resource.type_rows(read_rows(data, required, resource.columns, name=str(path)), own)
    except TableError as error:
        typed, wrong = {}, list(error.complaints)
    complaints.extend(wrong)
    return typed
