"""What commands share: options, the library of the call, how answers are shown, the meter of a long one."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from ..answers.sections import Answer
    from ..library import Library

FORMATS = click.Choice(["table", "json", "csv"])
BECAUSE = click.Choice(["unavailable", "limit", "law", "price"])
MORE = "Shortened; --why tells the whole."
SHEETS = "Write it to this .html (a page to print), .xlsx, .md or .csv file."
Command = TypeVar("Command", bound=Callable[..., Any])


def library(ctx: click.Context) -> Library:
    """The library of this call, loaded when a command first needs it."""
    if "library" not in ctx.obj:
        from ..library import load
        from ..tables.kept import tell_with

        tell_with(Meter().first)
        ctx.find_root().with_resource(say_readings())
        given = ctx.obj
        ctx.obj["library"] = load(
            given["tables"], evidence=given["evidence"], labels=given["labels"], book=given["book"]
        )
        for trouble in ctx.obj["library"].troubles:
            tell(trouble)
    found: Library = ctx.obj["library"]
    return found


@contextmanager
def say_readings() -> Iterator[None]:
    """Tell on standard error, once a command is done, which material was taken for a short or misspelt
    name."""
    from ..tables.readings import noting

    ended: click.exceptions.Exit | None = None
    with noting() as readings:
        try:
            yield
        except click.exceptions.Exit as done:  # an answer was given, and a limit is broken
            ended = done
    for sentence in readings:
        tell(str(sentence))
    if ended is not None:
        raise ended


def tell(message: str) -> None:
    """One line on standard error; codes for a terminal in a file's or a person's names do nothing there."""
    shown = "".join(sign if sign.isprintable() else " " for sign in message)
    click.echo(f"substitute: {' '.join(shown.split())}", err=True)


# -- options ------------------------------------------------------------------------------------------------


def options(*each: Callable[[Command], Command]) -> Callable[[Command], Command]:
    """Several options as one decorator, in the order given."""

    def wrap(command: Command) -> Command:
        for option in reversed(each):
            command = option(command)
        return command

    return wrap


def formatted(command: Command) -> Command:
    """How the answer is printed; :func:`show` takes what these say out of the command's options."""
    return options(
        click.option(
            "--format",
            "style",
            type=FORMATS,
            default="table",
            show_default=True,
            help="How to print the answer.",
        ),
        click.option("--why", is_flag=True, help="Tell every reason whole."),
        click.option(
            "--raw", is_flag=True, help="CSV for programs: text that looks like a formula is left so."
        ),
    )(command)


def shelf_option(told: str = "Only what stands on this shelf.") -> Callable[[Command], Command]:
    return click.option("--shelf", metavar="F", help=told)


def in_product(
    dose_required: bool = False, *, several: bool = False, dose: bool = True
) -> Callable[[Command], Command]:
    """The options that say what an accord goes into; ``several`` lets product and category be given often."""
    often = "; several times for one line each" if several else ""
    percent = click.option(
        "--dose",
        type=float,
        metavar="P",
        required=dose_required,
        help="Percent of the accord in the finished product.",
    )
    return options(
        *((percent,) if dose else ()),
        click.option(
            "--product",
            metavar="N",
            multiple=several,
            help=f"What it goes into: fine-fragrance, hand-lotion, room-spray, …{often}.",
        ),
        click.option(
            "--category",
            metavar="C",
            multiple=several,
            help=f"Instead of a product, its category, such as 4 or 5A{often}.",
        ),
        click.option(
            "--market",
            metavar="M",
            help="Whose law applies beside the worldwide standards.  [default: EU]",
        ),
    )


judged_by = options(
    click.option(
        "--limits",
        multiple=True,
        metavar="SET",
        help="Judge by this limit set only; may be given several times.",
    ),
    click.option("--on", metavar="DATE", help="The day the rules are asked for.  [default: today]"),
)


def many(flag: str, told: str) -> Callable[[Command], Command]:
    """An option that names a material and may be given several times."""
    return click.option(flag, multiple=True, metavar="M", help=f"{told}; may be given several times.")


force_option = click.option("--force", is_flag=True, help="Write over a file that exists.")


def on_paper(command: Command) -> Command:
    """``--out`` and ``--force`` of an answer that may be written as well, and how it is printed."""
    out = click.option("--out", metavar="F", help=SHEETS)
    return options(out, force_option, formatted)(command)


# -- showing ------------------------------------------------------------------------------------------------


def printing(given: dict[str, Any]) -> dict[str, Any]:
    """What :func:`formatted` added, taken out of a command's options."""
    return {name: given.pop(name) for name in ("style", "why", "raw")}


def show(
    kind: str, answer: Mapping[str, Any], *, style: str = "table", why: bool = False, raw: bool = False
) -> None:
    """Print an answer: laid out for the terminal, as JSON, or its main table as CSV.

    With CSV the cautions go to standard error, so that they are seen and the rows stay rows.
    """
    if style == "json":
        from ..figures import as_known
        from ..tables.lines import told_of_names

        click.echo(
            json.dumps(as_known({**answer, **told_of_names()}), indent=2, ensure_ascii=False, allow_nan=False)
        )
        return
    from ..answers import lay_out

    show_sections(lay_out(kind, answer), style=style, why=why, raw=raw)


def show_sections(answer: Answer, *, style: str = "table", why: bool = False, raw: bool = False) -> None:
    """Print an answer already laid out, for the terminal or as CSV."""
    if style == "csv":
        from ..answers.csv import answer_csv

        click.echo(answer_csv(answer, raw=raw), nl=False)
        say_cautions(answer.cautions)
        return
    from ..answers.terminal import Terminal

    text = Terminal(why=why, colour=True, more=MORE).draw(answer)
    click.echo(text)  # away from a terminal, click takes the colours off


def say_cautions(cautions: tuple[str, ...]) -> None:
    """Cautions on standard error, one a line."""
    for one in cautions:
        click.echo(f"caution: {one}", err=True)


def answered(ctx: click.Context, kind: str, options: dict[str, Any], out: str | None, *, force: bool) -> None:
    """Put a question to the library's method ``kind``, write the answer to the file ``out`` if one is named,
    and print it; for commands that are :func:`on_paper`."""
    how = printing(options)
    answer = getattr(library(ctx), kind)(**options).to_dict()
    if out:
        write(out, kind, answer, force=force)
    show(kind, answer, **how)


def write(path: str, kind: str, answer: Mapping[str, Any], *, force: bool) -> Path:
    """An answer written to a file as its ending says."""
    from ..answers import lay_out
    from ..answers.files import write_answer

    return write_answer(path, lay_out(kind, answer), force=force)


class Meter:
    """How far a long answer is, on one line of standard error; nothing where that is no terminal."""

    def __init__(self) -> None:
        self._shown = sys.stderr.isatty()
        self._width = 0

    def __enter__(self) -> Meter:
        return self

    def __call__(self, done: int, of: int, what: str) -> None:
        counted = what.endswith(("accords", "swaps"))
        self._say(f"{what}: {done} of {of}" if counted else f"{what}: round {done}")

    def share(self, done: float | None, accords: int, broken: int) -> None:
        """Accords so far, and the share of the file that they are."""
        self._say(f"{accords:,} accords, {broken:,} broken{'' if done is None else f', {done:.0%}'}")

    def first(self, what: str) -> None:
        """What is prepared for the first time; nothing: it is done."""
        self._say(f"{what}, once" if what else "")
        if not what:
            self.__exit__()

    def _say(self, text: str) -> None:
        if self._shown:
            click.echo(f"\r{text:{self._width}}", nl=False, err=True)
            self._width = len(text)

    def __exit__(self, *_: object) -> None:
        if self._shown and self._width:
            click.echo(f"\r{' ' * self._width}\r", nl=False, err=True)
