"""Our own modules, each read and parsed once a run: many tests look at the same code."""

from __future__ import annotations

import ast
import functools
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "substitute"
MODULES = sorted(PACKAGE.rglob("*.py"))


@functools.cache
def text_of(path: Path) -> str:
    return path.read_text(encoding="utf-8")


@functools.cache
def parsed(path: Path) -> ast.Module:
    """Not to be changed: every test gets the same tree."""
    return ast.parse(text_of(path))


@functools.cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """All of a module's tree, laid out once."""
    return tuple(ast.walk(parsed(path)))
