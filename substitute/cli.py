"""The command line: parses, calls the library, shows. A command is a method of :class:`substitute.Library` of
the same name."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

import click

from . import __version__
from .commands import COMMANDS, LateCommands
from .errors import SubstituteError, TableError

MOST_COMPLAINTS = 60  # lines of standard error for one file


class Commands(click.Group):
    """Commands in the order of the work, imported when called; one message for every fault of the input."""

    def __init__(self, **about: Any) -> None:
        super().__init__(**{**about, "commands": LateCommands()})

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        return list(self.commands)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        width = formatter.width - 6 - max(map(len, COMMANDS))
        rows = [
            (name, click.Command(name, help=line).get_short_help_str(width))
            for name, (_, line) in COMMANDS.items()
        ]
        with formatter.section("Commands"):
            formatter.write_dl(rows)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            from .tables.near import nearest

            hint = nearest(args[0], self.commands)
            told = f"{error.message.rstrip('.')}{hint}; one of {', '.join(self.commands)}"
            raise click.UsageError(told) from None


FLAG = re.compile(r"`([a-z_]+)`")


def spoken(message: str) -> str:
    """A message of the library as the command line says it: its arguments, in backquotes, are flags here."""
    return FLAG.sub(lambda found: "--" + found[1].replace("_", "-"), message)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__)
@click.option(
    "--tables", metavar="FOLDER", help="Your own tables, laid over ours row by row (else SUBSTITUTE_TABLES)."
)
@click.option("--labels", metavar="FILE", help="Your bottles' labels: a CSV with label and cas.")
@click.option(
    "--book",
    metavar="FOLDER",
    help="Your bench book (else SUBSTITUTE_BOOK): bottles, accords, and what your nose said.",
)
@click.option("--no-evidence", is_flag=True, help="Leave the documented swaps out of the ranking.")
@click.pass_context
def cli(
    ctx: click.Context, tables: str | None, labels: str | None, book: str | None, no_evidence: bool
) -> None:
    """What stands in for a perfumery material that is gone, how much of it, what changes, and what to
    weigh."""
    if os.environ.get("NO_COLOR"):
        ctx.color = False
    ctx.obj = {"tables": tables, "labels": labels, "book": book, "evidence": not no_evidence}


def main(args: Sequence[str] | None = None) -> NoReturn:
    """Entry point.

    Exit codes: 0 done, 1 a limit is broken or nothing within the known limits exists, 2 the input is at
    fault, 3 anything else.
    """
    try:
        sys.exit(answer(args))
    except TableError as error:
        from .commands.common import tell

        for complaint in error.complaints[:MOST_COMPLAINTS]:
            tell(spoken(str(complaint)))
        if len(error.complaints) > MOST_COMPLAINTS:
            tell(f"and {len(error.complaints) - MOST_COMPLAINTS:,} more")
        sys.exit(error.exit_code)
    except SubstituteError as error:
        fail(spoken(str(error)), error.exit_code)
    except RecursionError:
        fail("the input is nested too deeply", 2)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except (OSError, MemoryError) as error:
        fail(f"the machine refused: {error}", 3)
    except Exception as error:  # a bug of ours; 1 would say that a limit is broken
        if os.environ.get("SUBSTITUTE_DEBUG"):
            raise
        told = f"a fault of the program ({type(error).__name__}: {error})"
        fail(f"{told}; set SUBSTITUTE_DEBUG=1 to see where", 3)


def answer(args: Sequence[str] | None) -> int:
    """Run the command and return the code to end with; what click complains of is told here."""
    try:
        code = cli.main(args, prog_name="substitute", standalone_mode=False)
        return code if isinstance(code, int) else 0
    except click.exceptions.Exit as done:
        return done.exit_code
    except click.Abort:
        fail("stopped", 3)
    except click.exceptions.NoArgsIsHelpError as error:  # a bare call asks what there is
        click.echo(error.ctx.get_help() if error.ctx else "")
        return 0
    except click.ClickException as error:
        fail(error.format_message(), 2)


def fail(message: str, code: int) -> NoReturn:
    """End with one line on standard error."""
    from .commands.common import tell

    tell(message)
    sys.exit(code)


if __name__ == "__main__":
    main()


__all__ = ["cli", "main"]
