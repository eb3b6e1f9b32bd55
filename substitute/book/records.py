"""What stands in a bench book, as frozen records, and the columns of its files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from types import MappingProxyType

from ..frozen import frozen

COLUMNS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "book.csv": ("key", "value"),
        "bottles.csv": (
            *("label", "material", "cas", "lot", "strength_pct", "grams", "price_per_gram", "date", "note"),
        ),
        "labels.csv": ("label", "cas"),
        "verdicts.csv": (
            *("id", "date", "kind", "about", "line", "trial", "nearness", "amount", "degree"),
            *("grams_used", "grams_right", "words", "taken_back"),
        ),
        "moves.csv": (
            *(
                "id",
                "date",
                "what",
                "accord",
                "batch_g",
                "label",
                "material",
                "strength_pct",
                "grams",
                "undone",
            ),
        ),
    }
)
REQUIRED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "book.csv": ("key", "value"),
        "bottles.csv": ("label",),
        "labels.csv": ("label", "cas"),
        "verdicts.csv": ("id", "kind", "about"),
        "moves.csv": ("id", "label", "grams"),
    }
)
KINDS = ("swap", "blend", "line", "accord")
PLUS = " + "  # between the members of a blend
NEARNESS = ("near", "fair", "far", "not_smelled")
AMOUNTS = ("too_strong", "right", "too_weak")
DEGREES = ("slightly", "clearly", "far")


@frozen
class Bottle:
    """A bottle: its label, the material's id, lot, strength [% by mass], grams left and price per gram
    (``None`` unknown), date."""

    label: str
    material: str
    strength: float = 100.0
    grams: float | None = None
    price: float | None = None
    cas: str = ""
    lot: str = ""
    date: str = ""
    note: str = ""


@frozen
class Verdict:
    """What the nose said once.

    ``kind`` swap: ``line`` was tried in the place of ``about`` (both ids), ``grams_used`` and
    ``grams_right`` neat for 1 g neat. ``kind`` blend: the same of several, ``line`` as ``a:0.5 + b:0.3``
    (ids with the grams of each that were tried for 1 g), the grams of all together. ``kind`` line: the
    material ``line`` of the accord ``about`` in ``trial`` (1 is the accord itself). ``kind`` accord: of the
    whole.
    """

    id: int
    date: str
    kind: str
    about: str
    line: str = ""
    trial: int | None = None
    nearness: str = ""
    amount: str = ""
    degree: str = ""
    grams_used: float | None = None
    grams_right: float | None = None
    words: str = ""
    taken_back: str = ""

    @property
    def holds(self) -> bool:
        """Whether it was not taken back."""
        return not self.taken_back

    @property
    def pair(self) -> tuple[str, str]:
        """(missing, stand-in) of a swap."""
        return self.about, self.line

    @property
    def of_accord(self) -> bool:
        """Whether it speaks of an accord of the book, or a line of one."""
        return self.kind in ("line", "accord")

    @property
    def mixed(self) -> dict[str, float]:
        """Id -> grams of what was tried, of a blend all; 1 for a single material."""
        if self.kind != "blend":
            return {self.line: 1.0}
        parts = (part.rpartition(":") for part in self.line.split(PLUS))
        return {id: float(grams) for id, _, grams in parts}

    @property
    def materials(self) -> tuple[str, ...]:
        """Every material it speaks of."""
        stood = tuple(self.mixed) if self.line else ()
        return (self.about, *stood) if self.kind in ("swap", "blend") else stood


@frozen
class Move:
    """Grams out of a bottle (negative: into it); rows of one weighing share ``id``."""

    id: int
    date: str
    what: str
    accord: str
    batch_g: float
    label: str
    material: str
    strength: float
    grams: float
    undone: str = ""


@frozen
class About:
    """What ``book.csv`` says: the format's version, the book's name, when it was begun."""

    format: int
    name: str
    created: str
    more: Mapping[str, str] = field(default_factory=dict)
