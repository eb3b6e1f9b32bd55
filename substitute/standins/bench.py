"""What stand-ins are worked out on: built once by the library, passed along whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from ..odour.perception import HEARING, Hearing
from ..odour.space import Space
from ..odour.staging import Staged
from ..records import Swap, Tables
from ..rules.exposure import Exposure
from .candidates import smellable
from .evidence import Evidence
from .features import Features


@dataclass(frozen=True)
class Bench:
    """Tables, space, features, exposure, staged odours and documented swaps (missing -> rows, best first)."""

    tables: Tables
    space: Space
    features: Features
    exposure: Exposure
    staged: Staged
    evidence: Mapping[str, tuple[Swap, ...]]
    hearing: Hearing = HEARING

    @cached_property
    def known(self) -> Evidence:
        """What is documented around any pair."""
        return Evidence(self.tables, self.space, self.evidence)

    @cached_property
    def smellable(self) -> tuple[str, ...]:
        """Materials that can stand in for anything."""
        return tuple(smellable(self.tables))
