"""Who is asked to lift a line: what practice names for its smell, and what airs without being rough."""

from __future__ import annotations

from ..records import Lifting, Tables

RADIANT = ("airy", "soft", "fresh", "clean-musk", "watery")
ROUGH = frozenset(
    (
        *("animalic", "pungent", "heavy", "metallic", "fatty", "sulphurous", "burnt"),
        *("bready", "oily", "bitter", "nutty", "coffee", "phenolic"),
    )
)
LEAST_RADIANT = 0.25  # of the profile
MOST_ROUGH = 0.15  # of the profile
MAIN_WORD = 0.7  # of the profile's largest weight: from here on a word is what a line smells of


def radiance(tables: Tables, material: str) -> float:
    """The part of a material's own profile that airs and softens, 0 to 1."""
    profile = tables.profiles.get(material, {})
    return sum(profile.get(word, 0.0) for word in RADIANT) / (sum(profile.values()) or 1.0)


def rough(tables: Tables, material: str) -> float:
    """The part of a profile that no lift has, 0 to 1."""
    profile = tables.profiles.get(material, {})
    return sum(profile.get(word, 0.0) for word in ROUGH) / (sum(profile.values()) or 1.0)


def practice_for(tables: Tables, material: str) -> dict[str, Lifting]:
    """What practice names for what ``material`` mainly smells of, by the material that lifts; the line
    itself never."""
    profile = tables.profiles.get(material, {})
    top = max(profile.values(), default=0.0)
    main = sorted((w for w in profile if profile[w] >= MAIN_WORD * top), key=lambda w: (-profile[w], w))
    found: dict[str, Lifting] = {}
    for word in main:
        for row in tables.lifts.get(word, ()):
            if row.material != material:
                found.setdefault(row.material, row)
    return found
