"""The command line: parses, calls the library, shows. Every command is a method of :class:`substitute.Library` of the same name."""

from __future__ import annotations

import json
import os
import sys
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

            raise click.UsageError(f"{error.message.rstrip('.')}{nearest(args[0], self.commands)}; one of {', '.join(self.commands)}") from None


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__)
@click.option("--tables", metavar="FOLDER", help="Your own tables, laid over ours row by row (else SUBSTITUTE_TABLES).")
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
        ctx.obj["library"] = load(ctx.obj["tables"], evidence=ctx.obj["evidence"], labels=ctx.obj["labels"])
    return ctx.obj["library"]


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
        return columns, [[entry.get(column) if not isinstance(entry.get(column), (list, dict)) else json.dumps(entry[column], ensure_ascii=False) for column in columns] for entry in answer[key]]

    return rows


def formatted(command):
    return click.option("--format", "style", type=FORMATS, default="table", show_default=True, help="How to print the answer.")(command)


def in_product(dose_required: bool = False):
    """The options that say what an accord goes into."""
    def wrap(command):
        for option in reversed([
            click.option("--dose", type=float, metavar="P", required=dose_required, help="Percent of the accord in the finished product."),
            click.option("--product", metavar="N", help="What it goes into: fine-fragrance, hand-lotion, room-spray, …"),
            click.option("--category", metavar="C", help="Instead of a product, its category, such as 4 or 5A."),
            click.option("--market", metavar="M", help="Whose law applies beside the worldwide standards.  [default: EU]"),
        ]):
            command = option(command)
        return command

    return wrap


@cli.command()
@click.argument("material")
@click.option("--because", type=BECAUSE, default="unavailable", show_default=True, help="Why it is gone.")
@click.option("--shelf", metavar="F", help="Only what stands on this shelf.")
@click.option("--blend", type=int, default=1, metavar="K", show_default=True, help="Try blends of K materials too.")
@click.option("--accord", metavar="F", help="The accord it is missing from.")
@in_product()
@click.option("--top", type=int, default=5, metavar="N", show_default=True, help="How many answers.")
@formatted
@click.pass_context
def swap(ctx, style, **options):
    """What stands in for MATERIAL (id, name, synonym, label or CAS number), and how much of it."""
    from .text import swap_text

    def rows(answer):
        columns = ("rank", "materials", "grams_per_gram", "low", "high", "score", "similarity", "evidence", "reasons")
        return columns, [
            (s["rank"], " + ".join(m["id"] for m in s["materials"]), *(" + ".join(f"{m[k]:.4g}" if m[k] is not None else "" for m in s["materials"]) for k in columns[2:5]),
             s["score"], s["similarity"], s["evidence"], "; ".join(s["reasons"])) for s in answer["stand_ins"]]

    show(library(ctx).swap(**options).to_dict(), style, swap_text, rows)


@cli.command()
@click.argument("name")
@click.option("--to", metavar="NAME", help="Show the path to this one.")
@click.option("--top", type=int, default=10, metavar="N", show_default=True, help="How many neighbours.")
@formatted
@click.pass_context
def neighbours(ctx, style, **options):
    """What lies near NAME: a material, a descriptor such as mossy, or a constituent."""
    from .text import neighbours_text

    show(library(ctx).neighbours(**options).to_dict(), style, neighbours_text, columns_of("neighbours", "id", "name", "cas", "similarity", "shared"))


@cli.command()
@click.argument("accord")
@click.option("--without", multiple=True, metavar="M", help="A material that is missing; may be given several times.")
@click.option("--because", type=BECAUSE, default="unavailable", show_default=True, help="Why it is gone.")
@click.option("--shelf", metavar="F", help="Only what stands on this shelf.")
@in_product()
@click.option("--limits", multiple=True, metavar="SET", help="Judge by this limit set only; may be given several times.")
@click.option("--max-new", type=int, metavar="N", help="At most this many new materials.  [default: one per gap, at least 2]")
@click.option("--on", metavar="DATE", help="The day the rules are asked for.  [default: today]")
@click.option("--out", metavar="F", help="Write the new accord to this CSV file.")
@click.option("--force", is_flag=True, help="Write over a file that exists.")
@formatted
@click.pass_context
def adjust(ctx, style, out, force, **options):
    """The ACCORD (a CSV or XLSX file), swapped and rescaled to match."""
    from .text import adjust_text

    found = library(ctx).adjust(**options)
    if out and found.legal:
        from .tables.files import write_whole
        from .tables.formulas import write_accord

        write_whole(out, write_accord(found.formula()), force=force)
    show(found.to_dict(), style, adjust_text, columns_of("lines", "id", "name", "cas", "strength_pct", "parts_before", "parts_after", "why"))
    if not found.legal:
        raise NothingLegal("nothing legal was found at this dose; nothing was written")


@cli.command()
@click.argument("accord")
@in_product(dose_required=True)
@click.option("--limits", multiple=True, metavar="SET", help="Judge by this limit set only; may be given several times.")
@click.option("--on", metavar="DATE", help="The day the rules are asked for.  [default: today]")
@formatted
@click.pass_context
def limits(ctx, style, **options):
    """Where the ACCORD stands in a product: limits, highest dose, declarations, controls."""
    from .text import limits_text

    answer = library(ctx).limits(**options).to_dict()
    show(answer, style, limits_text, columns_of("limits", "substance", "limit_set", "limit_pct", "found_pct", "typical_pct", "headroom_pct", "ok", "basis", "rule", "note"))
    if any(row["ok"] is False for row in answer["limits"]):
        ctx.exit(1)


@cli.command()
@click.argument("accord")
@click.option("--grams", type=float, required=True, metavar="G", help="How much to make.")
@click.option("--balance", type=float, default=0.01, show_default=True, metavar="STEP", help="The balance's step in grams.")
@click.option("--shelf", metavar="F", help="Weigh from this shelf's own solutions.")
@click.option("--out", metavar="F", help="Write the sheets to this .html, .xlsx or .csv file.")
@click.option("--force", is_flag=True, help="Write over a file that exists.")
@formatted
@click.pass_context
def weigh(ctx, style, out, force, **options):
    """A weighing sheet of the ACCORD in solutions, and a strip sheet."""
    from .text import weigh_text

    found = library(ctx).weigh(**options)
    if out:
        from .accords.sheets import weighing_sheets, write_sheets

        write_sheets(out, f"Weighing: {Path(options['accord']).stem}", weighing_sheets(found), found.cautions, force=force)
    show(found.to_dict(), style, weigh_text, columns_of("lines", "order", "id", "name", "cas", "strength_pct", "grams", "error_pct"))


@cli.command()
@click.argument("accord")
@click.option("--too-strong", multiple=True, metavar="M", help="A line that is too strong; may be given several times.")
@click.option("--too-weak", multiple=True, metavar="M", help="A line that is too weak; may be given several times.")
@click.option("--right", multiple=True, metavar="M", help="A line that is right and keeps its amount.")
@click.option("--grams", type=float, metavar="G", help="How much you weigh, to warn where the balance cannot follow.")
@click.option("--balance", type=float, metavar="STEP", help="The balance's step in grams.")
@in_product()
@click.option("--save", is_flag=True, help="Keep the trial beside the accord as its next NAME.trial-N.csv.")
@click.option("--history", is_flag=True, help="Show the trials so far and end.")
@formatted
@click.pass_context
def rebalance(ctx, style, accord, save, history, **options):
    """The next trial of the ACCORD after smelling it, bracketed by the earlier ones."""
    from .accords.trials import history_table, next_trial_path, read_history, save_trial
    from .text import rebalance_text

    found = library(ctx)
    if history:
        from .accords.sheets import to_csv, to_markdown

        sheet = history_table(read_history(Path(accord), found.names), found.tables)
        click.echo(to_csv(sheet) if style == "csv" else to_markdown([sheet]))
        return
    trial = found.rebalance(accord, **options)
    saved = save_trial(trial, next_trial_path(Path(accord))) if save else None
    show(trial.to_dict(), style, rebalance_text, columns_of("lines", "id", "name", "cas", "strength_pct", "parts_before", "parts_after", "verdict", "why"))
    if saved and style == "table":
        click.echo(f"\nKept as {saved}")


@cli.command("show")
@click.argument("material")
@formatted
@click.pass_context
def show_material(ctx, style, material):
    """A MATERIAL's card: what it smells of, how strong, what is in it, rules, what replaces it."""
    from .text import card_text

    show(library(ctx).show(material).to_dict(), style, card_text, columns_of("figures", "property", "value", "at", "basis", "source"))


@cli.command()
@click.argument("files", nargs=-1, required=True)
@formatted
@click.pass_context
def check(ctx, style, files):
    """Check your own FILES: tables, accords, shelves, labels, or a folder of tables."""
    answer = library(ctx).check(*files).to_dict()
    show(answer, style, lambda found: "\n".join(found["lines"]), columns_of("complaints", "file", "row", "column", "message"))
    if answer["complaints"]:
        ctx.exit(2)


@cli.command()
@click.option("--port", type=click.IntRange(1, 65535), metavar="N", help="The port of the page.  [default: 8501, or the next that is free]")
@click.option("--browser/--no-browser", default=True, help="Open a browser window on it.  [default: yes, where there is a screen]")
@click.pass_context
def app(ctx, port, browser):
    """Open the app as a page on this machine only; nothing is sent anywhere."""
    from .screens.settings import run

    options = ctx.obj
    ctx.exit(run(port, browser, tables=options["tables"], labels=options["labels"], evidence=options["evidence"]))


def main(args=None) -> None:
    """Entry point: exit codes 0 done, 1 a limit is broken or nothing legal, 2 the input is at fault, 3 anything else."""
    try:
        code = cli.main(args, prog_name="substitute", standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except click.exceptions.Exit as done:
        sys.exit(done.exit_code)
    except click.Abort:
        fail("stopped", 3)
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
