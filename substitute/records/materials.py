"""What a material is: its figures, its smell in words, what it is made of, what it costs and hurts, and its
names."""

from __future__ import annotations

from ..frozen import frozen

KINDS = ("molecule", "natural", "mixture", "solvent")
PRICES = ("cheap", "ordinary", "dear", "very dear", "precious")  # per gram, each several times the one before
HAZARDS = (
    "sensitises",
    "light",
    "eyes",
    "breathing",
    "burns",
    "unborn_child",
    "children",
    "pets",
    "long_term",
    "prohibited_because",
)


@frozen
class Figure:
    """One number with its unit in the property's name, and how it is known."""

    value: float
    at: str
    basis: str
    source: str


@frozen
class Material:
    """Anything that can be weighed, or is met only inside a natural (``stocked`` false).

    ``owns_cas`` is false where every number is shared with a material that has it first.
    """

    id: str
    name: str
    kind: str
    cas: tuple[str, ...] = ()
    owns_cas: bool = True
    smiles: str = ""
    structure: str = ""
    synonyms: tuple[str, ...] = ()
    botanical: str = ""
    part: str = ""
    process: str = ""
    family: str = ""
    stocked: bool = True
    assessed: frozenset[str] = frozenset()
    description: str = ""
    basis: str = ""
    source: str = ""

    @property
    def main_cas(self) -> str:
        """The CAS number on the bottle: its own, else the first it shares; '' if none is on file."""
        return self.cas[0] if self.cas else ""

    def brief(self) -> dict[str, str]:
        """The three keys by which answers name a material."""
        return {"id": self.id, "name": self.name, "cas": self.main_cas}


@frozen
class Descriptor:
    """A word for a smell; ``parent`` is the wider word, '' for a family."""

    id: str
    name: str
    parent: str
    definition: str


@frozen
class Constituent:
    """A material inside a natural, percent by mass; ``own`` marks a lot's own analysis."""

    id: str
    low: float
    typical: float
    high: float
    basis: str
    source: str
    own: bool = False


@frozen
class Release:
    """What a Schiff base or acetal gives back, percent by mass of the material."""

    id: str
    share: float
    basis: str
    source: str


@frozen
class Price:
    """A rough price per gram in one of the words of ``PRICES``; never a quote."""

    word: str
    basis: str
    source: str

    @property
    def step(self) -> int:
        """0 for cheap to 4 for precious."""
        return PRICES.index(self.word)


@frozen
class Hazard:
    """What may hurt whom: one of ``HAZARDS`` and one line of our own words. No row means unknown."""

    hazard: str
    words: str
    basis: str
    source: str


@frozen
class Source:
    """A document or another ground for a figure."""

    id: str
    citation: str
    kind: str


@frozen
class Alias:
    """What people write for short: ``use`` is plain (taken), other or several (told, likeliest first) or note
    (a word for a smell).
    """

    alias: str
    material: str
    rank: int
    use: str


@frozen
class NameWord:
    """A word of another language or of the trade in our words; ``kind`` says what sort of word it is in a
    name.
    """

    word: str
    means: str
    kind: str
