"""The bytes of a file as text: what is no table is told by its first bytes, and an old encoding is named."""

from __future__ import annotations

import re
from typing import IO

from ..errors import complain
from .rows import shorten

OLD = "cp1252"
NOT_TEXT = {OLD: "is neither UTF-8 nor Windows-1252", "utf-16": "is not UTF-16, which its mark promises"}
UTF16 = (b"\xff\xfe", b"\xfe\xff")
CELLS = re.compile(r"[;,\t\r\n\"]")

NO_TABLES = {
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture (PNG)",
    b"\xff\xd8\xff": "a picture (JPEG)",
    b"GIF8": "a picture (GIF)",
    b"BM": "a picture (BMP)",
    b"\xd0\xcf\x11\xe0": "an old binary office file",
    b"{\\rtf": "a text document (RTF)",
    b"<!DOCTYPE": "a web page",
    b"<html": "a web page",
    b"SQLite format": "a database",
    b"\x1f\x8b": "a compressed file",
    b"7z\xbc\xaf": "a compressed file",
}


def decode(data: bytes, name: str) -> tuple[str, str]:
    """Bytes as text, and what should be told of how they were read: a byte-order mark decides, else UTF-8,
    else what spreadsheets of western Europe have long written.
    """
    for mark, what in NO_TABLES.items():
        if data.startswith(mark) and (mark != b"BM" or b"\x00" in data[:64]):
            raise complain(
                name,
                None,
                None,
                f"is {what}, not a table; save the formula as CSV (UTF-8), XLSX or ODS, or type it in",
            )
    if data[:2] in UTF16:
        try:
            return data.decode("utf-16"), ""
        except UnicodeDecodeError:
            raise complain(
                name, None, None, "is not text (a UTF-16 mark, but not UTF-16); save it as CSV UTF-8"
            ) from None
    if b"\x00" in data:
        raise complain(
            name, None, None, "is not text but binary data; a CSV (UTF-8), XLSX or ODS file is wanted"
        )
    try:
        return data.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        return _in_old(data, name)


def _in_old(data: bytes, name: str) -> tuple[str, str]:
    try:
        text = data.decode(OLD)
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        raise complain(
            name,
            row,
            None,
            f"{NOT_TEXT[OLD]} (byte 0x{data[error.start]:02x}); save it as CSV UTF-8",
        ) from None
    row, line = next((row, line) for row, line in enumerate(text.split("\n"), 1) if not line.isascii())
    return text, _doubt(row, line)


def _doubt(row: int, line: str) -> str:
    """What is told of a file in an old encoding, with the first cell that shows whether it was guessed."""
    cell = next((one for one in CELLS.split(line) if not one.isascii()), "")
    return (
        f"is not UTF-8 and was read as Windows-1252 (row {row}: '{shorten(cell)}'); if its letters are "
        "wrong, save it as CSV UTF-8"
    )


def encoding_of(file: IO[bytes]) -> tuple[str, str]:
    """The encoding of a long file, looked through from its start, and what is told of it."""
    mark = file.read(2)
    file.seek(0)
    if mark in UTF16:
        return "utf-16", ""
    for row, line in enumerate(file, 1):
        if not line.isascii():
            try:
                line.decode("utf-8")
            except UnicodeDecodeError:
                file.seek(0)
                return OLD, _doubt(row, line.decode(OLD, "replace"))
    file.seek(0)
    return "utf-8-sig", ""
