"""What every perfumer knows of materials in product bases. Common practice, no source."""

from __future__ import annotations

from collections.abc import Iterable

from ..records import Tables

VANILLIC = {
    "vanillin",
    "ethyl-vanillin",
    "vanilla-absolute",
    "vanilla-co2-extract",
    "vanilla-tincture",
    "vanillyl-acetate",
    "propenyl-guaethol",
}
DARKENING = {
    "indole",
    "skatole",
    "eugenol",
    "isoeugenol",
    "methyl-anthranilate",
    "ethyl-anthranilate",
    "clove-bud-oil",
    "clove-leaf-oil",
    "maltol",
    "ethyl-maltol",
    "ethyl-cyclopentenolone",
}
ANTHRANILATES = {"methyl-anthranilate", "ethyl-anthranilate", "methyl-n-methylanthranilate"}
ALKALI_SHY = {
    "citral",
    "hydroxycitronellal",
    "citronellal",
    "linalyl-acetate",
    "geranyl-acetate",
    "benzyl-acetate",
    "litsea-cubeba-oil",
    "lemongrass-oil",
}


def base_cautions(tables: Tables, material: str, company: Iterable[str] = ()) -> list[str]:
    """Notes on how a material behaves in bases and beside the rest of the accord."""
    found = []
    company = set(company)
    structure = tables.materials[material].structure
    if material in VANILLIC:
        found.append(
            "vanillic: discolours to brown in light and in alkaline or iron-bearing bases (common practice)"
        )
    elif material in DARKENING:
        found.append("discolours with time, in pale products above all (common practice)")
    if structure == "aldehyde" and material not in VANILLIC and company & ANTHRANILATES:
        found.append(
            "an aldehyde beside an anthranilate: they form a coloured Schiff base and water (common practice)"
        )
    if material in ANTHRANILATES and any(tables.materials[name].structure == "aldehyde" for name in company):
        found.append(
            "an anthranilate beside aldehydes: they form a coloured Schiff base and water (common practice)"
        )
    if material in ALKALI_SHY:
        found.append("does not last in alkaline bases such as soap (common practice)")
    if structure == "aldehyde" and material not in ALKALI_SHY and material not in VANILLIC:
        found.append("oxidises: keep it cool, full and fresh (common practice)")
    return found


def profile_cautions(tables: Tables, material: str) -> list[str]:
    """Cautions that follow from the material's own figures."""
    found = []
    if tables.value(material, "anosmia"):
        found.append("many people cannot smell this well: have a second nose judge the amount")
    figure = tables.properties.get(material, {}).get("potency")
    if figure and figure.basis == "estimate":
        found.append("its strength is an estimate: begin below the amount and work up")
    if figure and figure.value >= 10:
        found.append("very strong: weigh it as a 1 % or 10 % solution")
    return found
