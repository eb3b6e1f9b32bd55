"""What is documented around a pair, and how much it counts for: this very swap, the reverse, a sibling's,
a shared parent's.

Rows of ``swaps.csv`` stand in order of preference, so a row's place among the rows of its reason is part
of what it says. The weights are judgements, set on the open evaluation questions: of the first rows
nearly all are accepted there, of the second seven in ten, of later ones about half.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

from ..frozen import frozen
from ..odour.space import Space
from ..records import Swap, Tables

PLACES = (0.90, 0.70, 0.58, 0.50, 0.44, 0.40, 0.36)  # weight of a row by its place among those for its reason
BASIS = {
    "published": 1.0,
    "practice": 1.0,
    "memory": 0.8,
    "estimate": 0.6,
}  # part that a row counts for by its basis
OTHER_REASON = 0.65  # part that a row for another reason counts for: the two smell alike all the same
REVERSE = 0.55  # part that the same swap the other way round counts for
SIBLING = 0.65  # part that the same swap between kinds of the same thing counts for
SAME_THING = 0.45  # two kinds of the same thing for each other, with no row at all
SHARED_PARENT = 0.25  # part that counts where both stand in for the same third material
ALIKE = (
    0.80  # kinds of one thing are siblings only if they smell this alike (peel and flower of one tree do not)
)


@frozen
class Ground:
    """What is documented around one pair.

    ``kind`` is ``documented``, ``reverse``, ``sibling``, ``same thing`` or ``shared parent``; ``via`` the
    third material it goes by; ``rows`` the rows it rests on (for this reason first), ``back`` those of the
    same swap the other way round.
    """

    weight: float
    kind: str
    rows: tuple[Swap, ...] = ()
    via: str = ""
    back: tuple[Swap, ...] = ()


def place_weight(place: int) -> float:
    """Weight of the row at ``place`` (0 first) among the rows for its reason."""
    return PLACES[min(place, len(PLACES) - 1)]


def skeleton(smiles: str) -> str:
    """A structure without its stereochemistry, as written: one curator writes both alike."""
    return smiles.translate(str.maketrans("", "", "@/\\")).replace("[CH]", "C").replace("[H]", "")


def siblings(tables: Tables, space: Space) -> dict[str, tuple[str, ...]]:
    """Stocked material -> others that are the same thing in another kind and smell alike."""
    families: dict[tuple[str, str], list[str]] = {}
    for name, material in tables.materials.items():
        if not material.stocked or name not in space.row:
            continue
        plant = " ".join(material.botanical.lower().split()[:2])
        if material.kind == "natural" and plant:
            families.setdefault(("plant", plant), []).append(name)
        elif material.kind == "molecule" and material.smiles:
            families.setdefault(("structure", skeleton(material.smiles)), []).append(name)
    found: dict[str, tuple[str, ...]] = {}
    for members in families.values():
        if len(members) == 1:
            continue
        near = space.among([space.row[name] for name in members]) >= ALIKE
        for name, alike in zip(members, near):
            kin = tuple(other for other, is_near in zip(members, alike) if is_near and other != name)
            if kin:
                found[name] = kin
    return found


class Evidence:
    """Documented swaps, indexed every way they are asked for."""

    def __init__(self, tables: Tables, space: Space, rows: Mapping[str, tuple[Swap, ...]]) -> None:
        self._rows = rows
        self._parents: dict[str, list[str]] = {}
        for missing, found in rows.items():
            for stand_in in dict.fromkeys(row.stand_in for row in found):
                self._parents.setdefault(stand_in, []).append(missing)
        self._siblings = siblings(tables, space) if rows else {}
        self.around = lru_cache(maxsize=4096)(self._around)

    def rows(self, missing: str, stand_in: str, because: str) -> tuple[Swap, ...]:
        """Rows of a pair, those for this reason first."""
        found = [row for row in self._rows.get(missing, ()) if row.stand_in == stand_in]
        return tuple(sorted(found, key=lambda row: row.because != because))

    def direct(self, missing: str, because: str) -> dict[str, float]:
        """Stand-in -> weight of its best row."""
        place: dict[str, int] = {}
        found: dict[str, float] = {}
        for row in self._rows.get(missing, ()):
            here = place.get(row.because, 0)
            place[row.because] = here + 1
            weight = place_weight(here) * BASIS[row.basis]
            weight *= 1.0 if row.because == because else OTHER_REASON
            found[row.stand_in] = max(found.get(row.stand_in, 0.0), weight)
        return found

    def _around(self, missing: str, because: str) -> dict[str, Ground]:
        """Stand-in -> the strongest ground of everything that is documented around the two."""
        found = {
            name: Ground(
                weight,
                "documented",
                self.rows(missing, name, because),
                back=self.rows(name, missing, because),
            )
            for name, weight in self.direct(missing, because).items()
        }

        def offer(name: str, weight: float, kind: str, rows: Iterable[Swap] = (), via: str = "") -> None:
            kept = found.get(name)
            if name != missing and (kept is None or (kept.kind != "documented" and kept.weight < weight)):
                found[name] = Ground(weight, kind, tuple(rows), via)

        for parent in self._parents.get(missing, ()):
            others = self.direct(parent, because)
            offer(parent, REVERSE * others[missing], "reverse", self.rows(parent, missing, because))
            for name, weight in others.items():
                offer(name, SHARED_PARENT * min(weight, others[missing]), "shared parent", (), parent)
        for kin in self._siblings.get(missing, ()):
            offer(kin, SAME_THING, "same thing")
            for name, weight in self.direct(kin, because).items():
                offer(name, SIBLING * weight, "sibling", self.rows(kin, name, because), kin)
        for name, ground in list(found.items()):
            if ground.kind in ("documented", "reverse"):
                for kin in self._siblings.get(name, ()):
                    offer(kin, SIBLING * ground.weight, "sibling", ground.rows, name)
        return found
