"""The frozen records that travel between the rooms. DataFrames stop at the loader."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

KINDS = ("molecule", "natural", "mixture", "solvent")
ROLES = ("core", "support", "lift", "trace")
STAGES = ("opening", "heart", "drydown")
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


@dataclass(frozen=True)
class Figure:
    """One number with its unit in the property's name, and how it is known."""

    value: float
    at: str
    basis: str
    source: str


@dataclass(frozen=True)
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


@dataclass(frozen=True)
class Descriptor:
    """A word for a smell; ``parent`` is the wider word, '' for a family."""

    id: str
    name: str
    parent: str
    definition: str


@dataclass(frozen=True)
class Constituent:
    """A material inside a natural, percent by mass; ``own`` marks a lot's own analysis."""

    id: str
    low: float
    typical: float
    high: float
    basis: str
    source: str
    own: bool = False


@dataclass(frozen=True)
class Release:
    """What a Schiff base or acetal gives back, percent by mass of the material."""

    id: str
    share: float
    basis: str
    source: str


@dataclass(frozen=True)
class LimitSet:
    """A dated collection of limits for a market."""

    id: str
    title: str
    market: str
    in_force: dt.date
    replaces: str
    source: str


@dataclass(frozen=True)
class Limit:
    """A maximum in the finished product; ``max_pct`` is ``None`` where it is not known, ``own`` marks a
    person's own row.
    """

    limit_set: str
    substance: str
    category: str
    max_pct: float | None
    rule: str
    note: str
    basis: str
    source: str
    own: bool = False


@dataclass(frozen=True)
class Product:
    """Something people make, and where one set of limits puts it."""

    id: str
    name: str
    limit_set: str
    category: str
    leave_on: bool
    skin: bool


@dataclass(frozen=True)
class Control:
    """A rule of trade or supply about a material: CITES, precursor, ban, supply."""

    material: str
    control: str
    market: str
    detail: str
    in_force: dt.date | None
    basis: str
    source: str


@dataclass(frozen=True)
class Price:
    """A rough price per gram in one of the words of ``PRICES``; never a quote."""

    word: str
    basis: str
    source: str

    @property
    def step(self) -> int:
        """0 for cheap to 4 for precious."""
        return PRICES.index(self.word)


@dataclass(frozen=True)
class Hazard:
    """What may hurt whom: one of ``HAZARDS`` and one line of our own words. No row means unknown."""

    hazard: str
    words: str
    basis: str
    source: str


@dataclass(frozen=True)
class Swap:
    """Evidence that ``stand_in`` takes the place of ``missing``; the row has a direction."""

    missing: str
    stand_in: str
    because: str
    grams_per_gram: float | None
    note: str
    basis: str
    source: str


@dataclass(frozen=True)
class Tried:
    """What a person's own nose found of ``stand_in`` in the place of ``missing``.

    ``nearness`` is near, fair, far, not_smelled or '' (nothing said); ``grams`` for one gram with its limits,
    ``None`` where no amount was judged; ``told`` in words, with the verdicts it comes from.
    """

    missing: str
    stand_in: str
    nearness: str
    grams: float | None
    low: float | None
    high: float | None
    told: str
    verdicts: tuple[int, ...] = ()


@dataclass(frozen=True)
class TriedBlend:
    """What a person's own nose found of a blend in the place of ``missing``: ``parts`` (id -> share by mass,
    to a sum of 1), and as in :class:`Tried`, the grams of all together."""

    missing: str
    parts: Mapping[str, float]
    nearness: str
    grams: float
    low: float | None
    high: float | None
    told: str
    verdicts: tuple[int, ...] = ()


@dataclass(frozen=True)
class Lifting:
    """Practice: ``material`` at ``low_pct`` to ``high_pct`` of an accord helps the smell ``descriptor``
    carry.
    """

    descriptor: str
    material: str
    low_pct: float
    high_pct: float
    note: str
    basis: str
    source: str


@dataclass(frozen=True)
class Source:
    """A document or another ground for a figure."""

    id: str
    citation: str
    kind: str


@dataclass(frozen=True)
class Alias:
    """What people write for short: ``use`` is plain (taken), other or several (told, likeliest first) or note
    (a word for a smell).
    """

    alias: str
    material: str
    rank: int
    use: str


@dataclass(frozen=True)
class NameWord:
    """A word of another language or of the trade in our words; ``kind`` says what sort of word it is in a
    name.
    """

    word: str
    means: str
    kind: str


@dataclass(frozen=True)
class VerdictWord:
    """Words in which people say what they smelled, and the English that is understood of them."""

    words: str
    means: str
    language: str


@dataclass(frozen=True)
class Line:
    """A line of an accord: parts by mass of what goes on the balance, at a strength in percent by mass."""

    material: str
    parts: float
    strength: float = 100.0
    role: str = "support"
    optional: bool = False

    @property
    def active(self) -> float:
        """Parts of the material itself, without its carrier."""
        return self.parts * self.strength / 100.0


@dataclass(frozen=True)
class ToFill:
    """A line that names a note instead of a material; ``suggestions`` are ids of what gives it."""

    row: int
    text: str
    parts: float
    suggestions: tuple[str, ...]

    def __str__(self) -> str:
        givers = ", ".join(self.suggestions)
        return f"row {self.row}, '{self.text}': a line to fill, not counted; what gives it: {givers}"


@dataclass(frozen=True)
class Accord:
    """A short formula; ``name`` is its file's stem.

    ``read_as`` says which materials were taken for short or misspelt names and what else was done to read the
    file; ``to_fill`` are lines that name a note: they are no lines yet and count nowhere.
    """

    name: str
    lines: tuple[Line, ...]
    intent: str = ""
    read_as: tuple[str, ...] = field(default=(), compare=False)
    to_fill: tuple[ToFill, ...] = field(default=(), compare=False)

    @property
    def total(self) -> float:
        return sum(line.parts for line in self.lines)

    def active(self) -> dict[str, float]:
        """Parts of each material itself; several lines of one material are added up."""
        found: dict[str, float] = {}
        for line in self.lines:
            found[line.material] = found.get(line.material, 0.0) + line.active
        return found


@dataclass(frozen=True)
class Stock:
    """A material on the shelf in one strength."""

    material: str
    strength: float = 100.0
    grams: float | None = None
    price: float | None = None


@dataclass(frozen=True)
class Shelf:
    """What a person has; a material may stand there in several strengths."""

    stock: tuple[Stock, ...]
    name: str = "shelf"
    read_as: tuple[str, ...] = field(default=(), compare=False)

    def materials(self) -> tuple[str, ...]:
        """Ids on the shelf, each once, in the order written."""
        return tuple(dict.fromkeys(item.material for item in self.stock))

    def strengths(self, material: str) -> tuple[float, ...]:
        """Strengths of a material on the shelf, strongest first."""
        return tuple(
            sorted({item.strength for item in self.stock if item.material == material}, reverse=True)
        )

    def price(self, material: str) -> float | None:
        """Price per gram of the material itself (the cheapest entry, its carrier counted as free)."""
        prices = [
            item.price / (item.strength / 100.0)
            for item in self.stock
            if item.material == material and item.price is not None
        ]
        return min(prices) if prices else None


@dataclass(frozen=True)
class Tables:
    """All tables, typed and joined by id."""

    materials: Mapping[str, Material]
    properties: Mapping[str, Mapping[str, Figure]]
    descriptors: Mapping[str, Descriptor]
    profiles: Mapping[str, Mapping[str, float]]
    constituents: Mapping[str, tuple[Constituent, ...]]
    releases: Mapping[str, tuple[Release, ...]]
    limit_sets: Mapping[str, LimitSet]
    products: tuple[Product, ...]
    groups: Mapping[str, Mapping[str, float]]
    limits: tuple[Limit, ...]
    controls: tuple[Control, ...]
    swaps: tuple[Swap, ...]
    sources: Mapping[str, Source]
    prices: Mapping[str, Price] = field(default_factory=dict)
    hazards: Mapping[str, tuple[Hazard, ...]] = field(default_factory=dict)
    lifts: Mapping[str, tuple[Lifting, ...]] = field(default_factory=dict)
    impressions: Mapping[str, Mapping[str, tuple[float, ...]]] = field(default_factory=dict)
    labels: Mapping[str, str] = field(default_factory=dict)
    digest: str = ""
    aliases: tuple[Alias, ...] = ()
    name_words: tuple[NameWord, ...] = ()
    verdict_words: tuple[VerdictWord, ...] = ()
    tried: Mapping[tuple[str, str], Tried] = field(default_factory=dict)  # by (missing, stand-in)
    blends: Mapping[str, tuple[TriedBlend, ...]] = field(default_factory=dict)  # tried, by what was missing
    nose: Mapping[str, float] = field(default_factory=dict)  # how much louder than on file to this person

    def louder(self, missing: str, stand_in: str) -> float:
        """How much more of the stand-in this person needs than one to whom both are as loud as on file."""
        return self.nose.get(missing, 1.0) / self.nose.get(stand_in, 1.0)

    def value(self, material: str, name: str) -> float | None:
        """A property's value, ``None`` where none is on file."""
        figure = self.properties.get(material, {}).get(name)
        return None if figure is None else figure.value
