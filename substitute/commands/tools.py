"""Checking a person's own files, and the app."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from .common import force_option, formatted, library, printing, show


@click.command()
@click.argument("files", nargs=-1, required=True)
@click.option(
    "--fix", metavar="OUT", help="Write a corrected copy of the one accord or shelf to this CSV file."
)
@force_option
@formatted
@click.pass_context
def check(ctx: click.Context, /, files: tuple[str, ...], **options: Any) -> None:
    """Everything wrong with your own FILES.

    Tables, accords, shelves, labels, or a folder of them. With --fix, what is certain is put right in a copy,
    and the rest is asked.
    """
    how = printing(options)
    if any((Path(file) / "book.csv").is_file() for file in files):
        ctx.obj["book"] = False  # a book that is to be checked need not be in order
    answer = library(ctx).check(*files, **options).to_dict()
    show("check", answer, **how)
    if answer["complaints"]:
        ctx.exit(2)


@click.command()
@click.argument("kind", metavar="COMMAND")
@click.pass_context
def schema(ctx: click.Context, /, kind: str) -> None:
    """The JSON Schema of what COMMAND answers with --format json."""
    click.echo(json.dumps(library(ctx).schema(kind), indent=2, ensure_ascii=False))


@click.command()
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
def app(ctx: click.Context, /, port: int | None, browser: bool) -> None:
    """Open the app as a page on this machine only; nothing is sent anywhere."""
    from ..screens.settings import run

    options = ctx.obj
    given = {name: options[name] for name in ("tables", "labels", "book", "evidence")}
    ctx.exit(run(port, browser, **given))
