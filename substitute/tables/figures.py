"""Numbers as people write them: point or comma, thousands, units behind them; what may be two numbers is
none."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable

from ..errors import InputError

SIGN_AND_DIGITS = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
SEPARATED = re.compile(r"[+-]?[\d.,]*\d[\d.,]*(?:[eE][+-]?\d+)?")
GROUPS = {sign: re.compile(rf"[+-]?\d{{1,3}}(?:{re.escape(sign)}\d{{3}})+") for sign in ".,"}
BLANK_GROUPS = re.compile(r"(?<=\d)[\s\u00a0\u202f\u2009'’](?=\d{3}(?!\d))")
UNITS = {
    "g": "g gr gram grams gramm gramme grammes gramo gramos grammo grammi г гр грамм 克 グラム",
    "mg": "mg milligrams milligramm мг",
    "kg": "kg кг",
    "%": "% percent prozent pct wt% w/w",
    "drops": "drop drops gtt tropfen goutte gouttes gota gotas goccia gocce капли капля капель 滴",
    "ml": "ml cc µl ul μl l millilitre millilitres milliliter мл",
    "": "part parts pt pts teil teile partie parties parte partes parti часть части частей 份",
}
UNIT_OF = {word: unit for unit, words in UNITS.items() for word in words.split()}
WITH_UNIT = re.compile(r"([+-]?[\d.,\s\u00a0\u202f'’]*\d[.,]?)\s*([^\W\d]+|%|wt%|w/w)\.?")

Fault = Callable[[str], InputError]


class Typed(str):
    """A number that a workbook holds as a number: no habit of writing is in question."""

    __slots__ = ()


def split_unit(text: str) -> tuple[str, str]:
    """A cell as (number, unit): '3 g' is ('3', 'g'); a cell without a known unit stays whole with ''."""
    found = WITH_UNIT.fullmatch(text.strip())
    if not found or found[2].casefold() not in UNIT_OF:
        return text, ""
    number = Typed(found[1]) if isinstance(text, Typed) else found[1]
    return number, UNIT_OF[found[2].casefold()]


def style_of(cells: Iterable[str], comma_likely: bool = False) -> str:
    """How a file writes its decimals: '.', ',', '?' if it does both, '' if nothing tells."""
    point = comma = False
    for cell in cells:
        if isinstance(cell, Typed) or not cell:
            continue
        text = BLANK_GROUPS.sub("", split_unit(cell)[0].strip()).lstrip("+-")
        if not SEPARATED.fullmatch(text):
            continue
        sign = _decimal_sign(text)
        point, comma = point or sign == ".", comma or sign == ","
    if point and comma:
        return "?"
    if point or comma:
        return "." if point else ","
    return "," if comma_likely else ""


def _decimal_sign(text: str) -> str:
    """The sign that can only be a decimal one in ``text``; '' where it may part thousands."""
    last = max(text.rfind("."), text.rfind(","))
    if last < 0:
        return ""
    sign, other = text[last], ",."[text[last] == ","]
    if other in text:
        return sign
    whole, _, after = text.rpartition(sign)
    grouped = text.count(sign) > 1 or (len(after) == 3 and 1 <= len(whole) <= 3 and not whole.startswith("0"))
    return "" if grouped else sign


def parse_number(
    text: str, fault: Fault, *, low: float = -math.inf, high: float = math.inf, style: str = ""
) -> float:
    """``text`` as a finite float between ``low`` and ``high``; ``fault(message)`` makes the error.

    ``style`` is the decimal sign of the file ('' unknown, '?' both). '1,200' is 1200 beside 350.5, 1.2
    beside 0,5, and refused where nothing tells which.
    """
    shown = " ".join(text.split())
    shown = shown if len(shown) <= 40 else shown[:39] + "…"
    allowed, typed = _range(low, high), isinstance(text, Typed)
    text = BLANK_GROUPS.sub("", text.strip().replace("\N{MINUS SIGN}", "-")).replace("\N{NO-BREAK SPACE}", "")
    if text.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        raise fault(f"'{shown}' is not a finite number{allowed}")
    if not text.isascii() or not SEPARATED.fullmatch(text):
        raise fault(f"'{shown}' is not a number{allowed}")
    plain = text if typed else _with_point(text, shown, style, fault)
    if not SIGN_AND_DIGITS.fullmatch(plain):
        raise fault(f"'{shown}' is not a number{allowed}")
    value = float(plain)
    if not math.isfinite(value):
        raise fault(f"'{shown}' is too large{allowed}")
    if not low <= value <= high:
        raise fault(f"{shown} is out of range{allowed}")
    return value


def _with_point(text: str, shown: str, style: str, fault: Fault) -> str:
    """The number with a decimal point and without thousands' signs."""
    if "." in text and "," in text:
        last = max(text.rfind("."), text.rfind(","))
        other = "," if text[last] == "." else "."
        if text.count(text[last]) > 1 or not GROUPS[other].fullmatch(text[:last]):
            return "?"
        return text.replace(other, "").replace(text[last], ".")
    for sign, other in ((",", "."), (".", ",")):
        if sign not in text:
            continue
        grouped = bool(GROUPS[sign].fullmatch(text))
        if text.count(sign) > 1:
            return text.replace(sign, "") if grouped else "?"
        sure = _decimal_sign(text.lstrip("+-")) == sign
        if style == other and not sure and grouped:
            return text.replace(sign, "")
        if style == "?" or style == other:
            if sign == "." and style == "?" and sure:
                return text
            raise fault(
                f"'{shown}' has a decimal {NAMES[sign]}, "
                f"other cells of this file have a decimal {NAMES[other]}"
            )
        if not style and not sure and sign == ",":
            both = f"{float(text.replace(',', '.')):g} or {text.replace(',', '')}"
            raise fault(f"'{shown}' may be {both}: write it without a comma")
        return text.replace(",", ".")
    return text


NAMES = {".": "point", ",": "comma"}


def _range(low: float, high: float) -> str:
    if low == -math.inf and high == math.inf:
        return ""
    if high == math.inf:
        return f": allowed is {low:g} or more"
    return f": allowed is {low:g} to {high:,.10g}"
