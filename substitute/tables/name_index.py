"""An index over every name on file: as written, as it sounds, in any order of its words, and by plant and
form."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any

from ..frozen import frozen
from ..records import Alias, Material, Tables
from .assemble import as_loaded
from .kept import first_time, keep, key_of, recall
from .load import CODE
from .spelling import Speller, any_order, fold, plain, run_together

EXTRACTS = frozenset({"absolute", "resinoid", "co2", "tincture", "extract"})
FORM_ORDER = ("oil", "absolute", "resinoid")  # the likeliest first where nothing else says which is meant
SPECIES_ENDS = re.compile(r"\([^)]*\)|\b(?:hybrids?|syn\.?|cultivars|and other|species)\b")
BETWEEN_SPECIES = re.compile(r";|/|\band\b|\bor\b")
PRESSED = "expressed"
CHEMICAL = re.compile(r"(?:ol|al|ene|one|ate|yl|ide|ine|ane)$")  # bergamol is no slip for bergamot


@frozen
class Meaning:
    """What a name stands for: ids, likeliest first, and whether the first is plainly meant (``use`` as in
    the alias table)."""

    ids: tuple[str, ...]
    use: str = "plain"
    left_out: tuple[str, ...] = ()  # words that were passed over

    @property
    def taken(self) -> bool:
        return self.use == "plain"


class NameIndex:
    """Keys of all names; ``exact`` holds them as written, :meth:`look_up` also finds other spellings."""

    def __init__(self, tables: Tables):
        self.materials = tables.materials
        self.ours = {
            row.means: row.kind for row in tables.name_words if row.kind in ("form", "part", "grade")
        }
        self._name_words = tables.name_words
        self.exact: dict[str, Meaning] = {}
        self.sure: set[str] = set()  # keys of ids, names and synonyms, which are nobody's guess
        self._derived: dict[str, Meaning] = {}
        self._plants: dict[str, list[str]] = {}
        self._forms: dict[str, frozenset[str]] = {}
        self.vocabulary: set[str] = set()
        self.plant_words: set[str] = set()
        key = _key(tables)
        kept = recall("names", key)
        if kept is None:
            with first_time("learning the names"):
                self._build(tables)
                keep("names", key, self._packed())
        else:
            self._unpack(kept)

    @cached_property
    def kinds(self) -> dict[str, str]:
        """What a word of another language is: form, part, grade, filler."""
        return {plain(row.word): row.kind for row in self._name_words}

    @cached_property
    def speller(self) -> Speller:
        """Takes names apart into our words."""
        return Speller(
            {row.word: row.means for row in self._name_words},
            [row.means for row in self._name_words if row.kind in ("part", "form")],
        )

    # -- building

    def _build(self, tables: Tables) -> None:
        materials = tables.materials.values()
        aliases = _by_alias(tables.aliases)
        self._add_level(self._of_materials(materials, lambda m: (m.name,)), sure=True)
        self._add_level([(alias, meaning) for alias, meaning in aliases if meaning.use != "note"])
        self._add_level(self._of_materials(materials, lambda m: (m.id, *m.synonyms)), sure=True)
        self._add_level(self._of_materials(materials, self._botanical_names))
        self._add_level([(alias, meaning) for alias, meaning in aliases if meaning.use == "note"])
        for material in materials:
            self._add_plant(material)

    @staticmethod
    def _of_materials(
        materials: Iterable[Material], names: Callable[[Material], Iterable[str]]
    ) -> list[tuple[str, Meaning]]:
        return [(text, Meaning((material.id,))) for material in materials for text in names(material)]

    def _add_level(self, entries: Sequence[tuple[str, Meaning]], *, sure: bool = False) -> None:
        """Names of one rank; those of a higher rank stay, and one name of several materials is asked
        about."""
        exact: dict[str, Meaning] = {}
        derived: dict[str, Meaning] = {}
        for text, meaning in entries:
            key = plain(text)
            _join(exact, key, meaning)
            words = self.speller.words(text)
            self.vocabulary.update(words, key.split())
            for other in dict.fromkeys((run_together(words), any_order(words))):
                if other:
                    _join(derived, other, meaning)
        if sure:
            self.sure.update(key for key in exact if key not in self.exact)
        self.exact = {**exact, **self.exact}
        self._derived = {**derived, **self._derived}

    def _botanical_names(self, material: Material) -> list[str]:
        """Species, species and form, species, part and form, as an INCI name is built."""
        if not material.botanical:
            return []
        form = " ".join(sorted(self.forms(material.id) - {"balsam", "gum"}))
        parts = [part.strip() for part in re.split(r"[/,(]| and | from ", material.part)] + [""]
        if material.process.startswith("absolute"):
            form = form or "extract"
        found = []
        for species in BETWEEN_SPECIES.split(SPECIES_ENDS.sub(" ", material.botanical)):
            name = " ".join(word for word in species.split() if word not in ("x", "var.", "subsp.", "f."))
            if " " in name:
                found += [f"{name} {part} {form}".strip() for part in parts] + [name]
                if form == "absolute":
                    found += [f"{name} {part} extract" for part in parts]
        return found

    def _add_plant(self, material: Material) -> None:
        if material.kind not in ("natural", "mixture") or not material.stocked:
            return
        for text in (material.name, *material.synonyms):
            words = [word for word in self.speller.words(text) if self.ours.get(word) != "form"]
            if material.kind == "natural":
                self.plant_words.update(word for word in words if len(word) >= 5 and word.isalpha())
            key = any_order(words)
            held = self._plants.setdefault(key, [])
            if key and material.id not in held:
                held.append(material.id)

    def _packed(self) -> dict[str, Any]:
        """What :meth:`_build` found, for keeping; each meaning once, keys point to it."""
        place: dict[Meaning, int] = {}
        keys = [
            {key: place.setdefault(meaning, len(place)) for key, meaning in index.items()}
            for index in (self.exact, self._derived)
        ]
        return {
            "meanings": [[meaning.ids, meaning.use] for meaning in place],
            "keys": keys,
            "sure": sorted(self.sure),
            "plants": self._plants,
            "vocabulary": sorted(self.vocabulary),
            "plant_words": sorted(self.plant_words),
        }

    def _unpack(self, kept: Mapping[str, Any]) -> None:
        meanings = [Meaning(tuple(ids), use) for ids, use in kept["meanings"]]
        self.exact, self._derived = (
            {key: meanings[place] for key, place in keys.items()} for keys in kept["keys"]
        )
        self.sure, self.vocabulary = set(kept["sure"]), set(kept["vocabulary"])
        self._plants, self.plant_words = kept["plants"], set(kept["plant_words"])

    # -- asking

    def forms(self, material: str) -> frozenset[str]:
        """Oil, absolute, …: the forms that stand in a material's name or id."""
        if material not in self._forms:
            held = self.materials[material]
            words = {*self.speller.words(held.name), *self.speller.words(held.id)}
            self._forms[material] = frozenset(word for word in words if self.ours.get(word) == "form")
        return self._forms[material]

    def parts(self, material: str) -> frozenset[str]:
        """The parts of the plant that a material is won from, in our words."""
        return frozenset(self.speller.words(self.materials[material].part))

    def look_up(self, words: Sequence[str]) -> Meaning | None:
        """What these words mean, whatever their order and spelling; a form that is written holds, a
        missing one is filled in."""
        found = self._derived.get(run_together(words)) or self._derived.get(any_order(words) or "-")
        if found:
            return found
        forms = {word for word in words if self.ours.get(word) == "form"}
        bare = [word for word in words if word not in forms]
        if not bare:
            return None
        ids = list(self._plants.get(any_order(bare), ()))
        if forms:
            meant = self._derived.get(any_order(bare) or "-")
            if meant:
                ids = [*meant.ids, *(name for name in ids if name not in meant.ids)]
            ids = [name for name in ids if self._has(name, forms)]
            if meant and meant.taken and meant.ids[0] in ids:
                return Meaning((meant.ids[0], *(name for name in ids if name != meant.ids[0])))
        else:
            ids.sort(key=self._form_rank)
        if not ids:
            return None
        return Meaning(tuple(ids), "plain" if len(ids) == 1 else "several")

    def _has(self, material: str, forms: set[str]) -> bool:
        held = self.forms(material)
        return all(form in held or (form == "extract" and held & EXTRACTS) for form in forms)

    def _form_rank(self, material: str) -> int:
        held = self.forms(material)
        return next((rank for rank, form in enumerate(FORM_ORDER) if form in held), len(FORM_ORDER))

    def without_grades(self, words: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The words that name, and those of quality and origin."""
        grades = tuple(word for word in words if self.ours.get(word) == "grade")
        return tuple(word for word in words if word not in grades), grades

    def allows(self, material: str, grades: Iterable[str]) -> bool:
        """Whether a quality may be passed over for this material: nothing synthetic is a natural, nothing
        natural a synthetic base."""
        held = self.materials[material]
        if "synthetic" in grades and held.kind == "natural":
            return False
        if "distilled" in grades and held.process == PRESSED:
            return False
        return not ("natural" in grades and "synthetic" in held.name)

    def sounds_like(self, word: str) -> str | None:
        """The word of a plant's name that ``word`` is a slip for: one letter, or two in a long word;
        ``None`` if unsure."""
        if word in self.vocabulary or word in self.ours or len(word) < 5 or not word.isalpha():
            return None
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        most = 2 if len(word) >= 8 else 1
        found = process.extract(word, self.plant_words, scorer=OSA.distance, score_cutoff=most, limit=3)
        near = [
            (name, far)
            for name, far, _ in found
            if name[0] == word[0] and (CHEMICAL.search(name) or not CHEMICAL.search(word))
        ]
        if not near or (len(near) > 1 and near[1][1] == near[0][1] and fold(near[0][0]) != fold(near[1][0])):
            return None
        return str(near[0][0])


def _key(tables: Tables) -> str:
    """Over all that names are made of, or, where these are tables as loaded, over all the files."""
    here = Path(__file__).parent
    code = [here / name for name in ("name_index.py", "spelling.py")]
    if as_loaded(tables):
        return key_of(
            [tables.digest.encode()], [*code, here / "assemble.py", *(here / name for name in CODE)]
        )
    parts = [
        (m.id, m.name, m.kind, m.synonyms, m.botanical, m.part, m.process, m.stocked)
        for m in tables.materials.values()
    ]
    aliases = [(row.alias, row.material, row.rank, row.use) for row in tables.aliases]
    words = [(row.word, row.means, row.kind) for row in tables.name_words]
    return key_of([repr(some).encode() for some in (parts, aliases, words)], code)


def _by_alias(aliases: Iterable[Alias]) -> list[tuple[str, Meaning]]:
    """Each alias once, its materials by rank."""
    rows: dict[str, list[Alias]] = {}
    for row in aliases:
        rows.setdefault(row.alias, []).append(row)
    found = []
    for alias, some in rows.items():
        some.sort(key=lambda row: row.rank)
        use = "plain" if some[0].use == "plain" else some[0].use
        found.append(
            (alias, Meaning(tuple(row.material for row in some), "several" if use == "other" else use))
        )
    return found


def _join(index: dict[str, Meaning], key: str, meaning: Meaning) -> None:
    """Add a meaning; two that take different materials become a question."""
    held = index.get(key)
    if held is None:
        index[key] = meaning
    elif held.ids[0] != meaning.ids[0] or held.use != meaning.use:
        ids = tuple(dict.fromkeys((*held.ids, *meaning.ids)))
        index[key] = Meaning(ids, "note" if held.use == meaning.use == "note" else "several")
