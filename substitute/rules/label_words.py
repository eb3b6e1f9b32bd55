"""What stands on a label beside the list of ingredients: by kind of product and market, each with the law or
custom it is taken from.

The articles are recalled, not read (basis ``memory``); custom of the trade has no source. Which of them a
product needs, and in which words and languages, is for the qualified person who signs the label.
"""

from __future__ import annotations

from typing import Literal

from ..frozen import frozen

Kind = Literal["cosmetic", "detergent", "home", "other"]
COSMETIC, DETERGENT, HOME, OTHER = "cosmetic", "detergent", "home", "other"
CUSTOM = "common practice, no source"
SIGNED = (
    "A draft to work from. A qualified person (in the EU and the UK the safety assessor and the "
    "responsible person) reads the law of the "
    "day, decides every word and signs for it; until then it goes on no bottle."
)


@frozen
class LabelWord:
    """Something that a label says or must have: ``words``, the ``law`` it is taken from, and how that is
    known.
    """

    words: str
    law: str
    basis: str

    def to_dict(self) -> dict[str, str]:
        return {"words": self.words, "law": self.law, "basis": self.basis}


def _recalled(law: str, *words: str) -> tuple[LabelWord, ...]:
    return tuple(LabelWord(one, law, "memory") for one in words)


def _custom(*words: str) -> tuple[LabelWord, ...]:
    return tuple(LabelWord(one, CUSTOM, "practice") for one in words)


EU_COSMETICS = "Regulation (EC) No 1223/2009, Article 19"
CLP = "Regulation (EC) No 1272/2008"
DETERGENTS = "Regulation (EC) No 648/2004, Article 11 and Annex VII A"
_COSMETIC_EU = _recalled(
    EU_COSMETICS,
    "name and address of the responsible person",
    "how much is in it, by weight or volume",
    "the date until which it keeps, or the months after opening",
    "the batch number",
    "what it is for, where its look does not say so",
    "precautions for use, with those that Annexes III to VI print for a substance",
)
_HOME_EU = _recalled(
    f"{CLP}, Article 17",
    "where the mixture is classed as hazardous: supplier, amount, names of what makes it so, "
    "pictograms, signal word, H and P statements",
) + _recalled(
    f"{CLP}, Article 45 and Annex VIII",
    "where it is classed for health or physical hazards: a UFI, after the poison centres were told",
)
LAWS: dict[tuple[str, str], tuple[LabelWord, ...]] = {
    ("EU", COSMETIC): _COSMETIC_EU,
    ("UK", COSMETIC): tuple(
        LabelWord(one.words.replace("responsible person", "responsible person in the UK"), law, one.basis)
        for one in _COSMETIC_EU
        for law in (f"{EU_COSMETICS}, as kept in UK law",)
    ),
    ("US", COSMETIC): _recalled(
        "21 CFR part 701",
        "identity, net contents, name and place of business",
        "the ingredients in descending order; those of not more than 1 % in any order at the end; a "
        "fragrance may be named as 'fragrance'",
    )
    + _recalled(
        "Modernization of Cosmetics Regulation Act of 2022",
        "a way to report an adverse event; fragrance allergens as the agency's rule will name them",
    ),
    ("EU", HOME): _HOME_EU,
    ("UK", HOME): tuple(LabelWord(one.words, f"{one.law}, as kept in UK law", one.basis) for one in _HOME_EU),
    ("EU", DETERGENT): _recalled(
        DETERGENTS,
        "'perfumes' among the contents, and the allergenic fragrances of the cosmetics list that "
        "were added at more than 0.01 %",
        "dosage and the address where the ingredient data sheet is had",
    )
    + _HOME_EU,
}
LAWS["UK", DETERGENT] = tuple(
    LabelWord(one.words, one.law if "UK" in one.law else f"{one.law}, as kept in UK law", one.basis)
    for one in LAWS["EU", DETERGENT]
)
BY_WORD: dict[str, tuple[LabelWord, ...]] = {
    word: said
    for words, said in (
        (
            "candle wax-melt",
            _recalled(
                "EN 15494 (candles, product safety labels)",
                "never leave a burning candle alone; away from what catches fire; away from children "
                "and pets; at least 10 cm apart",
            ),
        ),
        (
            "fine-fragrance eau-de aftershave body-mist cologne hair-spray",
            _custom(
                "flammable until dry: keep from flames and heat; for outside use only, not near the "
                "eyes or on broken skin"
            ),
        ),
        (
            "spray room-spray pillow-spray air-freshener",
            _custom("do not breathe the spray; not towards faces, flames, food, animals"),
        ),
        (
            "diffuser plug-in",
            _custom(
                "liquid is not to be drunk or touched; out of the reach of children and pets; wipe "
                "up spills at once"
            ),
        ),
        ("incense", _custom("on a fireproof holder, never alone; air the room")),
    )
    for word in words.split()
    for said in (said,)
}
ALWAYS = _custom("keep out of the reach of children")
DETERGENT_PRODUCTS = ("detergent", "dishwashing", "softener", "cleaner")


def kind_of(product: str, *, skin: bool, cosmetic: bool) -> Kind:
    """What law a product is labelled under, as far as its id tells; ``cosmetic``: a list of label allergens
    governs it.
    """
    if any(word in product for word in DETERGENT_PRODUCTS):
        return "detergent"
    return "cosmetic" if cosmetic else "other" if skin else "home"


def words_for(product: str, kind: Kind, market: str) -> tuple[LabelWord, ...]:
    """What stands beside the list of ingredients, law first."""
    found = [*LAWS.get((market, kind), ())]
    for word, said in BY_WORD.items():
        if word in product:
            found += said
    return tuple(dict.fromkeys((*found, *ALWAYS)))
