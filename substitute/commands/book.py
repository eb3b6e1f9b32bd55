"""The bench book: begun, shown, found in, what the nose said, what was weighed."""

from __future__ import annotations

from typing import Any

import click

from .common import formatted, library, many, printing, show


@click.group()
def book() -> None:
    """Your own folder: bottles, accords with their trials, and what your nose said.

    Named with --book before any command, or once in SUBSTITUTE_BOOK; then every command uses it.
    """


@book.command("new")
@click.argument("folder")
@click.option(
    "--name", default="", metavar="TEXT", help="What the book is called.  [default: the folder's name]"
)
@click.option("--shelf", metavar="F", help="Begin with the bottles of this shelf.")
@click.option("--accords", metavar="FOLDER", help="Take the accords of this folder in, with their trials.")
@click.pass_context
def new(ctx: click.Context, /, folder: str, name: str, shelf: str | None, accords: str | None) -> None:
    """Begin a book in the new or empty FOLDER."""
    ctx.obj["book"] = False
    begun = library(ctx).book_new(folder, name=name, shelf=shelf, accords=accords)
    click.echo(
        f"{begun.folder}: begun, with {len(begun.accord_names())} accords. "
        "Put it in SUBSTITUTE_BOOK, or name it with --book, and every command uses it."
    )


@book.command("show")
@formatted
@click.pass_context
def shown(ctx: click.Context, /, **options: Any) -> None:
    """What was learned from what, what was said, what stands in it."""
    how = printing(options)
    show("book", library(ctx).book_show().to_dict(), **how)


@book.command()
@click.argument("number", type=click.IntRange(1))
@formatted
@click.pass_context
def forget(ctx: click.Context, /, number: int, **options: Any) -> None:
    """Take verdict NUMBER back: it stays readable in the book and counts no more."""
    how = printing(options)
    show("tried", library(ctx).book_forget(number).to_dict(), **how)


@book.command()
@formatted
@click.pass_context
def undo(ctx: click.Context, /, **options: Any) -> None:
    """Put back what the last weighing took from the bottles."""
    how = printing(options)
    show("taken", library(ctx).book_undo().to_dict(), **how)


@book.command()
@click.argument("files", nargs=-1, required=True)
@click.pass_context
def add(ctx: click.Context, /, files: tuple[str, ...]) -> None:
    """Take accords (FILES, each with its trials) into the book."""
    for path in library(ctx).book_add(*files):
        click.echo(f"taken in as {path}")


@book.command()
@click.argument("text", nargs=-1, required=True)
@formatted
@click.pass_context
def find(ctx: click.Context, /, text: tuple[str, ...], **options: Any) -> None:
    """Find accords and trials by what was said of them, by name or by material."""
    how = printing(options)
    show("found", library(ctx).book_find(" ".join(text)).to_dict(), **how)


@book.command()
@click.argument("accords", nargs=-1, required=True)
@click.option("--grams", type=float, default=10.0, show_default=True, metavar="G", help="Of each accord.")
@click.option("--shelf", metavar="F", help="With this shelf's prices.")
@formatted
@click.pass_context
def cost(
    ctx: click.Context, /, accords: tuple[str, ...], grams: float, shelf: str | None, **options: Any
) -> None:
    """What ACCORDS (files, names in the book, or a folder) cost; a missing price makes a range."""
    how = printing(options)
    show("cost", library(ctx).cost(*accords, grams=grams, shelf=shelf).to_dict(), **how)


@click.command()
@click.argument("what")
@click.option("--for", "instead_of", metavar="M", help="WHAT was tried in the place of this material.")
@click.option("--near", "nearness", flag_value="near", help="It was near.")
@click.option("--fair", "nearness", flag_value="fair", help="It was fairly near.")
@click.option("--far", "nearness", flag_value="far", help="It was far from it.")
@click.option("--not-smelled", "nearness", flag_value="not_smelled", help="You hardly smell it.")
@click.option("--used", type=float, metavar="G", help="Grams tried, for 1 g of the missing one.")
@click.option(
    "--was",
    "amount",
    type=click.Choice(["too_strong", "right", "too_weak"]),
    help="What that amount was.",
)
@click.option(
    "--degree",
    type=click.Choice(["slightly", "clearly", "far"]),
    default=None,
    help="How much too strong or weak.",
)
@click.option("--needs", type=float, metavar="G", help="Grams that were right, for 1 g of the missing one.")
@many("--too-strong", "A line of the accord that is too strong, with its degree as M:far or M:slightly")
@many("--too-weak", "A line that is too weak")
@many("--right", "A line that is right")
@click.option(
    "--trial", type=click.IntRange(1), metavar="N", help="Which trial was smelled.  [default: the newest]"
)
@click.option(
    "--says", "words", default="", metavar="TEXT", help="Your own words; what is plain in them is read."
)
@click.option("--on", default="", metavar="DATE", help="The day it was smelled.  [default: today]")
@click.option("--elsewhere", is_flag=True, help="It was smelled away from your own bottles.")
@formatted
@click.pass_context
def tried(ctx: click.Context, /, what: str, degree: str | None, **options: Any) -> None:
    """What the nose said of WHAT: a stand-in (with --for), or an accord of the book or its trial.

    A blend is named with the grams of each for 1 g of what it stands for: "linalool:0.6 + geraniol:0.2".

    For example: tried rosewood-oil --for linalool --says "near; 1 g was too much, half was right; sweet"
    """
    how = printing(options)
    nearness = options.pop("nearness") or ""
    amount = options.pop("amount") or ""
    found = library(ctx).tried(what, nearness=nearness, amount=amount, degree=degree or "", **options)
    show("tried", found.to_dict(), **how)
