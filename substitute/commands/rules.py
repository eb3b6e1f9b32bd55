"""Questions about rules: one accord in a product, or many."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from .common import (
    Meter,
    force_option,
    formatted,
    in_product,
    judged_by,
    library,
    printing,
    say_cautions,
    shelf_option,
    show,
    tell,
    write,
)

MOST_REJECTED = 20  # lines on standard error
SUMMARIES = (".md", ".xlsx", ".html")
MOST_SHOWN, MOST_WRITTEN = 60, 5000  # breaches on a terminal, and in a summary


@click.command()
@click.argument("accord")
@in_product(dose_required=True, several=True)
@judged_by
@formatted
@click.pass_context
def limits(ctx: click.Context, /, **options: Any) -> None:
    """Where the ACCORD stands in a product, or in several.

    Limits, the highest dose, what to declare, controls, and what is not known. Ends with 1 if a limit is
    broken.
    """
    how = printing(options)
    answer = library(ctx).limits(**options).to_dict()
    show("several" if "products" in answer else "limits", answer, **how)
    if answer["within_known"] is False:
        ctx.exit(1)


@click.command()
@click.argument("accords", nargs=-1)
@in_product(several=False, dose=False)
@judged_by
@click.option("--out", metavar="F", help="Write the page to this .csv, .xlsx, .md or .html file.")
@click.option(
    "--answers", metavar="F", help="Read a filled-in CSV or XLSX page back, into the folder --into."
)
@click.option("--into", metavar="FOLDER", help="Where your own tables stand, for --answers.")
@force_option
@formatted
@click.pass_context
def ask(ctx: click.Context, /, accords: tuple[str, ...], **options: Any) -> None:
    """A page to send to a supplier about the ACCORDS.

    Each thing that is not on file: the material, what to ask, an empty field. The answers come back as your
    own tables.
    """
    how = printing(options)
    out, answers, into, force = (options.pop(name) for name in ("out", "answers", "into", "force"))
    if answers or into:
        if not (answers and into) or accords:
            raise click.UsageError("--answers FILE goes with --into FOLDER, and with no accords")
        for path in library(ctx).answered(answers, into, force=force):
            click.echo(f"Written: {path}")
        return
    if not accords:
        raise click.UsageError("name at least one accord, or --answers with --into")
    found = library(ctx).ask(accords, **options)
    if out and out.lower().endswith(".csv"):
        from ..tables.writing import write_whole

        write_whole(out, found.csv(), force=force)
    elif out:
        write(out, "ask", found.to_dict(), force=force)
    show("ask", found.to_dict(), **how)


@click.command()
@click.argument("portfolio")
@in_product(dose_required=True)
@judged_by
@click.option("--since", metavar="SET", help="Show what the new set changes against this older one.")
@click.option(
    "--mend", metavar="FOLDER", help="Write an adjusted copy of every broken accord there, with its reasons."
)
@shelf_option("Mend from this shelf only.")
@click.option("--summary", metavar="FILE", help="Write a summary to this .md, .xlsx or .html file.")
@force_option
@click.option(
    "--workers",
    type=click.IntRange(1, 64),
    metavar="N",
    help="Threads that judge.  [default: 1; decoding has one of its own]",
)
@formatted
@click.pass_context
def screen(ctx: click.Context, /, summary: str | None, force: bool, **options: Any) -> None:
    """Which of many accords break a limit.

    PORTFOLIO is a folder of accords, a long CSV or XLSX (accord, material, parts), or Parquet with these
    columns. Ends with 1 if a limit is broken, with 2 if none is but an accord could not be read.
    """
    how = printing(options)
    if summary:
        from ..answers.files import check_target

        check_target(summary, force=force, endings=SUMMARIES)
    with Meter() as meter:
        found = library(ctx).screen(force=force, progress=meter.share, **options)
    if summary:
        from ..answers import lay_out
        from ..answers.files import write_answer

        write_answer(summary, lay_out("screen", found.to_dict(MOST_WRITTEN)), force=force)
    if how["style"] == "table":
        show("screen", found.to_dict(MOST_SHOWN), **how)
    else:
        from ..answers.screen import breaches_csv
        from ..tables.lines import told_of_names

        as_rows = how["style"] == "csv"
        for piece in (
            breaches_csv(found.breaches(), raw=how["raw"]) if as_rows else found.json(told_of_names())
        ):
            click.echo(piece, nl=False)
        say_cautions(tuple(found.to_dict(0)["cautions"]) if as_rows else ())
    say_rejected(found.rejected)
    if found.broken:
        ctx.exit(1)
    if found.rejected:
        ctx.exit(2)


def say_rejected(rejected: Sequence[tuple[str, str]]) -> None:
    """What was not read, on standard error whatever the format."""
    for name, message in rejected[:MOST_REJECTED]:
        tell(f"not read: {name}: {message}")
    if len(rejected) > MOST_REJECTED:
        tell(f"and {len(rejected) - MOST_REJECTED:,} more accords were not read")
