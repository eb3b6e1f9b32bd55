"""The frozen records that travel between the rooms, by subject. DataFrames stop at the loader."""

from .asked import Asked, Where
from .evidence import Lifting, Swap, Tried, TriedBlend, VerdictWord
from .formulas import ROLES, STAGES, Accord, Line, Shelf, Stock, ToFill
from .materials import (
    HAZARDS,
    KINDS,
    PRICES,
    Alias,
    Constituent,
    Descriptor,
    Figure,
    Hazard,
    Material,
    NameWord,
    Price,
    Release,
    Source,
)
from .rules import Control, Limit, LimitSet, Product
from .tables import Tables

__all__ = [
    "HAZARDS",
    "KINDS",
    "PRICES",
    "ROLES",
    "STAGES",
    "Accord",
    "Alias",
    "Asked",
    "Constituent",
    "Control",
    "Descriptor",
    "Figure",
    "Hazard",
    "Lifting",
    "Limit",
    "LimitSet",
    "Line",
    "Material",
    "NameWord",
    "Price",
    "Product",
    "Release",
    "Shelf",
    "Source",
    "Stock",
    "Swap",
    "Tables",
    "ToFill",
    "Tried",
    "TriedBlend",
    "VerdictWord",
    "Where",
]
