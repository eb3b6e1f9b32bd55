"""The command line: parses, calls the library, shows. Every command is a method of :class:`substitute.Library` of the same name."""

from __future__ import annotations

import json
import os
import sys
from contextlib import contextmanager
from pathlib import Path

import click

from . import __version__
from .errors import InputError, NothingLegal, SubstituteError

FORMATS = click.Choice(["table", "json", "csv"])
BECAUSE = click.Choice(["unavailable", "limit", "law", "price"])


class Commands(click.Group):
    """Commands in the order of the work, and one message for every fault of the input."""

    def list_commands(self, ctx):
        return list(self.commands)

    def resolve_command(self, ctx, args):
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            from .tables.schema import nearest

            raise click.UsageError(
                f"{error.message.rstrip('.')}{nearest(args[0], self.commands)}; one of {', '.join(self.commands)}"
            ) from None


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__)
@click.option(
    "--tables", metavar="FOLDER", help="Your own tables, laid over ours row by row (else SUBSTITUTE_TABLES)."
)
@click.option("--labels", metavar="FILE", help="Your bottles' labels: a CSV with label and cas.")
@click.option("--no-evidence", is_flag=True, help="Leave the documented swaps out of the ranking.")
@click.pass_context
def cli(ctx, tables, labels, no_evidence):
    """What stands in for a perfumery material that is gone, how much of it, what changes, and what to weigh."""
    if os.environ.get("NO_COLOR"):
        ctx.color = False
    ctx.obj = {"tables": tables, "labels": labels, "evidence": not no_evidence}


def library(ctx):
    """The library of this call, loaded when a command first needs it."""
    from .library import load

    if "library" not in ctx.obj:
        ctx.find_root().with_resource(say_readings())
        ctx.obj["library"] = load(ctx.obj["tables"], evidence=ctx.obj["evidence"], labels=ctx.obj["labels"])
    return ctx.obj["library"]


@contextmanager
def say_readings():
    """Tell on standard error, once a command is done, which material was taken for a short or misspelt name."""
    from .tables.names import noting

    with noting() as readings:
        yield
    for reading in readings:
        click.echo(f"substitute: {reading}", err=True)


def show(answer: dict, style: str, as_text, rows=None) -> None:
    """Print an answer as a table for reading, JSON, or CSV rows."""
    if style == "json":
        click.echo(json.dumps(clean(answer), indent=2, ensure_ascii=False, allow_nan=False))
    elif style == "csv":
        from .tables.files import to_csv

        columns, lines = rows(answer)
        click.echo(to_csv(columns, lines), nl=False)
    else:
        click.echo(as_text(answer))


def present(kind: str, answer: dict, style: str, *, why: bool = False, raw: bool = False) -> None:
    """Print an answer: laid out for a terminal, as JSON, or its main table as CSV with the cautions on standard error."""
    if style == "json":
        from .figures import as_known

        click.echo(json.dumps(as_known(answer), indent=2, ensure_ascii=False, allow_nan=False))
        return
    from .answers import lay_out

    found = lay_out(kind, answer)
    if style == "csv":
        from .answers.csv import answer_csv

        click.echo(answer_csv(found, raw=raw), nl=False)
        for one in found.cautions:
            click.echo(f"caution: {one}", err=True)
        return
    from .answers.terminal import Terminal

    click.echo(Terminal(why=why, colour=True).draw(found))  # without a terminal, click takes the colours off


def clean(value):
    """JSON has no NaN: unknown is null."""
    if isinstance(value, dict):
        return {key: clean(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [clean(item) for item in value]
    return None if isinstance(value, float) and value != value else value


def columns_of(key: str, *columns: str):
    """Rows of a list of records under ``key``."""

    def rows(answer):
        return columns, [
            [
                entry.get(column)
                if not isinstance(entry.get(column), (list, dict))
                else json.dumps(entry[column], ensure_ascii=False)
                for column in columns
            ]
            for entry in answer[key]
        ]

    return rows


def formatted(command):
    return click.option(
        "--format", "style", type=FORMATS, default="table", show_default=True, help="How to print the answer."
    )(command)


def in_product(dose_required: bool = False):
    """The options that say what an accord goes into."""

    def wrap(command):
        for option in reversed(
            [
                click.option(
                    "--dose",
                    type=float,
                    metavar="P",
                    required=dose_required,
                    help="Percent of the accord in the finished product.",
                ),
                click.option(
                    "--product",
                    metavar="N",
                    help="What it goes into: fine-fragrance, hand-lotion, room-spray, …",
                ),
                click.option(
                    "--category", metavar="C", help="Instead of a product, its category, such as 4 or 5A."
                ),
                click.option(
                    "--market",
                    metavar="M",
                    help="Whose law applies beside the worldwide standards.  [default: EU]",
                ),
            ]
        ):
            command = option(command)
        return command

    return wrap


@cli.command()
@click.argument("material")
@click.option("--because", type=BECAUSE, default="unavailable", show_default=True, help="Why it is gone.")
@click.option("--shelf", metavar="F", help="Only what stands on this shelf.")
@click.option(
    "--blend", type=int, default=1, metavar="K", show_default=True, help="Try blends of K materials too."
)
@click.option("--accord", metavar="F", help="The accord it is missing from.")
@in_product()
@click.option("--top", type=int, default=5, metavar="N", show_default=True, help="How many answers.")
@formatted
@click.pass_context
def swap(ctx, style, **options):
    """What stands in for MATERIAL, and how much of it.

    MATERIAL is an id, a name, a synonym, a label of yours or a CAS number.
    """
    from .text import swap_text

    def rows(answer):
        columns = (
            "rank",
            "materials",
            "grams_per_gram",
            "low",
            "high",
            "score",
            "similarity",
            "evidence",
            "reasons",
        )
        return columns, [
            (
                s["rank"],
                " + ".join(m["id"] for m in s["materials"]),
                *(
                    " + ".join(f"{m[k]:.4g}" if m[k] is not None else "" for m in s["materials"])
                    for k in columns[2:5]
                ),
                s["score"],
                s["similarity"],
                s["evidence"],
                "; ".join(s["reasons"]),
            )
            for s in answer["stand_ins"]
        ]

    show(library(ctx).swap(**options).to_dict(), style, swap_text, rows)


@cli.command()
@click.argument("name")
@click.option("--to", metavar="NAME", help="Show the path to this one.")
@click.option("--top", type=int, default=10, metavar="N", show_default=True, help="How many neighbours.")
@formatted
@click.pass_context
def neighbours(ctx, style, **options):
    """What lies near NAME, and a path to another.

    NAME is a material, a descriptor such as mossy, or a constituent.
    """
    present("neighbours", library(ctx).neighbours(**options).to_dict(), style)


@cli.command()
@click.argument("accord")
@click.option(
    "--without", multiple=True, metavar="M", help="A material that is missing; may be given several times."
)
@click.option("--because", type=BECAUSE, default="unavailable", show_default=True, help="Why it is gone.")
@click.option(
    "--keep", multiple=True, metavar="M", help="A line that must stay as it is; may be given several times."
)
@click.option(
    "--move",
    type=float,
    default=25.0,
    metavar="PCT",
    show_default=True,
    help="How far a line not in question may move where that pays.",
)
@click.option("--use", multiple=True, metavar="M", help="Take this stand-in; may be given several times.")
@click.option("--same-total", is_flag=True, help="Keep the old total, with carrier or by scaling all lines.")
@click.option(
    "--rivals", type=int, default=3, metavar="N", show_default=True, help="At most this many other formulas."
)
@click.option("--shelf", metavar="F", help="Only what stands on this shelf.")
@in_product()
@click.option(
    "--limits", multiple=True, metavar="SET", help="Judge by this limit set only; may be given several times."
)
@click.option(
    "--max-new",
    type=int,
    metavar="N",
    help="At most this many new materials.  [default: one per gap, at least 2]",
)
@click.option("--on", metavar="DATE", help="The day the rules are asked for.  [default: today]")
@click.option("--out", metavar="F", help="Write the new accord to this CSV file.")
@click.option("--force", is_flag=True, help="Write over a file that exists.")
@formatted
@click.pass_context
def adjust(ctx, style, out, force, **options):
    """The ACCORD, swapped and rescaled to match.

    ACCORD is a CSV or XLSX file with the columns material and parts.
    """
    from .text import adjust_text

    found = library(ctx).adjust(**options)
    if out and found.within_known:
        from .tables.files import write_whole
        from .tables.formulas import write_accord

        write_whole(out, write_accord(found.formula()), force=force)
    show(
        found.to_dict(),
        style,
        adjust_text,
        columns_of(
            "lines", "id", "name", "cas", "strength_pct", "parts_before", "parts_after", "cause", "why"
        ),
    )
    if not found.within_known:
        why = (
            "nothing within the known limits was found at this dose"
            if options["dose"]
            else "nothing on the shelf carries any of this accord"
        )
        raise NothingLegal(f"{why}; nothing was written")


@cli.command()
@click.argument("accord")
@in_product(dose_required=True)
@click.option(
    "--limits", multiple=True, metavar="SET", help="Judge by this limit set only; may be given several times."
)
@click.option("--on", metavar="DATE", help="The day the rules are asked for.  [default: today]")
@formatted
@click.pass_context
def limits(ctx, style, **options):
    """Where the ACCORD stands in a product.

    Limits, the highest dose, what to declare, controls, and what is not known. Ends with 1 if a limit is broken.
    """
    answer = library(ctx).limits(**options).to_dict()
    present("limits", answer, style)
    if any(row["ok"] is False for row in answer["limits"]):
        ctx.exit(1)


@cli.command()
@click.argument("portfolio")
@in_product(dose_required=True)
@click.option(
    "--limits", multiple=True, metavar="SET", help="Judge by this limit set only; may be given several times."
)
@click.option("--on", metavar="DATE", help="The day the rules are asked for.  [default: today]")
@click.option("--since", metavar="SET", help="Show what the new set changes against this older one.")
@click.option(
    "--mend", metavar="FOLDER", help="Write an adjusted copy of every broken accord there, with its reasons."
)
@click.option("--shelf", metavar="F", help="Mend from this shelf only.")
@click.option("--summary", metavar="FILE", help="Write a summary to this .md, .xlsx or .html file.")
@click.option("--force", is_flag=True, help="Write over files that exist.")
@click.option(
    "--workers", type=click.IntRange(1, 64), metavar="N", help="Threads.  [default: the machine's, 4 at most]"
)
@formatted
@click.pass_context
def screen(ctx, style, summary, force, **options):
    """Which of many accords break a limit.

    PORTFOLIO is a folder of accords, a long CSV or XLSX (accord, material, parts), or Parquet with these columns. Ends with 1 if a
    limit is broken.
    """
    from .text import screen_text

    if summary:
        from .accords.mend import check_summary

        check_summary(summary, force=force)
    with Meter() as meter:
        found = library(ctx).screen(force=force, progress=meter.share, **options)
    if summary:
        from .accords.mend import write_summary

        write_summary(summary, found, force=force)
    if style == "json":
        for piece in found.json():
            click.echo(piece, nl=False)
    elif style == "csv":
        for piece in found.csv():
            click.echo(piece, nl=False)
    else:
        click.echo(screen_text(found.to_dict(60)))
    if found.broken:
        ctx.exit(1)


@cli.command()
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
@click.option("--shelf", metavar="F", help="Weigh from this shelf's own solutions.")
@click.option("--out", metavar="F", help="Write the sheets to this .html, .xlsx or .csv file.")
@click.option("--force", is_flag=True, help="Write over a file that exists.")
@formatted
@click.pass_context
def weigh(ctx, style, out, force, **options):
    """Weighing and strip sheets of the ACCORD."""
    from .text import weigh_text

    found = library(ctx).weigh(**options)
    if out:
        from .accords.sheets import weighing_sheets, write_sheets

        write_sheets(
            out,
            f"Weighing: {Path(options['accord']).stem}",
            weighing_sheets(found),
            found.cautions,
            force=force,
        )
    show(
        found.to_dict(),
        style,
        weigh_text,
        columns_of("lines", "order", "id", "name", "cas", "strength_pct", "grams", "error_pct"),
    )


@cli.command()
@click.argument("accord")
@click.option(
    "--too-strong", multiple=True, metavar="M", help="A line that is too strong; may be given several times."
)
@click.option(
    "--too-weak", multiple=True, metavar="M", help="A line that is too weak; may be given several times."
)
@click.option("--right", multiple=True, metavar="M", help="A line that is right and keeps its amount.")
@click.option(
    "--grams", type=float, metavar="G", help="How much you weigh, to warn where the balance cannot follow."
)
@click.option("--balance", type=float, metavar="STEP", help="The balance's step in grams.")
@in_product()
@click.option("--save", is_flag=True, help="Keep the trial beside the accord as its next NAME.trial-N.csv.")
@click.option("--history", is_flag=True, help="Show the trials so far and end.")
@formatted
@click.pass_context
def rebalance(ctx, style, accord, save, history, **options):
    """The ACCORD's next trial, after smelling it."""
    from .accords.trials import history_table, read_history, save_trial
    from .text import rebalance_text

    found = library(ctx)
    if history:
        from .accords.sheets import to_csv, to_markdown

        sheet = history_table(read_history(Path(accord), found.names), found.tables)
        click.echo(to_csv(sheet) if style == "csv" else to_markdown([sheet]))
        return
    trial = found.rebalance(accord, **options)
    saved = save_trial(trial, Path(accord)) if save else None
    show(
        trial.to_dict(),
        style,
        rebalance_text,
        columns_of(
            "lines", "id", "name", "cas", "strength_pct", "parts_before", "parts_after", "verdict", "why"
        ),
    )
    if saved and style == "table":
        click.echo(f"\nKept as {saved}")


@cli.command()
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
    help="A price list: material, price_per_gram, grams of one purchase.  [default: the shelf's prices, 10 g each]",
)
@click.option(
    "--must", multiple=True, metavar="M", help="Must be among the purchases; may be given several times."
)
@click.option(
    "--must-not", multiple=True, metavar="M", help="Must not be bought; may be given several times."
)
@click.option(
    "--include-controlled",
    is_flag=True,
    help="Let protected materials and precursors onto the list (prohibited ones never).",
)
@click.option("--greedy-only", is_flag=True, help="Leave the exact optimum out.")
@click.option(
    "--sheet",
    metavar="FILE",
    help="Write the plan and the shelf list to this .html, .xlsx, .md or .csv file.",
)
@click.option("--force", is_flag=True, help="Write over a file that exists.")
@formatted
@click.pass_context
def plan(ctx, style, accords, sheet, force, greedy_only, **options):
    """What a shelf makes, and what to buy.

    Every accord of a folder with the match the shelf reaches; the purchases that help most, or a shelf to start from.
    """
    from .text import plan_text

    with Meter() as meter:
        found = library(ctx).plan(accords, exact=not greedy_only, progress=meter, **options)
    if sheet:
        from .accords.sheets import write_sheets
        from .shelf.listing import plan_sheets

        write_sheets(
            sheet,
            "What the shelf makes, and what to buy",
            [*plan_sheets(found), *library(ctx).shelf_sheet(found.shelf)],
            force=force,
        )
    rows = (
        columns_of("buy", "id", "name", "cas", "gain", "price", "helps", "why")
        if found.buy
        else columns_of("makes", "accord", "match", "surrogate", "lacks", "stand_ins", "left_out")
    )
    show(found.to_dict(), style, plan_text, rows)


class Meter:
    """How far a long answer is, on one line of standard error; nothing where that is no terminal."""

    def __init__(self):
        self._shown = sys.stderr.isatty()
        self._width = 0

    def __enter__(self):
        return self

    def __call__(self, done: int, of: int, what: str) -> None:
        if self._shown:
            text = (
                f"{what}: {done} of {of}" if what.endswith(("accords", "swaps")) else f"{what}: round {done}"
            )
            click.echo(f"\r{text:{self._width}}", nl=False, err=True)
            self._width = len(text)

    def share(self, done: float | None, accords: int, broken: int) -> None:
        """Accords so far, and the share of the file that they are."""
        if self._shown:
            text = f"{accords:,} accords, {broken:,} broken{'' if done is None else f', {done:.0%}'}"
            click.echo(f"\r{text:{self._width}}", nl=False, err=True)
            self._width = len(text)

    def __exit__(self, *_):
        if self._shown and self._width:
            click.echo(f"\r{' ' * self._width}\r", nl=False, err=True)


@cli.command()
@click.argument("accord")
@click.option("--shelf", metavar="F", help="Only what stands on this shelf.")
@click.option("--top", type=int, default=3, metavar="N", show_default=True, help="How many suggestions.")
@formatted
@click.pass_context
def lift(ctx, style, **options):
    """A clean note that helps the ACCORD carry.

    Which radiant material to add, how little of it, and what it does to the match and the core notes at each stage.
    """
    from .text import lift_text

    show(
        library(ctx).lift(**options).to_dict(),
        style,
        lift_text,
        columns_of("suggestions", "id", "name", "cas", "parts", "match", "why"),
    )


@cli.command("show")
@click.argument("material")
@formatted
@click.pass_context
def show_material(ctx, style, material):
    """A MATERIAL's card.

    What it smells of, how strong and how long, what is in it or who holds it, rules, and what replaces it.
    """
    from .text import card_text

    show(
        library(ctx).show(material).to_dict(),
        style,
        card_text,
        columns_of("figures", "property", "value", "at", "basis", "source"),
    )


@cli.command()
@click.argument("files", nargs=-1, required=True)
@formatted
@click.pass_context
def check(ctx, style, files):
    """Everything wrong with your own FILES.

    Tables, accords, shelves, labels, or a folder of them.
    """
    answer = library(ctx).check(*files).to_dict()
    show(
        answer,
        style,
        lambda found: "\n".join(found["lines"]),
        columns_of("complaints", "file", "row", "column", "message"),
    )
    if answer["complaints"]:
        ctx.exit(2)


@cli.command()
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    metavar="N",
    help="The port of the page.  [default: 8501, or the next that is free]",
)
@click.option(
    "--browser/--no-browser",
    default=True,
    help="Open a browser window on it.  [default: yes, where there is a screen]",
)
@click.pass_context
def app(ctx, port, browser):
    """Open the app as a page on this machine only; nothing is sent anywhere."""
    from .screens.settings import run

    options = ctx.obj
    ctx.exit(
        run(port, browser, tables=options["tables"], labels=options["labels"], evidence=options["evidence"])
    )


def main(args=None) -> None:
    """Entry point: exit codes 0 done, 1 a limit is broken or nothing legal, 2 the input is at fault, 3 anything else."""
    try:
        code = cli.main(args, prog_name="substitute", standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.Abort:
        fail("stopped", 3)
    except click.exceptions.NoArgsIsHelpError as error:  # a bare call asks what there is
        click.echo(error.ctx.get_help())
        sys.exit(0)
    except click.ClickException as error:
        fail(error.format_message(), 2)
    except SubstituteError as error:
        fail(str(error), error.exit_code)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except (OSError, MemoryError) as error:
        fail(f"the machine refused: {error}", 3)


def fail(message: str, code: int) -> None:
    click.echo(f"substitute: {' '.join(message.split())}", err=True)
    sys.exit(code)


if __name__ == "__main__":
    main()


__all__ = ["InputError", "cli", "main"]
