"""Questions about a shelf: what it makes, what to buy."""

from __future__ import annotations

from typing import Any

import click

from .common import SHEETS, Meter, force_option, formatted, in_product, library, many, printing, show


@click.command()
@click.option("--accords", required=True, metavar="FOLDER", help="The folder with the accords.")
@click.option("--shelf", metavar="F", help="What you have; without it, --from-nothing.")
@click.option("--buy", type=int, metavar="N", help="The N purchases that improve most.")
@click.option(
    "--from-nothing",
    type=int,
    metavar="N",
    help="A starter shelf of N materials, with the curve of coverage.",
)
@click.option("--budget", type=float, metavar="B", help="What the purchases may cost together.")
@click.option(
    "--prices",
    metavar="F",
    help="A price list: material, price_per_gram, grams of one purchase.  [default: the shelf's, 10 g each]",
)
@many("--must", "Must be among the purchases")
@many("--must-not", "Must not be bought")
@click.option(
    "--include-controlled",
    is_flag=True,
    help="Let protected materials and precursors onto the list (prohibited ones never).",
)
@in_product()
@click.option("--greedy-only", is_flag=True, help="Leave the exact optimum out.")
@click.option("--sheet", metavar="FILE", help=SHEETS)
@force_option
@formatted
@click.pass_context
def plan(
    ctx: click.Context, /, accords: str, sheet: str | None, force: bool, greedy_only: bool, **options: Any
) -> None:
    """What a shelf makes, and what to buy.

    Every accord of a folder with the match the shelf reaches; the purchases that help most, or a shelf to
    start from.
    """
    how = printing(options)
    if sheet:
        from ..answers.files import check_target

        check_target(sheet, force=force)
    with Meter() as meter:
        found = library(ctx).plan(accords, exact=not greedy_only, progress=meter, **options)
    answer = found.to_dict()
    if sheet:
        from ..answers import lay_out
        from ..answers.files import write_answer
        from ..answers.sections import joined

        listed = lay_out("shelf", library(ctx).shelf_list(found.shelf).to_dict())
        write_answer(sheet, joined(lay_out("plan", answer), listed), force=force)
    show("plan", answer, **how)
