"""From what stands on a bottle to a material: id, name, synonym, label or CAS number."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from difflib import get_close_matches

from ..errors import InputError, NotFound
from ..records import Material, Tables
from .files import shorten

CAS = re.compile(r"\d{2,7}-\d{2}-\d")
CAS_PREFIX = re.compile(
    r"^CAS(?:\s*(?:no\.?|number|nr\.?))?\s*:?\s*", re.IGNORECASE
)  # as it is printed on bottles
HYPHENS = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2212", "-"))
GREEK = {"α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ω": "omega"}


def plain(text: str) -> str:
    """``text`` without case, accents and punctuation, so that spelling habits don't matter."""
    text = text.casefold()
    for letter, word in GREEK.items():
        text = text.replace(letter, word)
    text = unicodedata.normalize("NFKD", text)
    text = "".join(letter for letter in text if not unicodedata.combining(letter)).casefold()
    return " ".join(re.findall(r"[a-z0-9]+", text))


class Names:
    """An index over everything a material answers to."""

    def __init__(self, tables: Tables):
        self._materials = tables.materials
        self._names: dict[str, list[str]] = {}
        self._own_cas: dict[str, list[str]] = {}
        self._further_cas: dict[str, list[str]] = {}
        for material in tables.materials.values():
            for number, cas in enumerate(material.cas):
                (self._own_cas if number == 0 and material.owns_cas else self._further_cas).setdefault(
                    cas, []
                ).append(material.id)
        for level in (
            lambda m: (m.id, m.name),
            lambda m: m.synonyms,
        ):  # a name beats another material's synonym
            taken = set(self._names)
            for material in tables.materials.values():
                for text in level(material):
                    key = plain(text)
                    if key in taken:
                        continue
                    entry = self._names.setdefault(key, [])
                    if material.id not in entry:
                        entry.append(material.id)
        self._labels = {plain(label): cas for label, cas in tables.labels.items()}

    def add_labels(self, labels: dict[str, str]) -> None:
        """Further labels (label -> CAS number)."""
        self._labels.update({plain(label): cas for label, cas in labels.items()})

    def find(self, text: str) -> Material:
        """The material that ``text`` names.

        Raises :class:`~substitute.errors.NotFound` with the nearest names, or :class:`~substitute.errors.InputError` if several
        materials answer to the same name or CAS number.
        """
        text = str(text).strip()
        if text in self._materials:
            return self._materials[text]
        number = CAS_PREFIX.sub("", text).translate(HYPHENS)
        if CAS.fullmatch(number):
            return self._by_cas(number)
        key = plain(text)
        if key in self._labels:
            return self._by_cas(self._labels[key])
        ids = self._names.get(key, [])
        if len(ids) == 1:
            return self._materials[ids[0]]
        if ids:
            raise InputError(f"'{text}' names several materials: say which of {', '.join(ids)}")
        raise self._unknown(text, key)

    def _by_cas(self, cas: str) -> Material:
        for index in (self._own_cas, self._further_cas):
            ids = index.get(cas, [])
            if len(ids) == 1:
                return self._materials[ids[0]]
            if ids:
                raise InputError(f"CAS {cas} is shared by several materials: say which of {', '.join(ids)}")
        near = get_close_matches(cas, [*self._own_cas, *self._further_cas], 3, 0.8)
        raise NotFound(f"CAS {cas} is not in the tables{self._as_hint(near)}", near)

    def nearest(self, text: str, n: int = 3) -> list[str]:
        """Up to ``n`` names that look like ``text``, as people write them."""
        key = plain(text)
        starts = sorted(
            (
                name
                for name in self._names
                if key and (name.startswith(key) or (len(key) >= 4 and key in name))
            ),
            key=len,
        )
        near = get_close_matches(key, list(self._names), 3 * n, 0.55)
        found: list[str] = []
        for name in [*starts[:n], *near]:
            for material in self._names[name]:
                if material not in found:
                    found.append(material)
        return found[:n]

    def _unknown(self, text: str, key: str) -> NotFound:
        near = self.nearest(text)
        return NotFound(
            f"'{shorten(text)}' is not in the tables{self._as_hint(near)}; the CAS number on the bottle works too",
            near,
        )

    @staticmethod
    def _as_hint(near: Iterable[str]) -> str:
        near = list(near)
        return f"; nearest: {', '.join(near)}" if near else ""
