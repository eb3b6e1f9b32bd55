"""From what stands on a bottle to a material: id, name, synonym, short name, label or CAS number, in any
script and spelling."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cached_property

from ..errors import InputError, NotFound, Several
from ..records import Material, Tables
from .bottle import CAS, FROM, Bottle, cas_is_valid, read_bottle
from .name_index import Meaning, NameIndex
from .readings import Reading, note
from .rows import shorten
from .spelling import mixed, plain
from .suggest import near_names, near_numbers

__all__ = ["CAS", "Names", "label_faults", "plain"]

LETTERS = {"a": "alpha", "b": "beta", "g": "gamma", "y": "gamma", "d": "delta", "w": "omega"}
LONGEST_NAME = 300  # characters; no material's name is longer


def label_faults(labels: Iterable[tuple[str, str]]) -> list[tuple[int, str]]:
    """(place, what is wrong) of labels that fall together though they lead to different materials."""
    held: dict[str, tuple[str, str]] = {}
    faults = []
    for place, (label, target) in enumerate(labels):
        key = plain(label)
        before = held.setdefault(key, (label, target))
        if before[1] != target:
            faults.append(
                (place, f"'{shorten(label)}' and '{shorten(before[0])}' read alike; give each its own")
            )
    return faults


class Names:
    """Everything a material answers to."""

    def __init__(self, tables: Tables):
        self._materials: Mapping[str, Material] = tables.materials
        self._tables = tables
        self._own_cas: dict[str, list[str]] = {}
        self._further_cas: dict[str, list[str]] = {}
        for material in tables.materials.values():
            for number, cas in enumerate(material.cas):
                own = number == 0 and material.owns_cas
                (self._own_cas if own else self._further_cas).setdefault(cas, []).append(material.id)
        self._labels: dict[str, str] = {}
        self._bottles: dict[str, Reading] = {}
        self.add_labels(tables.labels)

    @cached_property
    def index(self) -> NameIndex:
        """All names; an id or a label is found without it."""
        return NameIndex(self._tables)

    def add_labels(self, labels: Mapping[str, str]) -> None:
        """Further labels (label -> CAS number or id).

        Raises :class:`~substitute.errors.InputError` where two fall together.
        """
        faults = label_faults(labels.items())
        if faults:
            raise InputError(f"labels: {faults[0][1]}")
        for label, target in labels.items():
            if target not in self._materials and not CAS.fullmatch(target):
                near = near_names(self.index, target)
                raise InputError(f"label '{shorten(label)}': '{target}' is not a known id{_as_hint(near)}")
        self._labels.update({plain(label): target for label, target in labels.items()})

    def add_bottles(self, bottles: Mapping[str, tuple[str, float]]) -> None:
        """Labels of bottles (label -> id and strength in percent), which name the solution that is in
        them."""
        for label, (target, strength) in bottles.items():
            weak = strength if strength < 100 else None
            self._bottles[plain(label)] = Reading(label, self._materials[target], strength=weak)

    def find(self, text: str) -> Material:
        """The material that ``text`` names.

        Raises :class:`~substitute.errors.NotFound` with suggestions, or
        :class:`~substitute.errors.Several` if several materials may be meant, the likeliest first.
        """
        return self.read(text).material

    def read(self, text: str, *, hints: bool = True) -> Reading:
        """The material that ``text`` names, and how it was read; without ``hints`` an error says no
        nearest names."""
        text = str(text).strip()
        reading = self._read(text, hints)
        if not reading.plain:
            note(reading)
        return reading

    def _read(self, text: str, hints: bool) -> Reading:
        if text in self._materials:
            return Reading(text, self._materials[text])
        key = plain(text)
        if key in self._labels:
            return Reading(text, self._target(self._labels[key]))
        if key in self._bottles:
            return replace(self._bottles[key], text=text)
        exact = self.index.exact.get(key)
        if exact and exact.taken:
            return self._taken(text, exact, sure=key in self.index.sure)
        if len(text) > LONGEST_NAME:
            raise NotFound(self._unknown(text, ()))
        bottle = read_bottle(text)
        if bottle.cas:
            return self._numbered(text, bottle, hints)
        meaning = exact or self._meaning(bottle)
        return self._settled(text, bottle, meaning, hints)

    # -- by number

    def _target(self, target: str) -> Material:
        return self._materials[target] if target in self._materials else self.by_cas(target)

    def by_cas(self, cas: str) -> Material:
        """The material that has a CAS number first, else the only one that shares it."""
        for index in (self._own_cas, self._further_cas):
            ids = index.get(cas, [])
            if len(ids) == 1:
                return self._materials[ids[0]]
            if ids:
                raise Several(f"CAS {cas} is shared by several materials: say which of {', '.join(ids)}", ids)
        if not cas_is_valid(cas):
            near = near_numbers(cas, [*self._own_cas, *self._further_cas])
            raise NotFound(
                f"CAS {cas} fails its check digit; read it on the bottle once more{_as_hint(near)}", near
            )
        near = near_numbers(cas, [*self._own_cas, *self._further_cas])
        raise NotFound(f"CAS {cas} is not in the tables{_as_hint(near)}", near)

    def _numbered(self, text: str, bottle: Bottle, hints: bool) -> Reading:
        """A text with a CAS number in it: name and number must agree."""
        if len(bottle.cas) > 1:
            found = [self.by_cas(cas) for cas in bottle.cas]
            if len({material.id for material in found}) > 1:
                ids = [material.id for material in found]
                raise Several(f"'{shorten(text)}' gives the CAS numbers of {', '.join(ids)}: say which", ids)
        bare = not plain(bottle.name).removeprefix("cas")
        meaning = None if bare else self._meaning(bottle)
        cas = bottle.cas[0]
        if meaning and meaning.taken:
            material = self._materials[meaning.ids[0]]
            sharing = next((name for name in meaning.ids if cas in self._materials[name].cas), None)
            if sharing is None:
                other = self.by_cas(cas)
                raise Several(
                    f"'{shorten(text)}' names {material.id}, but CAS {cas} is {other.id}: say which",
                    (material.id, other.id),
                )
            return self._settled(text, bottle, Meaning((sharing,)), hints, sure=False)
        material = self.by_cas(cas)
        if bare and bottle.strength is None and not bottle.fault:
            return Reading(text, material)
        return self._settled(text, bottle, Meaning((material.id,)), hints, sure=False)

    # -- by name

    def _meaning(self, bottle: Bottle) -> Meaning | None:
        """What the name on a bottle means; remarks in brackets are heard first, and passed over only if
        they name nothing."""
        whole = self._words_meaning(bottle.name)
        if whole or not (
            bottle.inner or FROM.search(bottle.name) or "/" in bottle.name or "=" in bottle.name
        ):
            return whole
        outer = self._words_meaning(bottle.outer)
        if bottle.inner:
            return self._with_remarks(bottle, outer)
        if FROM.search(bottle.name):
            origin = FROM.search(bottle.name)
            found = self._words_meaning(FROM.sub("", bottle.name))
            return replace_left_out(found, origin[0]) if found and origin else None
        both = [
            self._words_meaning(part) for part in bottle.name.replace("=", "/").split("/") if part.strip()
        ]
        ids = {one.ids[0] for one in both if one}
        return both[0] if len(ids) == 1 and all(both) else None

    def _with_remarks(self, bottle: Bottle, outer: Meaning | None) -> Meaning | None:
        inner = [(part, self._words_meaning(part)) for part in bottle.inner]
        named = [meaning for _, meaning in inner if meaning and meaning.use != "note"]
        if outer is None:
            return named[0] if len(named) == 1 and named[0].taken else None
        for meaning in named:
            both = [name for name in meaning.ids if name in outer.ids]
            if both:
                return (
                    Meaning((both[0],))
                    if meaning.taken or len(both) == 1
                    else Meaning(tuple(both), "several")
                )
            if outer.use != "note":
                return Meaning((*outer.ids[:1], *meaning.ids[:1]), "several")
        if named:  # the word outside is a note's: the brackets say which material gives it
            firsts = tuple(dict.fromkeys(meaning.ids[0] for meaning in named))
            return named[0] if len(firsts) == 1 else Meaning(firsts, "several")
        left_out = []
        for part, _ in inner:
            words, _ = self.index.without_grades(self.index.speller.words(part))
            if any(word in self.index.vocabulary or word in self.index.ours for word in words):
                return None  # a word that tells materials apart
            left_out.append(part)
        return replace_left_out(outer, *left_out)

    def _words_meaning(self, text: str) -> Meaning | None:
        """What a text means as it stands, without its grades, with short Greek letters, or with a slip of
        the pen put right."""
        exact = self.index.exact.get(plain(text))
        if exact:
            return exact
        words = self.index.speller.words(text)
        if not words or mixed(text):
            return None
        slips = tuple(self.index.sounds_like(word) or word for word in words)
        greek = tuple(LETTERS.get(word, word) for word in words)
        for some, natural in ((words, False), (greek, False), (slips, True)):
            if some is not words and some == words:
                continue
            found = self.index.look_up(some) or self._graded(some) or self._of_part(some)
            if found and (not natural or all(self._materials[name].kind == "natural" for name in found.ids)):
                return found
        return None

    def _graded(self, words: tuple[str, ...]) -> Meaning | None:
        bare, grades = self.index.without_grades(words)
        if "distilled" in bare:
            bare, grades = tuple(word for word in bare if word != "distilled"), (*grades, "distilled")
        if not grades or not bare:
            return None
        found = self.index.look_up(bare)
        if not found:
            return None
        ids = tuple(name for name in found.ids if self.index.allows(name, grades))
        if not ids:
            return None
        use = found.use if ids[0] == found.ids[0] else ("plain" if len(ids) == 1 else "several")
        return replace_left_out(Meaning(ids, use), *grades)

    def _of_part(self, words: tuple[str, ...]) -> Meaning | None:
        """A plant named with the part it comes from, where the material is won from just that: cardamom
        seed."""
        parts = {word for word in words if self.index.ours.get(word) == "part"}
        bare = tuple(word for word in words if word not in parts)
        found = self.index.look_up(bare) if parts and bare else None
        ids = tuple(name for name in found.ids if parts <= self.index.parts(name)) if found else ()
        if not found or not ids:
            return None
        return Meaning(ids, found.use if ids[0] == found.ids[0] else "several")

    # -- the answer

    def _taken(
        self, text: str, meaning: Meaning, *, sure: bool = False, strength: float | None = None
    ) -> Reading:
        first, *others = meaning.ids
        return Reading(text, self._materials[first], sure, tuple(others), meaning.left_out, strength)

    def _settled(
        self, text: str, bottle: Bottle, meaning: Meaning | None, hints: bool, *, sure: bool = False
    ) -> Reading:
        if meaning and meaning.taken:
            if bottle.fault:
                raise InputError(f"'{shorten(text)}' {bottle.fault}")
            return self._taken(text, meaning, sure=sure, strength=bottle.strength)
        if meaning and meaning.use == "several":
            shown = ", ".join(meaning.ids[:6])
            raise Several(f"'{shorten(text)}' may be several materials: say which of {shown}", meaning.ids)
        if meaning:
            shown = ", ".join(meaning.ids)
            raise NotFound(
                f"'{shorten(text)}' is a word for a note, not a material; what gives it: {shown}",
                meaning.ids,
                note=True,
            )
        near = near_names(self.index, bottle.outer or text) if hints else []
        raise NotFound(self._unknown(text, near), near)

    def _unknown(self, text: str, near: Iterable[str]) -> str:
        why = "mixes the letters of two scripts and " if mixed(text) else ""
        return (
            f"'{shorten(text)}' {why}is not in the tables{_as_hint(near)}; "
            "the CAS number on the bottle works too"
        )

    def nearest(self, text: str, top: int = 3) -> list[str]:
        """Up to ``top`` materials whose names look like ``text``."""
        return near_names(self.index, text, top)


def replace_left_out(meaning: Meaning | None, *words: str) -> Meaning | None:
    """The meaning with words that were passed over."""
    return replace(meaning, left_out=(*meaning.left_out, *words)) if meaning else None


def _as_hint(near: Iterable[str]) -> str:
    near = list(near)
    return f"; nearest: {', '.join(near)}" if near else ""
