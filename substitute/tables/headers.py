"""Headers as people write them: in several languages, with units in brackets, under a title."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from functools import lru_cache

from ..frozen import frozen
from .figures import UNIT_OF

# fmt: off
WORDS = {
    "material": frozenset({
        "ingredient", "ingredients", "raw material", "raw materials", "materials", "rm", "substance",
        "component", "rohstoff", "rohstoffe", "stoff", "zutat", "zutaten", "bestandteil", "inhaltsstoff",
        "bezeichnung", "matière", "matières", "matière première", "matières premières", "ingrédient",
        "ingrédients", "composant", "produit", "materia prima", "materias primas", "ingrediente",
        "ingredientes", "ingredienti", "materiale", "componente", "nombre", "nom", "nome", "name", "namn",
        "grondstof", "ингредиент", "ингредиенты", "сырьё", "сырье", "материал", "название", "компонент",
        "材料", "原料", "成分", "香料", "υλικό", "συστατικό", "مادة", "חומר",
    }),
    "parts": frozenset({
        "part", "amount", "amounts", "qty", "quantity", "weight", "mass", "teile", "teil", "menge", "gewicht",
        "masse", "anteil", "anteile", "gewichtsteile", "quantité", "quantités", "poids", "partes", "cantidad",
        "peso", "parti", "quantità", "dose", "части", "часть", "количество", "масса", "вес", "доли", "重量",
        "份", "数量", "配合量", "部", "μέρη", "ποσότητα", "كمية", "כמות", "parties", "parte",
        "parts en poids", "pourcentage", "percent", "percentage", "prozent", "porcentaje", "percentuale",
        "grams", "gram", "g", "gr", "gramm", "grammes", "gramos", "grammi", "граммы", "г", "mg", "%",
    }),
    "strength_pct": frozenset({
        "strength", "dilution", "concentration", "conc", "dil", "stärke", "staerke", "konzentration",
        "verdünnung", "verduennung", "lösung", "force", "titre", "dilución", "concentración",
        "concentrazione", "diluizione", "концентрация", "разведение", "разбавление", "濃度", "浓度",
        "solution", "strength_%",
    }),
    "grams": frozenset({
        "gram", "g", "gr", "weight", "amount", "stock", "quantity", "qty", "menge", "gewicht", "bestand",
        "vorrat", "quantité", "poids", "cantidad", "peso", "quantità", "giacenza", "вес", "масса", "остаток",
        "количество", "граммы", "г", "grams_left",
    }),
    "price_per_gram": frozenset({
        "price/g", "price per gram", "price_g", "€/g", "eur/g", "$/g", "preis/g", "preis pro gramm", "prix/g",
        "prix par gramme", "precio/g", "precio por gramo", "prezzo/g", "цена/г", "preis €/g", "price €/g",
        "prix €/g", "preis eur/g", "price eur/g", "prix eur/g", "price $/g", "price per g", "preis je gramm",
        "preis pro g", "prix au gramme", "prix par g", "prezzo €/g", "precio €/g",
    }),
    "role": frozenset({
        "rolle", "rôle", "rol", "ruolo", "роль", "function",
    }),
    "optional": frozenset({
        "facultatif", "opcional", "facoltativo",
    }),
    "label": frozenset({
        "bottle", "name", "etikett", "etiquette", "étiquette", "etiqueta", "etichetta", "flasche", "этикетка",
        "ラベル", "标签",
    }),
    "cas": frozenset({
        "cas number", "cas no", "cas nr", "cas nummer", "cas no.", "n° cas", "no cas", "numéro cas",
        "número cas", "numero cas", "id", "material", "cas#",
    }),
    "accord": frozenset({
        "accord name", "akkord", "formula", "formule", "formel", "fórmula", "аккорд",
    }),
}
# fmt: on
IN_BRACKETS = re.compile(r"^(.*?)\s*(?:[(\[]\s*([^)\]]+?)\s*[)\]]|\bin\s+(\S+))\s*$")
LAST_WORD = re.compile(r"^(.+?)[\s_,]+(\S+)$")
# fmt: off
TOTALS = frozenset({  # what the last row of a sheet is called that adds the others up
    "total", "totals", "sum", "summe", "gesamt", "gesamtsumme", "somme", "totale", "totaal", "suma", "summa",
    "итого", "всего", "合計", "合计", "总计", "σύνολο",
})
# fmt: on
LOOKED_THROUGH = 30  # lines in which a header is looked for


def clean(cell: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", cell).strip().strip(":*").casefold().split())


def bare(text: str) -> str:
    """A header without brackets, hyphens and doubled blanks: 'preis (€/g)' is 'preis €/g'."""
    return " ".join(re.sub(r"[()\[\],-]", " ", text).split())


@frozen
class Heading:
    """A header's cell: its ``text`` cleaned, the ``name`` without the ``unit`` it says, and all by which it
    may be known in other words.
    """

    text: str
    name: str
    unit: str
    other: frozenset[str]


@lru_cache(maxsize=4096)
def read_heading(cell: str) -> Heading:
    """'Menge (g)' has the name 'menge' and the unit 'g'."""
    text = clean(cell)
    name, unit = _with_unit(text)
    return Heading(text, name, unit, frozenset((name, text, bare(text))))


def _with_unit(text: str) -> tuple[str, str]:
    found = IN_BRACKETS.match(text)
    if found:
        unit = (found[2] or found[3] or "").rstrip(".")
        if unit in UNIT_OF:
            return found[1], UNIT_OF[unit]
    found = LAST_WORD.match(text)
    if found and found[2] in UNIT_OF:
        return found[1], UNIT_OF[found[2]]
    if text in UNIT_OF:
        return text, UNIT_OF[text]
    return text, ""


def column_names(cells: Sequence[str], known: Collection[str]) -> tuple[list[str], dict[str, str]]:
    """Our names for a header's cells, and the unit each says; a cell that is nobody's stays as it is.

    Our own word always wins; another word counts only where ours is absent and no second column claims
    it.
    """
    headings = [read_heading(cell) for cell in cells]
    found = [heading.text for heading in headings]
    units: dict[str, str] = {}
    free = [place for place, heading in enumerate(headings) if heading.text not in known]
    for place in free:
        name, unit = headings[place].name, headings[place].unit
        underscored = name.replace(" ", "_")
        for candidate in (name, underscored, f"{underscored}_pct" if unit == "%" else ""):
            if candidate in known and candidate not in found:
                found[place] = candidate
                units[candidate] = unit
                break
    for column in known:
        words = WORDS.get(column)
        if column in found or not words:
            continue
        claims = [
            place
            for place in free
            if found[place] == headings[place].text and not words.isdisjoint(headings[place].other)
        ]
        if len(claims) > 1:  # a column of percent beside one of grams says its strength, or the same again
            named = [place for place in claims if headings[place].text not in UNIT_OF]
            claims = named if len(named) == 1 else claims
        if len(claims) == 1:
            found[claims[0]] = column
            units[column] = headings[claims[0]].unit
    return found, units


def header_line(lines: Sequence[tuple[int, list[str]]], required: Sequence[str], known: Iterable[str]) -> int:
    """The place of the header among the filled lines: the first that holds every required column, else
    the first of all."""
    columns = [*required, *(name for name in known if name not in required)]
    if not required:
        return 0
    for place, (_, cells) in enumerate(lines[:LOOKED_THROUGH]):
        if set(required) <= set(column_names(cells, columns)[0]):
            return place
    return 0
