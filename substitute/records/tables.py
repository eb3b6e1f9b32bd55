"""All tables joined by id, as the rooms read them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from ..frozen import frozen
from .evidence import Lifting, Swap, Tried, TriedBlend, VerdictWord
from .materials import (
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


@frozen
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
    aliases: tuple[Alias, ...] = field(default_factory=tuple)
    name_words: tuple[NameWord, ...] = field(default_factory=tuple)
    verdict_words: tuple[VerdictWord, ...] = field(default_factory=tuple)
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
