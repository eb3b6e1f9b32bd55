"""What stands in for a perfumery material that is gone, how much of it, what changes, and what to weigh.

>>> import substitute
>>> library = substitute.load()
>>> library.find("84-66-2").id
'diethyl-phthalate'
"""

from __future__ import annotations

__version__ = "0.2.0"
__all__ = [
    "InputError",
    "Library",
    "NotFound",
    "NothingLegal",
    "Several",
    "SubstituteError",
    "TableError",
    "load",
]

_WHERE = {
    "load": "library",
    "Library": "library",
    **dict.fromkeys(
        ("InputError", "NotFound", "NothingLegal", "Several", "SubstituteError", "TableError"), "errors"
    ),
}


def __getattr__(name: str) -> object:
    """Names are imported when first used, so that ``import substitute`` stays quick."""
    if name in _WHERE:
        from importlib import import_module

        return getattr(import_module(f".{_WHERE[name]}", __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
