"""What a person works with: accords of lines, and the shelf they are weighed from."""

from __future__ import annotations

from dataclasses import field

from ..frozen import frozen

ROLES = ("core", "support", "lift", "trace")
STAGES = ("opening", "heart", "drydown")


@frozen
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


@frozen
class ToFill:
    """A line that names a note instead of a material; ``suggestions`` are ids of what gives it."""

    row: int
    text: str
    parts: float
    suggestions: tuple[str, ...]

    def __str__(self) -> str:
        givers = ", ".join(self.suggestions)
        return f"row {self.row}, '{self.text}': a line to fill, not counted; what gives it: {givers}"


@frozen
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


@frozen
class Stock:
    """A material on the shelf in one strength."""

    material: str
    strength: float = 100.0
    grams: float | None = None
    price: float | None = None


@frozen
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
