"""Reference pages made from the program: commands, JSON, tables, and what is public in every room."""

from __future__ import annotations

import ast
import inspect
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

PACKAGE = Path(__file__).parents[1]
ROOMS = {
    "library": "the front: a method for every question",
    "tables": "files and names",
    "odour": "likeness, strength, time",
    "rules": "limits, cautions, portfolios",
    "standins": "what stands in",
    "accords": "adjust, weigh, rebalance",
    "shelf": "plans, lifts, lessons",
    "book": "what a nose said",
    "answers": "answers laid out, and their JSON",
    "errors": "what can go wrong",
    "records": "what travels between the rooms",
    "figures": "rounding, in one place",
}


def pages() -> dict[str, str]:
    """File name -> Markdown of every page of the reference, the index first."""
    rooms = {name: words for name, words in ROOMS.items() if modules(name)}
    made = {"commands.md": commands(), "json.md": answers(), "tables.md": tables()}
    made |= {f"room-{name}.md": room(name, words) for name, words in rooms.items()}
    return {"index.md": index(rooms), **made}


def index(rooms: Mapping[str, str]) -> str:
    """The first page."""
    lines = ["# Guide", "", "- [Tutorial](tutorial.md)", "- [How to](howto.md)", "- [Models](models.md)", ""]
    lines += ["## Reference", "", "- [Commands](commands.md)", "- [JSON of the answers](json.md)"]
    lines += ["- [Tables](tables.md)", ""]
    lines += [f"- [{name}](room-{name}.md): {words}" for name, words in rooms.items()]
    return "\n".join(lines) + "\n"


def commands() -> str:
    """Every command with its arguments and options, as ``--help`` has them."""
    import click

    from ..cli import cli

    parts = ["# Commands", ""]
    for name, command in cli.commands.items():
        context = click.Context(command, info_name=f"substitute {name}")
        usage = " ".join([context.command_path, *command.collect_usage_pieces(context)])
        parts += [f"## {name}", "", f"`{usage}`", "", inspect.cleandoc(command.help or ""), ""]
        records = [option.get_help_record(context) for option in command.get_params(context)]
        rows = [f"| `{cell(record[0])}` | {cell(record[1])} |" for record in records if record]
        parts += ["| option | what it does |", "|---|---|", *rows, ""]
    return "\n".join(parts)


def answers() -> str:
    """Every key of every answer's JSON, by kind."""
    from ..answers.schema import schema
    from ..answers.shapes import SHAPES

    parts = ["# JSON of the answers", "", "`substitute schema COMMAND` prints each as JSON Schema.", ""]
    for kind in SHAPES:
        found = schema(kind)
        parts += [f"## {kind}", ""]
        for name, record in found["$defs"].items():
            parts += [f"**{name}**: {record.get('description', '')}", "", "| key | type |", "|---|---|"]
            parts += [f"| `{key}` | {cell(kind_of(one))} |" for key, one in record["properties"].items()]
            parts.append("")
    return "\n".join(parts)


def kind_of(part: Mapping[str, Any]) -> str:
    """A JSON Schema's type in a few words."""
    if "$ref" in part:
        return str(part["$ref"]).rsplit("/", 1)[-1]
    if "enum" in part:
        return " or ".join(json.dumps(value) for value in part["enum"])
    if "anyOf" in part:
        return " or ".join(kind_of(one) for one in part["anyOf"])
    if part.get("type") == "array":
        return f"list of {kind_of(part['items'])}"
    return str(part.get("type", "object"))


def tables() -> str:
    """Every table and column, as the data package describes them."""
    from ..tables.load import data_folder

    package = json.loads((data_folder() / "datapackage.json").read_text(encoding="utf-8"))
    parts = ["# Tables", "", package.get("description", ""), ""]
    for resource in package["resources"]:
        parts += [f"## {resource['name']}", "", resource.get("description", ""), ""]
        parts += ["| column | type | what stands in it |", "|---|---|---|"]
        for field in resource.get("schema", {}).get("fields", ()):
            words = cell(field.get("description", ""))
            parts.append(f"| `{field['name']}` | {field.get('type', 'string')} | {words} |")
        parts.append("")
    return "\n".join(parts)


def modules(name: str) -> list[Path]:
    """The modules of a room that have something in them."""
    single = PACKAGE / f"{name}.py"
    if single.exists():
        return [single]
    found = sorted((PACKAGE / name).rglob("*.py")) if (PACKAGE / name).is_dir() else []
    return [path for path in found if path.read_text(encoding="utf-8").strip()]


def room(name: str, words: str) -> str:
    """What is public in a room: module by module, signatures and docstrings."""
    parts = [f"# {name}: {words}", ""]
    for path in modules(name):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        dotted = ".".join(("substitute", *path.relative_to(PACKAGE).with_suffix("").parts))
        parts += [f"## {dotted.removesuffix('.__init__')}", "", prose(ast.get_docstring(tree)), ""]
        for thing in public(tree):  # the front's classes are parts of one, and called by its name
            called = "Library." if name == "library" and isinstance(thing, ast.ClassDef) else ""
            parts += described(thing, called)
    return "\n".join(parts)


def public(tree: ast.Module | ast.ClassDef) -> Iterator[ast.FunctionDef | ast.ClassDef]:
    """Functions and classes whose names do not begin with an underscore."""
    for node in tree.body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            yield node


def described(thing: ast.FunctionDef | ast.ClassDef, inside: str = "") -> list[str]:
    """A function, or a class with its fields and methods, as Markdown; ``inside`` stands before methods."""
    if isinstance(thing, ast.FunctionDef):
        back = f" -> {ast.unparse(thing.returns)}" if thing.returns else ""
        head = f"{inside}{thing.name}({ast.unparse(thing.args)}){back}"
        return [f"### `{head}`", "", prose(ast.get_docstring(thing)), ""]
    parts = [f"### class `{thing.name}`", "", prose(ast.get_docstring(thing)), ""]
    fields = [node for node in thing.body if isinstance(node, ast.AnnAssign)]
    parts += [f"- `{ast.unparse(field.target)}: {ast.unparse(field.annotation)}`" for field in fields]
    parts += [""] if fields else []
    for one in public(thing):
        parts += described(one, inside or f"{thing.name}.")
    return parts


def prose(text: str | None) -> str:
    """A docstring as Markdown: code marks in one pair of backquotes, roles as plain code."""
    import re

    text = re.sub(r":\w+:`~?([^`]*)`", r"`\1`", text or "")
    return text.replace("``", "`")


def cell(text: str) -> str:
    """Text that fits one cell of a Markdown table."""
    return " ".join(str(text).split()).replace("|", "\\|")


__all__ = ["pages"]
