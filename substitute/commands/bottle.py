"""What stands on a bottle: the label's text, and how far an accord reaches."""

from __future__ import annotations

from typing import Any

import click

from ..errors import InputError
from .common import answered, in_product, on_paper

ON = click.option("--on", metavar="DATE", help="The day the rules are asked for.  [default: today]")


@click.command()
@click.argument("accord")
@in_product(dose_required=True)
@ON
@click.option(
    "--base",
    multiple=True,
    metavar="NAME=PCT",
    help="Another ingredient of the product by its label name and percent, such as Aqua=12; several times.",
)
@on_paper
@click.pass_context
def label(ctx: click.Context, /, out: str | None, force: bool, base: tuple[str, ...], **options: Any) -> None:
    """A draft of the label's text for the ACCORD in a product.

    The list of ingredients in the order of the law, allergens to name, what stands beside it, and what a
    qualified person has to decide.
    """
    answered(ctx, "label", {"base": read_base(base), **options}, out, force=force)


@click.command()
@click.argument("accord")
@click.option(
    "--market", metavar="M", help="Whose law applies beside the worldwide standards.  [default: EU]"
)
@ON
@on_paper
@click.pass_context
def reach(ctx: click.Context, /, out: str | None, force: bool, **options: Any) -> None:
    """How far the ACCORD reaches in every product, worst first."""
    answered(ctx, "reach", options, out, force=force)


def read_base(texts: tuple[str, ...]) -> dict[str, float]:
    """'Aqua=12' as a name and a number; raises :class:`~substitute.errors.InputError` for anything else, or a
    name given twice."""
    found: dict[str, float] = {}
    for text in texts:
        name, _, amount = text.rpartition("=")
        try:
            pct = float(amount.strip().removesuffix("%").strip().replace(",", "."))
        except ValueError:
            raise InputError(
                f"`base` '{text}': write a label name and its percent, such as Aqua=12"
            ) from None
        name = " ".join(name.split())
        if name in found:
            raise InputError(f"`base` '{name}' is given twice")
        found[name] = pct
    return found
