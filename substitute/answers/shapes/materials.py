"""Answers about one material."""

from __future__ import annotations

from typing import Literal, TypedDict

from .common import Basis, Brief, Control, Figure


class Member(Brief):
    """A stand-in, or one material of a blend; grams neat for one gram neat."""

    grams_per_gram: float | None
    low: float | None
    high: float | None


class Difference(TypedDict):
    """A descriptor gained or lost, by what part of the smell."""

    descriptor: str
    by: float


class Along(TypedDict):
    """What comes with a source."""

    id: str
    name: str
    grams: float


class Supply(TypedDict):
    """A natural as a source of the missing molecule."""

    grams_for_one_gram_of: float
    low: float
    high: float
    along: list[Along]
    share_is_wrong_guide: bool


class Saving(TypedDict):
    """What one gram of the missing material costs, and what takes its place."""

    money: float | None
    before: float | None
    after: float | None


class Features(TypedDict):
    """What the ranking weighed, signed."""

    similarity: float
    sharpness: float
    contains: float
    contained_in: float
    potency_ratio: float
    tenacity_difference: float
    same_note: float
    kin: float
    usual: float
    headroom: float
    company: float
    effort: float


class Step(TypedDict):
    """A node of a path and its relation to the next."""

    id: str
    shared: str


class StandIn(TypedDict):
    """One answer to what stands in."""

    rank: int
    materials: list[Member]
    score: float
    similarity: float | None
    in_words: str
    evidence: Literal["documented", "constituent", "profile"]
    reasons: list[str]
    cautions: list[str]
    gains: list[Difference]
    losses: list[Difference]
    sources: list[str]
    listen: str
    amount_from: str
    trial_series: list[float]
    supply: Supply | None
    saves: Saving | None
    raise_it: bool
    features: Features
    path: list[Step]


class Nearest(Brief):
    """The material that smells nearest, whether it may stand in or not."""

    similarity: float


class LeftOut(TypedDict):
    """How many candidates a rule took away."""

    rule: str
    count: int


class SwapAnswer(TypedDict):
    """``swap``."""

    missing: Brief
    because: Literal["unavailable", "limit", "law", "price"]
    stand_ins: list[StandIn]
    nearest: Nearest | None
    left_out: list[LeftOut]
    notes: list[str]


class Of(TypedDict):
    """What neighbours were asked of."""

    id: str
    name: str
    kind: str


class Neighbour(Brief):
    """A material near it."""

    similarity: float
    shared: list[str]


class NamedStep(Step):
    """A step of a path with its name."""

    kind: str
    name: str


class NeighboursAnswer(TypedDict):
    """``neighbours``."""

    of: Of
    neighbours: list[Neighbour]
    path: list[NamedStep]


class Weight(TypedDict):
    """A descriptor of a profile, 1 to 10."""

    descriptor: str
    weight: float


class Named(TypedDict):
    """A material by id and name."""

    id: str
    name: str


class Beside(Named):
    """How loud another material is beside this one, in words."""

    loud: str


class Held(TypedDict):
    """A natural that holds the material, percent by mass."""

    id: str
    name: str
    low_pct: float
    typical_pct: float
    high_pct: float


class Inside(Held):
    """A constituent."""

    basis: Basis
    source: str


class Release(TypedDict):
    """What is given back, percent by mass."""

    id: str
    name: str
    share_pct: float
    basis: Basis
    source: str


class RuleOnCard(TypedDict):
    """A limit that concerns the material."""

    substance: str
    name: str
    limit_set: str
    limit_set_title: str
    category: str
    max_pct: float | None
    limit_words: str
    rule: str
    note: str
    basis: Basis
    source: str
    check: str


class Hazard(TypedDict):
    """What may hurt whom."""

    hazard: str
    words: str
    basis: Basis
    source: str


class Source(TypedDict):
    """A document or another ground."""

    id: str
    citation: str
    kind: str


class CardAnswer(Brief):
    """``show``."""

    all_cas: list[str]
    kind: Literal["molecule", "natural", "mixture", "solvent"]
    synonyms: list[str]
    botanical: str
    part: str
    process: str
    family: str
    structure: str
    smiles: str
    stocked: bool
    description: str
    basis: str
    profile: list[Weight]
    smell_first: str
    lasts: str
    hard_to_smell: bool
    beside: list[Beside]
    figures: list[Figure]
    constituents: list[Inside]
    assessed: list[str]
    releases: list[Release]
    held_by: list[Held]
    limits: list[RuleOnCard]
    law: list[str]
    hazards: list[Hazard]
    cautions: list[str]
    controls: list[Control]
    replaced_by: list[Named]
    replaces: list[Named]
    sources: list[Source]
