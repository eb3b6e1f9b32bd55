"""The guide: a tutorial, answers to ten questions and the models stand here as pages; the reference is made
from the program.

``python -m substitute.guide OUT`` writes all of it into the folder OUT.
"""

from __future__ import annotations

from pathlib import Path

HERE = Path(__file__).parent


def build(out: Path) -> list[Path]:
    """Writes the whole guide into ``out``, made if it is not there, and returns the files.

    Raises :class:`~substitute.errors.InputError` where ``out`` is a file.
    """
    from ..errors import InputError
    from ..tables.writing import write_whole
    from .reference import pages

    if out.exists() and not out.is_dir():
        raise InputError(f"{out}: is a file; a folder is wanted")
    out.mkdir(parents=True, exist_ok=True)
    own = {page.name: page.read_text(encoding="utf-8") for page in sorted(HERE.glob("*.md"))}
    return [write_whole(out / name, text, force=True) for name, text in {**own, **pages()}.items()]


__all__ = ["build"]
