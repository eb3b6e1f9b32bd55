"""Questions about one material: what stands in for it, what lies near it, its card."""

from __future__ import annotations

from typing import Any

import click

from .common import BECAUSE, formatted, in_product, library, printing, shelf_option, show


@click.command()
@click.argument("material")
@click.option("--because", type=BECAUSE, default="unavailable", show_default=True, help="Why it is gone.")
@shelf_option()
@click.option(
    "--blend", type=int, default=1, metavar="K", show_default=True, help="Try blends of K materials too."
)
@click.option("--accord", metavar="F", help="The accord it is missing from.")
@in_product()
@click.option("--top", type=int, default=5, metavar="N", show_default=True, help="How many answers.")
@formatted
@click.pass_context
def swap(ctx: click.Context, /, **options: Any) -> None:
    """What stands in for MATERIAL, and how much of it.

    MATERIAL is an id, a name, a synonym, a label of yours or a CAS number.
    """
    how = printing(options)
    show("swap", library(ctx).swap(**options).to_dict(), **how)


@click.command()
@click.argument("name")
@click.option("--to", metavar="NAME", help="Show the path to this one.")
@click.option("--top", type=int, default=10, metavar="N", show_default=True, help="How many neighbours.")
@formatted
@click.pass_context
def neighbours(ctx: click.Context, /, **options: Any) -> None:
    """What lies near NAME, and a path to another.

    NAME is a material, a descriptor such as mossy, or a constituent.
    """
    how = printing(options)
    show("neighbours", library(ctx).neighbours(**options).to_dict(), **how)


@click.command("show")
@click.argument("material")
@formatted
@click.pass_context
def card(ctx: click.Context, /, material: str, **options: Any) -> None:
    """A MATERIAL's card.

    What it smells of, how long, what is in it or who holds it, rules, cautions, and what replaces it.
    """
    show("show", library(ctx).show(material).to_dict(), **printing(options))
