"""Controls of trade and supply, and the words that a material must never be offered without."""

from __future__ import annotations

from collections.abc import Iterable

from ..frozen import frozen
from ..records import Control, Tables
from .context import WORLDWIDE, Context
from .rule import CHECK

WORDS = {"ban": "prohibited (ban)", "CITES": "protected (CITES)", "precursor": "precursor"}


@frozen
class ControlRow:
    """A control on a material of the accord."""

    material: str
    name: str
    control: Control

    def to_dict(self) -> dict[str, object]:
        one = self.control
        return {
            "material": self.material,
            "name": self.name,
            "control": one.control,
            "market": one.market,
            "detail": one.detail,
            "in_force": one.in_force.isoformat() if one.in_force else None,
            "basis": one.basis,
            "source": one.source,
            "check": CHECK if one.basis == "memory" else "",
        }


def controls_in_force(tables: Tables, context: Context) -> Iterable[Control]:
    """The controls of the context's market on its day; one without a date counts."""
    for one in tables.controls:
        if one.market in (WORLDWIDE, context.market) and (one.in_force is None or one.in_force <= context.on):
            yield one


def controls(tables: Tables, context: Context, materials: Iterable[str]) -> tuple[ControlRow, ...]:
    """Controls on ``materials`` in the context's market on its day (one without a date counts), in the
    materials' order.
    """
    by_material: dict[str, list[Control]] = {}
    for one in controls_in_force(tables, context):
        by_material.setdefault(one.material, []).append(one)
    return tuple(
        ControlRow(name, tables.materials[name].name, one)
        for name in dict.fromkeys(materials)
        for one in by_material.get(name, ())
    )
