"""What a class takes, what of it is to be bought, what that costs by a person's own prices, and what could be
spared where a budget is too small."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..figures import significant
from ..records import PRICES, Shelf, Tables

MOSTLY = 50.0  # percent, from which a bottle's price tells what the material costs
LEAST_MATCH = 0.85  # an accord that keeps this much without a line can be taught without it


def shopping(tables: Tables, need: Mapping[str, float], shelf: Shelf | None) -> list[dict[str, Any]]:
    """What the class takes of each material, what of that is on the shelf, and what the rest costs;
    carriers are taken to be at hand."""
    rows = []
    ranges = _ranges(tables, shelf)
    for name in sorted(need, key=lambda one: tables.materials[one].name):
        if tables.materials[name].kind == "solvent":
            continue
        there, left = _left(shelf, name)
        short = 0.0 if left is None else max(0.0, need[name] - left)
        price = shelf.price(name) if shelf else None
        word = tables.prices[name].word if name in tables.prices else ""
        low, high = (price, price) if price is not None else ranges.get(word, (None, None))
        rows.append(
            {
                **tables.materials[name].brief(),
                "grams": significant(need[name], 3),
                "at_hand": there,
                "at_hand_g": left,
                "buy_g": significant(short, 3),
                "price_per_gram": price,
                "price_word": word,
                "low": None if low is None else low * short,
                "high": None if high is None else high * short,
            }
        )
    return rows


def _left(shelf: Shelf | None, name: str) -> tuple[str, float | None]:
    """What the shelf has of the material itself: no, yes (the amount is not written down), or the
    grams."""
    stock = [item for item in shelf.stock if item.material == name] if shelf else []
    if not stock:
        return "no", 0.0
    if any(item.grams is None for item in stock):
        return "yes", None
    return "grams", sum((item.grams or 0.0) * item.strength / 100.0 for item in stock)


def _ranges(tables: Tables, shelf: Shelf | None) -> dict[str, tuple[float, float]]:
    """For every rough word the range of a person's own prices of materials with that word, of bottles that
    are mostly the material itself: what a weak solution costs is work and carrier."""
    found: dict[str, list[float]] = {}
    for name in shelf.materials() if shelf else ():
        price = _neat_price(shelf, name) if shelf else None
        if price is not None and name in tables.prices:
            found.setdefault(tables.prices[name].word, []).append(price)
    return {word: (min(found[word]), max(found[word])) for word in PRICES if word in found}


def _neat_price(shelf: Shelf, name: str) -> float | None:
    prices = [
        100.0 * item.price / item.strength
        for item in shelf.stock
        if item.material == name and item.price is not None and item.strength >= MOSTLY
    ]
    return min(prices, default=None)


def cost_of_class(
    buy: Sequence[Mapping[str, Any]], swaps: Sequence[Mapping[str, Any]], budget: float | None
) -> dict[str, Any]:
    """Low and high of what is to be bought, how many have no price at all, what is taken from the bottles
    at hand is worth, whether a budget holds (``None``: not known), and what could be spared for it."""
    wanted = [one for one in buy if one["buy_g"] > 0]
    low = sum(one["low"] or 0.0 for one in wanted)
    high = sum(one["high"] or 0.0 for one in wanted)
    unpriced = [one["name"] for one in wanted if one["low"] is None]
    taken = [
        (one["grams"] - one["buy_g"]) * one["price_per_gram"]
        for one in buy
        if one["price_per_gram"] is not None and one["grams"] > one["buy_g"]
    ]
    holds, spare = None, []
    if budget is not None:
        holds = False if low > budget else None if unpriced or high > budget else True
        spare = _spared(wanted, swaps, high - budget)
    return {
        "low": low,
        "high": high,
        "unpriced": unpriced,
        "from_bottles": sum(taken) if taken else None,
        "budget": budget,
        "holds": holds,
        "spare": spare,
    }


def _spared(
    wanted: Sequence[Mapping[str, Any]], swaps: Sequence[Mapping[str, Any]], over: float
) -> list[dict[str, Any]]:
    """What need not be bought, until what it costs at the most is back by ``over``: first where most is
    saved for the least of the accord. Each is swapped for what stands on the shelf, or left out."""
    ways = {one["missing_id"]: one for one in swaps}
    found = []
    for one in wanted:
        way = ways.get(one["id"])
        if way is None or not one["high"]:
            continue
        swapped = (way["match"] or 0.0) >= way["match_left_out"] and way["stand_in_id"] != ""
        kept = way["match"] if swapped else way["match_left_out"]
        if kept >= LEAST_MATCH:
            row = {
                "id": one["id"],
                "name": one["name"],
                "take": way["stand_in"] if swapped else None,
                "grams_per_gram": way["grams_per_gram"] if swapped else None,
                "match": kept,
                "low": one["low"],
                "high": one["high"],
            }
            found.append((one["high"] / max(1.0 - kept, 0.01), row))
    found.sort(key=lambda item: (-item[0], item[1]["id"]))
    chosen = []
    for _, row in found:
        if over <= 0:
            break
        chosen.append(row)
        over -= row["high"]
    return chosen
