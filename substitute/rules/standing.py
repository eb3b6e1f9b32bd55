"""Cautions that stand for a kind of product, whatever is in it. Common practice, no source; the law where
you are says more.
"""

from __future__ import annotations

CAUTIONS = (
    "This is arithmetic on tables, not a safety assessment: a qualified assessor decides before "
    "anything is sold.",
    "What the supplier's documents for your lot say beats every figure shown here.",
    "Local law may ask for more than the sets named; look at the official text for the day you sell.",
)
ON_SKIN = (
    "It stays on the skin: sensitisers add up with what else a person wears, and no figure protects "
    "someone already "
    "sensitised."
)
BABIES = (
    "For babies: thin skin takes up more, and hands go to the mouth. Unscented is the usual choice; "
    "nothing here is "
    "worked out for a child under three."
)
MOUTH = (
    "For the mouth: it is swallowed. Flavour law applies besides, and a material fit for skin may "
    "not be fit to eat; "
    "nothing of that is judged here."
)
LIPS = "For the lips: it is eaten as it wears off. Ask for food grade, and mind sore lips."
EYES = "Near the eyes: what only tingles on skin can hurt an eye. Unscented is the usual choice."
INTIMATE = "On thin or broken skin: it takes up more than other skin. Unscented is the usual choice."
FLAME = (
    "For a flame or a hot plate: what burns off is breathed, and soot and sparks with it. Test each "
    "wax, wick and dose; "
    "mind the flash point, draughts, children and pets, and never leave it alone."
)
SPRAY = (
    "It is sprayed: a fine mist is breathed. Keep it from faces, from people with asthma, from caged "
    "birds and from "
    "flames; where the base is alcohol the mist catches fire."
)
ROOM = "It scents a room: cats, birds and small children breathe it for hours and cannot leave it."
ALCOHOL = "In alcohol it catches fire: no flame, spark or hot surface near it, wet on skin or in the bottle."
SUN = "Worn in the sun: what burns skin in light burns it here, at figures lower than elsewhere."

BY_CATEGORY = {"1": (LIPS,), "5D": (BABIES,), "6": (MOUTH,), "10B": (SPRAY, ROOM), "11A": (INTIMATE,)}
BY_WORD = {
    "baby": (BABIES,),
    "diaper": (BABIES, INTIMATE),
    "child": (BABIES,),
    "mouth": (MOUTH,),
    "toothpaste": (MOUTH,),
    "breath": (MOUTH, SPRAY),
    "lip": (LIPS,),
    "eye": (EYES,),
    "intimate": (INTIMATE,),
    "sanitary": (INTIMATE,),
    "candle": (FLAME, ROOM),
    "wax": (FLAME, ROOM),
    "incense": (FLAME, ROOM),
    "plug": (ROOM,),
    "freshener": (ROOM,),
    "diffuser": (ROOM, ALCOHOL),
    "potpourri": (ROOM,),
    "sachet": (ROOM,),
    "spray": (SPRAY,),
    "mist": (SPRAY,),
    "fine-fragrance": (ALCOHOL,),
    "cologne": (ALCOHOL,),
    "toilette": (ALCOHOL,),
    "aftershave": (ALCOHOL,),
    "sanitizer": (ALCOHOL,),
    "sunscreen": (SUN,),
}


def of_product(product: str, category: str, *, leave_on: bool, skin: bool) -> tuple[str, ...]:
    """What stands for a product (its id, '' where only a category was named), first what concerns the
    weakest.
    """
    found = [one for word, said in BY_WORD.items() if word in product for one in said]
    if not product and category == "4":
        found.append(ALCOHOL)
    if not product and category == "12":
        found += [FLAME, ROOM]
    found += BY_CATEGORY.get(category, ())
    return (*dict.fromkeys(found), *((ON_SKIN,) if skin and leave_on else ()))
