"""The commands of the command line, by what they ask for. A command parses, calls the library and shows; no
arithmetic.

``COMMANDS`` says where each stands and, in its own first line, what it is for: so ``--help`` tells them all
without importing them, and a call imports one module.
"""

from __future__ import annotations

from collections.abc import Iterator, MutableMapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import click

COMMANDS = {
    "swap": ("materials.swap", "What stands in for MATERIAL, and how much of it."),
    "neighbours": ("materials.neighbours", "What lies near NAME, and a path to another."),
    "adjust": ("accords.adjust", "The ACCORD, swapped and rescaled to match."),
    "limits": ("rules.limits", "Where the ACCORD stands in a product, or in several."),
    "ask": ("rules.ask", "A page to send to a supplier about the ACCORDS."),
    "screen": ("rules.screen", "Which of many accords break a limit."),
    "weigh": ("accords.weigh", "Weighing and strip sheets of the ACCORD."),
    "rebalance": ("accords.rebalance", "The ACCORD's next trial, after smelling it."),
    "plan": ("shelf.plan", "What a shelf makes, and what to buy."),
    "lift": ("accords.lift", "What helps the ACCORD carry."),
    "lesson": ("shelf.lesson", "A lesson on the ACCORD."),
    "sheets": ("shelf.sheets", "Weighing sheets of all accords of a folder ACCORDS at once."),
    "label": ("bottle.label", "A draft of the label's text for the ACCORD in a product."),
    "reach": ("bottle.reach", "How far the ACCORD reaches in every product, worst first."),
    "show": ("materials.card", "A MATERIAL's card."),
    "check": ("tools.check", "Everything wrong with your own FILES."),
    "tried": (
        "book.tried",
        "What the nose said of WHAT: a stand-in (with --for), or an accord of the book or its trial.",
    ),
    "book": ("book.book", "Your own folder: bottles, accords with their trials, and what your nose said."),
    "schema": ("tools.schema", "The JSON Schema of what COMMAND answers with --format json."),
    "app": ("tools.app", "Open the app as a page on this machine only; nothing is sent anywhere."),
}
"""By name, in the order of the work: module and function in this folder, and the first line of its help."""


class LateCommands(MutableMapping[str, "click.Command"]):
    """The commands of ``COMMANDS``, each imported when first asked for, and any that are added."""

    def __init__(self) -> None:
        self._held: dict[str, click.Command | None] = dict.fromkeys(COMMANDS)

    def __getitem__(self, name: str) -> click.Command:
        held = self._held[name]
        if held is None:
            from importlib import import_module

            module, _, function = COMMANDS[name][0].partition(".")
            held = self._held[name] = getattr(import_module(f".{module}", __name__), function)
            assert held is not None
        return held

    def __setitem__(self, name: str, command: click.Command) -> None:
        self._held[name] = command

    def __delitem__(self, name: str) -> None:
        del self._held[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._held)

    def __len__(self) -> int:
        return len(self._held)
