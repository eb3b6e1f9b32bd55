"""Spelling habits: what two writers of one name have in common.

A name is taken apart into words, words of other languages and of the trade are put into ours
(``name_words.csv``), and keys are
made that are equal for equal names: as written, run together, and without regard to the order of the words.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from functools import lru_cache

GREEK = {"α": "alpha", "β": "beta", "γ": "gamma", "δ": "delta", "ε": "epsilon", "ω": "omega"}
STRIPPED = ("LATIN", "GREEK")  # scripts whose accents are habits; elsewhere a mark makes another letter
OIL_ENDS = re.compile(
    r"(?<=\w{3})öl\b|\böl\b"
)  # Rosenöl; without its accent Citronellöl would be another thing
ELISION = re.compile(r"\b[dl]['’](?=\w{3})", re.IGNORECASE)  # fleur d'oranger; not d'-limonene
SAME_CHEMISTRY = (
    tuple(  # old and systematic ways to say one residue; both sides of a comparison go through them
        (re.compile(old), new)
        for old, new in (
            ("phenyl ?ethyl", "phenethyl"),
            ("(?:o?enanth|heptyl)ate", "heptanoate"),
            ("caproate", "hexanoate"),
            ("caprylate", "octanoate"),
            ("laurate", "dodecanoate"),
            ("propanoate", "propionate"),
            ("butanoate", "butyrate"),
            ("ethanoate", "acetate"),
            ("methanoate", "formate"),
            ("isopentyl", "isoamyl"),
            ("pentanoate", "valerate"),
            ("sulph", "sulf"),
            ("linalol(?!o)", "linalool"),
            ("benzoic aldehyde", "benzaldehyde"),
            ("cinnamic aldehyde", "cinnamal"),
            ("cinnamaldehyde", "cinnamal"),
            ("c (?=[0-9]{1,2}(?: |$))", "c"),  # aldehyde C 14
            (r"\b([0-9])z\b", r"cis \1"),
            (r"\b([0-9])e\b", r"trans \1"),
        )
    )
)
FOLDS = tuple(  # how one sound is spelt in several languages
    (re.compile(old), new)
    for old, new in (
        ("ph", "f"),
        ("(?<=[a-z])h", ""),
        ("[ao]e", "e"),
        ("ou", "u"),
        ("y", "i"),
        ("[zs]|c(?=[ei])", "s"),
        ("[kq]", "c"),
        (r"([a-z])\1+", r"\1"),
    )
)
LONG_WORD = 6  # from here on a last vowel is an ending: vanillina, eugenole; iron is not irone
SHORT_WORD = 3  # up to here every letter counts: THL is not Tl
TURNS = (("(-)-", "l "), ("(+)-", "d "), ("(±)-", "dl "), ("(+/-)-", "dl "))


def plain(text: str) -> str:
    """``text`` without case, punctuation and Latin accents; letters of every script stay.

    A text of signs alone is its own key.
    """
    text = OIL_ENDS.sub(" oil", unicodedata.normalize("NFKC", text).casefold())
    for sign, letter in TURNS:
        text = text.replace(sign, letter)
    words = "".join(_letters(text)).split()
    words = [GREEK.get(word, word) for word in words]
    return " ".join(words) or " ".join(text.split())


def _letters(text: str) -> list[str]:
    """Letters, digits and the marks that belong to them; a blank for everything else."""
    found: list[str] = []
    for sign in unicodedata.normalize("NFD", text):
        category = unicodedata.category(sign)
        if category.startswith("M"):
            if found and found[-1] != " " and not unicodedata.name(found[-1][0], "").startswith(STRIPPED):
                found[-1] = unicodedata.normalize("NFC", found[-1] + sign)
        else:
            found.append(sign if category[0] in "LN" else " ")
    return list(unicodedata.normalize("NFC", "".join(found)).casefold())


def scripts(text: str) -> set[str]:
    """The scripts of the letters of ``text``, as Unicode names them (LATIN, CYRILLIC, …)."""
    return {unicodedata.name(sign, "?").split()[0] for sign in text if unicodedata.category(sign)[0] == "L"}


def mixed(text: str) -> bool:
    """Whether a single word of ``text`` holds letters of Latin and of another alphabet that look alike."""
    return any(
        len(scripts(word) & {"LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "CHEROKEE"}) > 1
        for word in re.findall(r"[^\W\d_]{2,}", unicodedata.normalize("NFKC", text))
    )


@lru_cache(maxsize=65536)
def fold(word: str) -> str:
    """A word as it sounds: equal for vanilin, vanillin and vanillina."""
    if len(word) <= SHORT_WORD:
        return word
    for old, new in FOLDS:
        word = old.sub(new, word)
    return word.rstrip("aeo") if len(word) >= LONG_WORD else word


class Speller:
    """Takes names apart with a table of words (word -> our word, or '' for what says nothing)."""

    def __init__(self, words: Mapping[str, str], parts: Sequence[str] = ()):
        self._words = {plain(word): means for word, means in words.items()}
        ends = {word: means for word, means in self._words.items() if means in parts and len(word) >= 4}
        self._ends = sorted(ends, key=len, reverse=True)

    def words(self, text: str) -> tuple[str, ...]:
        """``text`` as our words, in their order."""
        key = plain(ELISION.sub(" ", text))
        for old, new in SAME_CHEMISTRY:
            key = old.sub(new, key)
        found: list[str] = []
        for word in key.split():
            found.extend(self._ours(word))
        return tuple(found)

    def _ours(self, word: str) -> list[str]:
        means = self._words.get(word)
        if means is None:
            for end in self._ends:  # Nelkenblatt, Zedernholz
                start = word.removesuffix(end)
                if start != word and start in self._words:
                    return [*self._words[start].split(), *self._words[end].split()]
            return [word]
        return means.split()


def run_together(words: Sequence[str]) -> str:
    """The words folded and joined; figures stay apart from each other."""
    text = " ".join(fold(word) for word in words)
    text = re.sub(r"(?<=\D) (?=\D)|(?<=\d) (?=\D)|(?<=\D) (?=\d)", "", text)
    if any(len(word) == 1 for word in words):
        return text  # butyl l-lactate is not butyl lactate
    return re.sub(r"(\D)\1+", r"\1", text)


def any_order(words: Sequence[str]) -> str:
    """The words folded and sorted; '' where several figures make the order part of the name."""
    if sum(word.isdigit() for word in words) > 1:
        return ""
    return " ".join(sorted({fold(word) for word in words}))
