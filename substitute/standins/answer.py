"""The records of a swap answer, and what they say as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Any, ClassVar

from ..frozen import frozen
from ..records import Tables
from ..shown import Shown
from .amounts import Amount
from .words import Difference, Supply


@frozen
class Member:
    """One material of a stand-in and how much of it, neat for neat."""

    id: str
    amount: Amount | None

    def to_dict(self, tables: Tables) -> dict[str, Any]:
        amount = self.amount
        return {
            **tables.materials[self.id].brief(),
            "grams_per_gram": amount.grams if amount else None,
            "low": amount.low if amount else None,
            "high": amount.high if amount else None,
        }


@frozen
class StandIn:
    """A ranked answer. ``raises`` is true where it already stands in the accord: more of it, nothing new."""

    rank: int
    members: tuple[Member, ...]
    score: float
    in_words: str
    similarity: float
    evidence: str
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    gains: tuple[Difference, ...] = ()
    losses: tuple[Difference, ...] = ()
    sources: tuple[str, ...] = ()
    listen: str = ""
    supply: Supply | None = None
    trial_series: tuple[float, ...] = ()
    saves: Mapping[str, Any] | None = None
    raises: bool = False
    features: Mapping[str, float] = field(default_factory=dict)
    path: tuple[tuple[str, str], ...] = ()

    def to_dict(self, tables: Tables) -> dict[str, Any]:
        lead = self.members[0].amount
        return {
            "rank": self.rank,
            "materials": [member.to_dict(tables) for member in self.members],
            "score": self.score,
            "similarity": self.similarity,
            "in_words": self.in_words,
            "evidence": self.evidence,
            "reasons": list(self.reasons),
            "cautions": list(self.cautions),
            "gains": [d.to_dict() for d in self.gains],
            "losses": [d.to_dict() for d in self.losses],
            "sources": list(self.sources),
            "listen": self.listen,
            "amount_from": lead.ground if lead else None,
            "trial_series": list(self.trial_series),
            "supply": self.supply.to_dict(tables) if self.supply else None,
            "saves": dict(self.saves) if self.saves else None,
            "raise_it": self.raises,
            "features": dict(self.features),
            "path": [{"id": node, "shared": relation} for node, relation in self.path],
        }


@frozen
class SwapAnswer(Shown):
    """All that ``swap`` answers. ``left_out`` says how many materials a rule keeps out (words of the rule
    -> count).
    """

    asked_by: ClassVar[str] = "swap"

    missing: str
    because: str
    stand_ins: tuple[StandIn, ...]
    nearest: tuple[str, float] | None
    notes: tuple[str, ...]
    tables: Tables = field(repr=False)
    left_out: Mapping[str, int] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        near = self.nearest
        return {
            "missing": self.tables.materials[self.missing].brief(),
            "because": self.because,
            "stand_ins": [answer.to_dict(self.tables) for answer in self.stand_ins],
            "nearest": {**self.tables.materials[near[0]].brief(), "similarity": near[1]} if near else None,
            "left_out": [{"rule": rule, "count": count} for rule, count in self.left_out.items()],
            "notes": list(self.notes),
        }
