"""Words that answers share: states, bases, where an accord goes, names with their numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ..figures import figure, percent, ratio
from ..rules.kinds import KINDS, NO_FIGURE, NONE_ALLOWED
from .sections import Said

RECALLED = "* recalled, not read: check against the official document"
STAGES = ("opening", "heart", "drydown")
CHANGES = {
    "newly_broken": "newly broken",
    "newly_unknown": "newly unknown",
    "tighter": "tighter",
    "newly_fine": "no longer broken",
    "looser": "looser",
}


def state(ok: bool | None, told: str = "") -> Said:
    """Where a limit stands, in the rules' own words if ``told``; broken and unknown are coloured, 'within' is
    not."""
    if ok is False:
        return Said(False, "BROKEN", mood="bad")
    if ok is None:
        return Said(None, told or "unknown", mood="doubt")
    return Said(True, told or "within")


def moved_state(row: Mapping[str, Any]) -> Said:
    """Where a limit stood and stands; a rule that did not bear on the old accord said nothing of it."""
    before, after = row["ok_before"], row["ok_after"]
    stood = state(before).text if row["before_pct"] or before is not True else "not asked"
    told = f"{stood}, now {state(after).text}" if before is not after else state(after).text
    return Said(after, told, mood=state(after).mood)


PLAIN = re.compile(r"[\d.,e-]+ %")


def limit(value: float | None, row: Mapping[str, Any] | None = None) -> Said:
    """A maximum for a narrow column: the figure, or that there is none; :func:`limit_note` tells the rest."""
    told = str((row or {}).get("limit_words", ""))
    if value == 0 and told in ("", NONE_ALLOWED):
        return Said(value, NONE_ALLOWED)
    if value is not None and (not told or PLAIN.fullmatch(told)):
        return Said(value, figure(value))
    return Said(value, "see note" if told and not told.startswith("no figure") else "no figure")


def found(value: float | None, row: Mapping[str, Any]) -> float | Said | None:
    """What was found, for a column; a grade in words is about a lot and measures nothing in the product."""
    kind = KINDS.get(row.get("rule", ""))
    return Said(None, "") if kind is not None and kind.of_lot and row["limit_pct"] is None else value


def limit_note(row: Mapping[str, Any]) -> str:
    """A rule in words where a figure alone does not say it; '' else."""
    told = str(row.get("limit_words", ""))
    return "" if PLAIN.fullmatch(told) or told in (NONE_ALLOWED, NO_FIGURE) else told


def basis(word: str) -> Said:
    """How a figure is known; what is only remembered has a star."""
    return Said(word, "memory *" if word == "memory" else word)


def recalled(rows: Iterable[Mapping[str, Any]]) -> tuple[str, ...]:
    """The footnote of a table in which a figure is recalled."""
    return (RECALLED,) if any(row.get("basis") == "memory" for row in rows) else ()


def cas(entry: Mapping[str, Any]) -> str:
    """' (CAS …)' behind a name; '' where no number is on file."""
    return f" (CAS {entry['cas']})" if entry.get("cas") else ""


def as_words(name: str) -> str:
    """An id as people write it: 'fine-fragrance' is 'fine fragrance'."""
    return name.replace("-", " ").replace("_", " ")


def set_title(title: str) -> str:
    """A limit set's title, short enough for a table: without what is added in brackets or after a colon."""
    return re.split(r"\s*[(:]", title)[0]


def where(answer: Mapping[str, Any]) -> str:
    """'at 15 % in fine fragrance (category 4)'; '' for an answer without a dose."""
    dose, product, category = (answer.get(key) for key in ("dose_pct", "product", "category"))
    if dose is None:
        return ""
    told = f"at {percent(dose, 6)}"
    if product:
        told += f" in {as_words(product)}" + (f" (category {category})" if category else "")
    elif category:
        told += f" in category {category}"
    return told


def names(each: Sequence[str]) -> str:
    """Names in a row; with semicolons where a name has a comma of its own."""
    return ("; " if any("," in name for name in each) else ", ").join(each)


def few(each: Sequence[str], most: int = 3) -> Said:
    """The first names and how many more there are; files hold them all."""
    more = len(each) - most
    whole = names(each)
    short = f"{names(each[:most])} and {more} more" if more > 0 else whole
    return Said("; ".join(each), whole, short)


def count(number: int, one: str, many: str = "") -> str:
    """'1 accord', '3 accords'."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def listed(each: Sequence[str], most: int = 3) -> str:
    """'a, b and c'; beyond ``most`` 'a, b, c and 4 more'."""
    if len(each) > most:
        return f"{', '.join(each[:most])} and {len(each) - most} more"
    return ", ".join(each[:-1]) + " and " + each[-1] if len(each) > 1 else "".join(each)


def stages(match: Mapping[str, float | None]) -> str:
    """'opening 0.91, heart 0.88, drydown not judged'."""
    told = (f"{name} {'not judged' if match.get(name) is None else ratio(match[name])}" for name in STAGES)
    return ", ".join(told)


def reason(text: str) -> Said:
    """A reason: whole, and in short what stands before the first semicolon."""
    short = text.split("; ")[0]
    if short.count("(") > short.count(")"):  # a semicolon inside a bracket ends nothing
        short = short[: short.rindex("(")].rstrip()
    return Said(text, text, short)


def wall(entry: Mapping[str, Any] | None) -> str:
    """The limit in the way, and what brings most of it."""
    if not entry:
        return "none known"
    told = f"{entry.get('name') or entry.get('substance')} ({entry.get('limit_set')})"
    return told + (f", brought most by {entry['line']}" if entry.get("line") else "")


def named(row: Mapping[str, Any], key: str = "substance") -> Said:
    """A substance by its name for people and by its id for files."""
    return Said(row[key], row.get("name") or row[key])


def in_peoples_terms(likeness: float) -> str:
    """What a likeness means on the scale of people's ratings."""
    from ..odour.likeness import people_said

    return (
        "In people's terms: mixtures as alike as the old and the new were rated about "
        f"{100 * people_said(likeness):.0f} "
        f"of 100, the same thing smelled twice about {100 * people_said(1.0):.0f}."
    )
