"""What a person said in another language, in the English that is read: word by word, by a table, nothing
guessed. The person's own words are kept as they are."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from ..records import Tables, VerdictWord

BETWEEN = re.compile(r"[\s'\u2019]+")  # between the words of one entry


def in_english(tables: Tables, text: str) -> str:
    """``text`` in lower case with the words that are on file put into English; all else as it is."""
    if not text or not tables.verdict_words:
        return text
    words, means = _reader(tables.verdict_words)
    bare = _bare(text)
    found = words.sub(lambda hit: means[BETWEEN.sub(" ", hit[0])], bare)
    return text if found == bare else found


def languages(tables: Tables) -> list[str]:
    """The languages of which words are on file, English besides."""
    return sorted({one.capitalize() for row in tables.verdict_words for one in row.language.split()})


@lru_cache(maxsize=4)
def _reader(rows: tuple[VerdictWord, ...]) -> tuple[re.Pattern[str], dict[str, str]]:
    """A pattern of all words on file, the longest first, and what each means."""
    means = {_bare(row.words): row.means for row in rows}
    longest = sorted(means, key=lambda words: (-len(words), words))
    each = "|".join(re.escape(words).replace("\\ ", BETWEEN.pattern) for words in longest)
    return re.compile(rf"(?<![\w-])(?:{each})(?![\w-])"), means


def _bare(text: str) -> str:
    """Lower case without accents."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return "".join(sign for sign in apart if not unicodedata.combining(sign))
