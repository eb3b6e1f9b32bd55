"""Whole files out: CSV text that no spreadsheet runs, written whole or not at all."""

from __future__ import annotations

import csv
import io
import os
import stat
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from ..errors import InputError

FORMULA_START = ("=", "+", "-", "@", "\t", "\r")  # a spreadsheet runs cells that begin so


def check_ordinary(path: Path) -> None:
    """Raise for what is neither a file nor a folder: reading a pipe or a device may never end."""
    try:
        mode = os.stat(path).st_mode
    except (OSError, ValueError):
        return  # whoever opens it says what is wrong
    if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
        raise InputError(
            f"{path}: is no ordinary file (a pipe, a device or a socket); save it to a file first"
        )


def write_whole(path: str | Path, data: bytes | str, *, force: bool = False) -> Path:
    """Write a file whole or not at all (through a temporary neighbour), never over another without
    ``force``."""
    path = Path(path)
    if isinstance(data, str):
        data = data.encode("utf-8")
    if not str(path).strip() or path.is_dir():
        raise InputError(f"{path}: is a folder, a file name is wanted")
    check_ordinary(path)  # a device or a pipe is never replaced
    if path.is_symlink():
        path = Path(os.path.realpath(path))  # what it points to is written, the link stays
    if (path.exists() or path.is_symlink()) and not force:
        raise InputError(f"{path}: exists already; another name, or `force` to write over it")
    temporary = None
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent or Path("."), prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(temporary, 0o666 & ~umask())
        os.replace(temporary, path)
    except OSError as error:
        if temporary and os.path.exists(temporary):
            os.unlink(temporary)
        raise InputError(f"{path}: cannot be written ({error.strerror or error})") from None
    return path


def umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def harmless(cell: object) -> object:
    """A cell of an export that no spreadsheet runs: a text that begins like a formula gets an apostrophe
    in front."""
    if not isinstance(cell, str) or not cell.startswith(FORMULA_START):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell


def to_csv(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as CSV text as they are; numbers at full precision without needless digits, ``None`` as an
    empty cell."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow(
            ["" if cell is None else f"{cell:.12g}" if isinstance(cell, float) else cell for cell in row]
        )
    return out.getvalue()
