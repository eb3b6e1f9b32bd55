"""What the boxes of the screens hold, one record a setting: the same on every screen, kept with the work, in
a link, and taken back by undo."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

from ..errors import InputError
from ..frozen import frozen

if TYPE_CHECKING:
    from ..library import Library

Names: TypeAlias = Sequence[str]
REASONS = ("unavailable", "limit", "law", "price")


@frozen
class Setting:
    """``plain`` is held where nothing was said, and says the type; ``told`` is what undo calls a change.

    A number lies in ``span``; a text is one of ``one_of``, or of what it gives for a library, if there is
    any.
    """

    plain: Any
    told: str
    span: tuple[float, float] | None = None
    one_of: Names | Callable[[Library], Names] = ()

    def allowed(self, lib: Library | None) -> Names:
        """The texts it may hold, empty for any; what only a library knows is any without one."""
        if not callable(self.one_of):
            return self.one_of
        return self.one_of(lib) if lib is not None else ()


def markets(lib: Library) -> list[str]:
    """The markets that limits are on file for."""
    return sorted({one.market for one in lib.tables.limit_sets.values()})


def product_ids(lib: Library) -> list[str]:
    """'' for none, then the products on file."""
    return ["", *lib.product_ids()]


def replaced(lib: Library, market: str | None = None) -> dict[str, str]:
    """Older set -> the set that took its place; only sets that really were replaced, of this market."""
    return {
        one.replaces: one.id
        for one in lib.tables.limit_sets.values()
        if one.replaces and (market is None or one.market in ("worldwide", market))
    }


SETTINGS: dict[str, Setting] = {
    "material": Setting("", "another material was asked for"),
    "because": Setting("unavailable", "the reason was changed", one_of=REASONS),
    "blend": Setting(1, "the size of blends was changed", (1, 3)),
    "top": Setting(5, "how many are shown was changed", (1, 50)),
    "of": Setting("", "what lies near something else was asked for"),
    "to": Setting("", "another way was asked for"),
    "card": Setting("", "another card was asked for"),
    "product": Setting("", "the product was changed", one_of=product_ids),
    "dose": Setting(10.0, "the dose was changed", (0.0001, 100.0)),
    "market": Setting("EU", "the market was changed", one_of=markets),
    "use_shelf": Setting(False, "holding to the shelf was changed"),
    "use_accord": Setting(False, "standing beside the accord was changed"),
    "max_new": Setting(0, "how much may be new was changed", (0, 6)),
    "move": Setting(25, "how far lines may move was changed", (0, 100)),
    "same_total": Setting(False, "keeping the total was changed"),
    "grams": Setting(20.0, "the batch was changed", (0.1, 100_000.0)),
    "balance": Setting(0.01, "the balance was changed", (0.00001, 10.0)),
    "since": Setting("", "the comparison was changed", one_of=lambda lib: ["", *replaced(lib)]),
    "buy": Setting(3, "how many to buy was changed", (1, 20)),
    "on": Setting("", "the day was changed"),
    "sets": Setting("", "the sets that count were changed"),
}


def plain() -> dict[str, Any]:
    """Every setting as it is where nothing was said."""
    return {name: one.plain for name, one in SETTINGS.items()}


def read(name: str, value: Any, lib: Library | None = None) -> Any:
    """A value from a link or a file as the setting wants it; raises
    :class:`~substitute.errors.InputError`."""
    setting = SETTINGS[name]
    if isinstance(setting.plain, bool):
        if value in (True, "yes", "true", "1"):
            return True
        if value in (False, "no", "false", "0"):
            return False
        raise InputError(f"{name}: '{str(value)[:40]}' is neither yes nor no")
    if setting.span is not None:
        return _number(name, value, *setting.span)
    text, allowed = str(value)[:200].strip(), setting.allowed(lib)
    if allowed and text not in allowed:
        raise InputError(
            f"{name}: '{text[:40]}' is not known: one of"
            f" {', '.join(filter(None, list(allowed)[:8]))}{' …' if len(allowed) > 8 else ''}"
        )
    return text


def _number(name: str, value: Any, low: float, high: float) -> int | float:
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise InputError(
            f"{name}: '{str(value)[:40]}' is not a number: allowed is {low:g} to {high:g}"
        ) from None
    if not math.isfinite(number) or not low <= number <= high:
        raise InputError(f"{name}: {number:g} is out of range: allowed is {low:g} to {high:g}")
    return int(number) if isinstance(SETTINGS[name].plain, int) else number
