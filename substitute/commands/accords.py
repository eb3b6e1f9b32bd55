"""Questions about one accord: swapped, lifted, weighed, rebalanced."""

from __future__ import annotations

from typing import Any

import click

from ..errors import NothingLegal
from .common import (
    BECAUSE,
    answered,
    force_option,
    formatted,
    in_product,
    judged_by,
    library,
    many,
    on_paper,
    printing,
    shelf_option,
    show,
)


@click.command()
@click.argument("accord")
@many("--without", "A material that is missing")
@click.option("--because", type=BECAUSE, default="unavailable", show_default=True, help="Why it is gone.")
@many("--keep", "A line that must stay as it is")
@click.option(
    "--move",
    type=float,
    default=25.0,
    metavar="PCT",
    show_default=True,
    help="How far a line not in question may move where that pays.",
)
@many("--use", "Take this stand-in")
@click.option("--same-total", is_flag=True, help="Keep the old total, with carrier or by scaling all lines.")
@click.option(
    "--rivals", type=int, default=3, metavar="N", show_default=True, help="At most this many other formulas."
)
@shelf_option()
@in_product()
@judged_by
@click.option(
    "--max-new",
    type=int,
    metavar="N",
    help="At most this many new materials.  [default: one per gap, at least 2]",
)
@click.option("--out", metavar="F", help="Write the new accord to this CSV file.")
@force_option
@formatted
@click.pass_context
def adjust(ctx: click.Context, /, out: str | None, force: bool, **options: Any) -> None:
    """The ACCORD, swapped and rescaled to match.

    ACCORD is a CSV or XLSX file with the columns material and parts.
    """
    how = printing(options)
    found = library(ctx).adjust(**options)
    if out and found.within_known:
        from ..tables.formulas import write_accord
        from ..tables.writing import write_whole

        write_whole(out, write_accord(found.formula()), force=force)
    show("adjust", found.to_dict(), **how)
    if not found.within_known:
        why = (
            "nothing within the known limits was found at this dose"
            if options["dose"]
            else "nothing on the shelf carries any of this accord"
        )
        raise NothingLegal(f"{why}; nothing was written")


@click.command()
@click.argument("accord")
@click.option("--grams", type=float, required=True, metavar="G", help="How much to make.")
@click.option(
    "--balance",
    type=float,
    default=0.01,
    show_default=True,
    metavar="STEP",
    help="The balance's step in grams.",
)
@shelf_option("Weigh from this shelf's own solutions.")
@click.option("--stretch", is_flag=True, help="Let the batch weigh more, so that the solutions at hand fit.")
@click.option(
    "--take", is_flag=True, help="Take what is weighed from your book's bottles (`book undo` puts it back)."
)
@on_paper
@click.pass_context
def weigh(ctx: click.Context, /, out: str | None, force: bool, **options: Any) -> None:
    """Weighing and strip sheets of the ACCORD."""
    answered(ctx, "weigh", options, out, force=force)


@click.command()
@click.argument("accord")
@many("--too-strong", "A line that is too strong, with its degree as M:slightly or M:far")
@many("--too-weak", "A line that is too weak, likewise")
@many("--right", "A line that is right and keeps its amount")
@click.option(
    "--ratio",
    multiple=True,
    metavar="M:M",
    help="Lines whose ratio stays, or with figures (M:M=2:1) is set anew, neat for neat; several times.",
)
@click.option("--same-total", is_flag=True, help="Let carrier keep the old total.")
@click.option(
    "--grams", type=float, metavar="G", help="How much you weigh, to warn where the balance cannot follow."
)
@click.option("--balance", type=float, metavar="STEP", help="The balance's step in grams.")
@in_product()
@click.option("--save", is_flag=True, help="Keep the trial beside the accord as its next NAME.trial-N.csv.")
@click.option("--history", is_flag=True, help="Show the whole family of trials and end.")
@click.option("--compare", nargs=2, metavar="N N", help="Show what changed between two trials and end.")
@formatted
@click.pass_context
def rebalance(
    ctx: click.Context,
    /,
    accord: str,
    save: bool,
    history: bool,
    compare: tuple[str, str] | None,
    **options: Any,
) -> None:
    """The ACCORD's next trial, after smelling it.

    Lines that nobody named stay. In a bench book ACCORD may be a name, such as 'rose jar trial 3', and what
    was said with `tried` counts.
    """
    how = printing(options)
    found = library(ctx)
    if history:
        show("history", found.history(accord).to_dict(), **how)
        return
    if compare:
        show("compare", found.compare_trials(accord, *compare).to_dict(), **how)
        return
    trial = found.rebalance(accord, **options)
    saved = found.keep_trial(trial, accord) if save else None
    show("rebalance", trial.to_dict(), **how)
    if saved and how["style"] == "table":
        click.echo(f"\nKept as {saved}")


@click.command()
@click.argument("accord")
@shelf_option()
@in_product()
@click.option("--top", type=int, default=3, metavar="N", show_default=True, help="How many suggestions.")
@on_paper
@click.pass_context
def lift(ctx: click.Context, /, out: str | None, force: bool, **options: Any) -> None:
    """What helps the ACCORD carry.

    Which of its core lines is heard least, when and why; what lifts that one, from a trace up, and what it
    does to the match.
    """
    answered(ctx, "lift", options, out, force=force)
