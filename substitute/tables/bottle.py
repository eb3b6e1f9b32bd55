"""What else stands on a bottle beside the name: a strength and its solvent, a CAS number, remarks in
brackets, an origin."""

from __future__ import annotations

import re

from ..figures import given
from ..frozen import frozen

CAS = re.compile(r"\d{2,7}-\d{2}-\d")
CAS_PREFIX = re.compile(r"^CAS(?:\s*(?:no\.?|number|nr\.?))?\s*:?\s*", re.IGNORECASE)
CAS_INSIDE = re.compile(
    r"[\[(]?\s*(?:\bCAS\b(?:\s*(?:no\.?|number|nr\.?|rn|#))?\s*[:.#]?\s*)?(?<![\d-])(\d{2,7}-\d{2}-\d)(?![\d-])\s*[\])]?",
    re.IGNORECASE,
)
HYPHENS = str.maketrans(dict.fromkeys("\u2010\u2011\u2012\u2013\u2212\uff0d", "-"))
SOLVENTS = (
    r"dpg|dipropylene glycol|ipm|isopropyl myristate|tec|triethyl citrate|dep|diethyl phthalate|pg|"
    r"propylene glycol|mct|triacetin|isododecane|"
    r"bb|benzyl benzoate|etoh|ethanol|alcohol|alkohol|alcool|alc|water|solution|sol"
)
IN = r"(?:in|en|dans|im|auf|à|a|w/w|/|-)"
STRENGTH = re.compile(
    rf"(?:(?<=\s)(?:à|a|at|al|zu)\s+)?[@(\[]?\s*(?<![\d.,])(\d{{1,3}}(?:[.,]\d+)?)\s*(?:%|pct\b|percent\b|prozent\b)(?:ige?[rsn]?)?"
    rf"\s*(?:w/w|sol(?:ution)?\.?|lösung|dilution)?\s*(?:{IN}?\s*(?P<solvent>{SOLVENTS})\b\.?)?\s*[)\]]?",
    re.IGNORECASE,
)
DILUTED = re.compile(rf"[\s,(\[]+(?:in|dans|en)\s+(?:{SOLVENTS})\b\.?\s*[)\]]?\s*$", re.IGNORECASE)
WEAKEST_PURITY = 80.0  # a percentage from here on is how pure the material is, unless a solvent is named
STRONGEST_SOLUTION = 60.0
BRACKETS = re.compile(  # a remark stands by itself; brackets inside a chemical name are part of it
    r"(?:^|(?<=[\s,]))[(\[{]([^()\[\]{}]*)[)\]}](?=[\s,.;]|$)"
)
FROM = re.compile(r"\bex\b\.?\s+\S.*$", re.IGNORECASE)


def cas_is_valid(cas: str) -> bool:
    """Whether the last digit of a CAS number is the weighted sum of the others modulo 10 (CAS registry's
    own rule)."""
    head, _, last = cas.rpartition("-")
    digits = head.replace("-", "")
    if not digits.isdigit() or not last.isdigit():
        return False
    return sum(place * int(digit) for place, digit in enumerate(reversed(digits), 1)) % 10 == int(last)


@frozen
class Bottle:
    """A label taken apart: the bare name, the strength in percent if it is a solution, CAS numbers, and
    remarks."""

    name: str
    outer: str
    inner: tuple[str, ...] = ()
    cas: tuple[str, ...] = ()
    strength: float | None = None
    fault: str = ""
    purity: str = ""


def read_bottle(text: str) -> Bottle:
    """Take a label apart; ``fault`` says why a percentage in it cannot be understood."""
    text = text.translate(HYPHENS)
    cas = tuple(dict.fromkeys(CAS_INSIDE.findall(text)))
    text = CAS_INSIDE.sub(" ", text) if cas else text
    strength, fault, purity = None, "", ""
    found = STRENGTH.search(text)
    if found:
        value = float(found[1].replace(",", "."))
        strength, fault, purity = _strength(value, found["solvent"])
        text = f"{text[: found.start()]} {text[found.end() :]}"
    elif DILUTED.search(text):
        fault = "names a solvent but no strength; write how strong it is, such as 10 %"
        text = DILUTED.sub("", text)
    inner = tuple(part.strip() for part in BRACKETS.findall(text) if part.strip())
    name = " ".join(text.split())
    return Bottle(name, " ".join(BRACKETS.sub(" ", text).split()), inner, cas, strength, fault, purity)


def _strength(value: float, solvent: str | None) -> tuple[float | None, str, str]:
    if not 0 < value <= 100:
        return None, f"says {given(value)}; a strength is above 0 to 100", ""
    if solvent or value <= STRONGEST_SOLUTION:
        return (value if value < 100 else None), "", ""
    if value >= WEAKEST_PURITY:
        return None, "", f"{given(value)}"
    return (
        None,
        f"says {given(value)}; is it a solution (then name the solvent) or the purity (then leave it out)?",
        "",
    )
