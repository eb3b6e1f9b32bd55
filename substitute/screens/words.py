"""The few words that a form needs: what each field means, reasons, bases and states as people read them."""

from __future__ import annotations

WORDS = {
    "material": (
        "Anything you can weigh: a molecule, a natural, a defined mixture, a solvent. Type its name, a"
        " synonym, your bottle's label or its CAS number; Enter takes what fits best."
    ),
    "descriptor": (
        "A word for a smell, in a tree of families. A material's profile is its weights (1 to 10) over"
        " descriptors."
    ),
    "stage": "Opening (10 min), heart (2 h) and drydown (24 h) of a dip on a strip.",
    "role": (
        "What a line does: core names the smell, support, lift is a clean note that helps it carry, trace."
    ),
    "optional": "A line the accord may do without.",
    "stand-in": "A material or a small blend that takes a missing material's place.",
    "parts": "Parts by mass of what goes on the balance, carrier included.",
    "strength": "Percent by mass of the material in what is weighed; the rest is carrier.",
    "dose": "The accord's percent of the finished product.",
    "shelf": "The materials you have, and the strengths (percent by mass) you keep them in.",
    "limit": "A maximum in the finished product, by category; headroom is the limit minus what is found.",
    "product": "What it goes into: fixes the category, leave-on or rinse-off, on skin or not.",
    "market": "Whose law applies beside the worldwide standards.",
    "match": (
        "How alike the new and the old accord smell, 0 to 1: the overlap of their smells times the ratio of"
        " their strengths, stage by stage."
    ),
    "similarity": "How alike two smells are, 0 to 1.",
    "grams_per_gram": "Grams of the stand-in, neat, for one gram of what is missing, neat.",
    "balance": "The smallest step your balance shows.",
    "because": (
        "It decides who may stand in: nothing the law holds where it is the law, nothing that presses on the"
        " same limit where it is limited, nothing dearer where it is too dear."
    ),
}
BECAUSE = {"unavailable": "not to be had", "limit": "limited", "law": "the law", "price": "too dear"}
BASIS = {
    "published": "published",
    "practice": "common practice",
    "memory": "recalled, no document at hand: check",
    "estimate": "the curators' estimate",
}
STATE = {True: "✓ within", False: "✕ broken", None: "? unknown"}


def word(name: str) -> str:
    """Help text: a word's one meaning."""
    return WORDS[name]
