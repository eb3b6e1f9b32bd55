"""Questions about a shelf: what it makes, what to buy."""

from __future__ import annotations

from typing import Any

import click

from .common import (
    SHEETS,
    Meter,
    answered,
    force_option,
    formatted,
    in_product,
    library,
    many,
    on_paper,
    printing,
    shelf_option,
    show,
    tell,
)


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


@click.command()
@click.argument("accord")
@click.option(
    "--class",
    "places",
    type=int,
    metavar="N",
    help="For a class of N: roles, strips, blind set, shopping list.",
)
@shelf_option("Solutions, swaps and prices of this shelf.")
@click.option("--budget", type=float, metavar="B", help="What the class may cost, in the shelf's money.")
@click.option("--intent", metavar="TEXT", help="A line on what the accord is to smell of.")
@on_paper
@click.pass_context
def lesson(ctx: click.Context, /, out: str | None, force: bool, **options: Any) -> None:
    """A lesson on the ACCORD.

    What to prepare, which strips to dip, what each line does, what to listen for at which minute, and what
    happens when a line is swapped; for a class also benches, a blind set with its key, and what to buy.
    """
    answered(ctx, "lesson", options, out, force=force)


@click.command()
@click.argument("accords")
@click.option("--out", required=True, metavar="FOLDER", help="Where the sheets go, one for each accord.")
@click.option("--grams", type=float, required=True, metavar="G", help="How much to make of each.")
@click.option(
    "--balance",
    type=float,
    default=0.01,
    show_default=True,
    metavar="STEP",
    help="The balance's step in grams.",
)
@click.option(
    "--kind",
    type=click.Choice(["html", "xlsx", "md", "csv"]),
    default="html",
    show_default=True,
    help="html is a page to print.",
)
@shelf_option("Weigh from this shelf's own solutions.")
@force_option
@click.pass_context
def sheets(ctx: click.Context, /, accords: str, out: str, **options: Any) -> None:
    """Weighing sheets of all accords of a folder ACCORDS at once.

    Ends with 2 if an accord could not be read or weighed; the others are written.
    """
    written, rejected = library(ctx).sheets(accords, out, **options)
    for path in written:
        click.echo(f"Written: {path}")
    for name, message in rejected:
        tell(f"not read: {name}: {message}")
    if rejected:
        ctx.exit(2)
