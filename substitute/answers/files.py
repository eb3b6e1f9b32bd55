"""An answer written to a file, as its ending says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ..errors import InputError
from ..tables.writing import write_whole
from .csv import sheets_csv
from .markdown import answer_markdown
from .page import answer_page
from .sections import Answer
from .xlsx import answer_xlsx

ENDINGS: dict[str, Callable[[Answer], str | bytes]] = {
    ".html": answer_page,
    ".xlsx": answer_xlsx,
    ".md": answer_markdown,
    ".csv": lambda answer: sheets_csv(answer.on("data"), answer.cautions, warn_first=answer.weighed),
}


def check_target(path: str | Path, *, force: bool = False, endings: tuple[str, ...] = tuple(ENDINGS)) -> Path:
    """The path, before anything is worked out for it.

    Raises :class:`~substitute.errors.InputError` for another ending, a folder that is not there, or a file
    that exists.
    """
    path = Path(path)
    if path.suffix.lower() not in endings:
        raise InputError(f"{path}: '{path.suffix}' is not a kind of sheet: one of {', '.join(endings)}")
    if path.exists() and not force:
        raise InputError(f"{path}: exists already; another name, or `force` to write over it")
    if not path.parent.is_dir():
        raise InputError(f"{path.parent}: there is no such folder")
    return path


def write_answer(path: str | Path, answer: Answer, *, force: bool = False) -> Path:
    """The answer as .html (a page to print), .xlsx, .md or .csv; whole or not at all. Raises as
    :func:`check_target`."""
    path = check_target(path, force=force)
    return write_whole(path, ENDINGS[path.suffix.lower()](answer), force=force)
