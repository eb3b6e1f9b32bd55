"""Counts answers whose reason means nothing: no way out of the limit, forbidden, dearer. Knows the public
interface only.

``python tests/evaluation/reasons.py [--every N]`` asks for stand-ins of every material with a known limit
under 20 % in fine fragrance because of the limit, of every stocked one plainly in a hand and in a baby
lotion, and of every priced one because of its price. What a material presses is read from ``limits`` of an
accord of that material alone.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from functools import cache

import substitute
from substitute.errors import InputError
from substitute.records import PRICES, Accord, Line

PRODUCT, DOSE = "fine-fragrance", 20.0
WORDS = ("likely", "try it")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1, help="ask only every N-th material")
    every = parser.parse_args().every
    library = substitute.load()
    stocked = [m.id for m in library.tables.materials.values() if m.stocked and m.kind != "solvent"][::every]

    @cache
    def presses(material: str) -> Mapping[tuple[str, str], float]:
        """(substance, set) -> part of the limit that 1 % of the material takes up."""
        found = library.limits(Accord("alone", (Line(material, 1.0),)), dose=1.0, product=PRODUCT).to_dict()
        return {
            (row["substance"], row["limit_set"]): row["used"] if row["used"] is not None else float("inf")
            for row in found["limits"]
            if row["used"] or row["ok"] is False
        }

    def offered(material: str, **where: object) -> list[tuple[str, float | None]]:
        try:
            answer = library.swap(material, top=5, **where).to_dict()
        except InputError:
            return []
        return [
            (one["materials"][0]["id"], one["materials"][0]["grams_per_gram"])
            for one in answer["stand_ins"]
            if one["in_words"] in WORDS
        ]

    limited = [
        name for name in stocked if presses(name) and 0.05 < max(presses(name).values()) < float("inf")
    ]
    answers, idle, harder = 0, [], []
    for name in limited:
        hardest = max(presses(name).values())
        for other, grams in offered(name, because="limit", dose=DOSE, product=PRODUCT):
            answers += 1
            new = {key: press * (grams or 1.0) for key, press in presses(other).items()}
            if max(new.values(), default=0.0) >= hardest:
                idle.append((name, other))
            if any(press > max(presses(name).get(key, 0.0), 0.05 * hardest) for key, press in new.items()):
                harder.append((name, other))
    print(
        f"limit: {len(limited)} materials, {answers} answers, {len(idle)} press a limit as hard or harder: {idle[:9]}"
    )
    print(f"limit: {len(harder)} press some limit harder than before: {harder[:9]}")

    for product in ("hand-lotion", "baby-lotion"):
        here, bad, answers = library.situate(product=product, dose=1.0), [], 0
        for name in stocked:
            for other, _ in offered(name, dose=1.0, product=product):
                answers += 1
                if here.forbidden(other):
                    bad.append((name, other))
        print(f"{product}: {len(stocked)} materials, {answers} answers, {len(bad)} forbidden: {bad[:9]}")

    price = library.tables.prices
    answers, dearer = 0, []
    for name in stocked:
        for other, grams in offered(name, because="price") if name in price else ():
            answers += 1
            if other in price and PRICES.index(price[other].word) > PRICES.index(price[name].word):
                dearer.append((name, other, grams))
    print(f"price: {answers} answers, {len(dearer)} dearer by their word: {dearer[:9]}")


if __name__ == "__main__":
    main()
