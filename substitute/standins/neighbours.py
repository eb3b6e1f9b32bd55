"""What lies near a material, a descriptor or a constituent, and the path between any two."""

from __future__ import annotations

from dataclasses import field
from typing import Any, ClassVar

import numpy as np

from ..errors import InputError, NotFound
from ..figures import given
from ..frozen import frozen
from ..odour.graph import build_graph, material_node, path_between
from ..odour.space import Space
from ..records import Tables
from ..shown import Shown
from ..tables.names import Names, plain


@frozen
class Near:
    """A neighbour: how near, and what is shared in words."""

    id: str
    similarity: float
    shared: tuple[str, ...]


@frozen
class Step:
    """A node on a path: its kind and id, and what ties it to the next."""

    kind: str
    id: str
    name: str
    shared: str


@frozen
class Neighbourhood(Shown):
    """All that ``neighbours`` answers."""

    asked_by: ClassVar[str] = "neighbours"

    kind: str
    id: str
    name: str
    near: tuple[Near, ...]
    path: tuple[Step, ...]
    tables: Tables = field(repr=False)

    def to_dict(self) -> dict[str, Any]:
        return {
            "of": {"id": self.id, "name": self.name, "kind": self.kind},
            "neighbours": [
                {**self.tables.materials[n.id].brief(), "similarity": n.similarity, "shared": list(n.shared)}
                for n in self.near
            ],
            "path": [
                {"id": step.id, "kind": step.kind, "name": step.name, "shared": step.shared}
                for step in self.path
            ],
        }


def find_node(tables: Tables, names: Names, text: str) -> tuple[str, str]:
    """(kind, id) of a material, constituent or descriptor; a descriptor's own word comes first."""
    key = plain(str(text))
    for word in tables.descriptors.values():
        if key in (plain(word.id), plain(word.name)):
            return "descriptor", word.id
    try:
        return material_node(tables, names.find(text).id)
    except NotFound as error:
        near = (
            [word.name for word in tables.descriptors.values() if plain(word.name).startswith(key[:4])][:2]
            if key
            else []
        )
        hint = f"; descriptors like it: {', '.join(near)}" if near else ""
        raise NotFound(f"{error}{hint}", (*error.suggestions, *near)) from None


def shared_words(tables: Tables, one: str, other: str, top: int = 4) -> tuple[str, ...]:
    """Descriptors both smell of, strongest first, and constituents both hold."""
    first, second = tables.profiles.get(one, {}), tables.profiles.get(other, {})
    both = sorted(first.keys() & second.keys(), key=lambda word: (-min(first[word], second[word]), word))
    found = [tables.descriptors[word].name for word in both[:top]]
    inside = {row.id for row in tables.constituents.get(one, ())} | {one}
    common = inside & ({row.id for row in tables.constituents.get(other, ())} | {other})
    share = {
        row.id: row.typical
        for row in (*tables.constituents.get(one, ()), *tables.constituents.get(other, ()))
    }
    found += [
        tables.materials[name].name
        for name in sorted(common, key=lambda name: (-share.get(name, 0), name))
        if share.get(name, 0) >= 1
    ][:2]
    return tuple(found)


def neighbours(
    tables: Tables, space: Space, names: Names, text: str, *, to: str | None = None, top: int = 10
) -> Neighbourhood:
    """The ``top`` materials nearest to what ``text`` names, and the path to ``to``."""
    kind, node = find_node(tables, names, text)
    if kind == "descriptor":
        title = tables.descriptors[node].name
        own = tables.profiles
        closeness = space.nearest_to(space.word_vector(node))
        shared = {
            name: ((f"{title} {own[name][node]:g} of 10",) if node in own[name] else ("related words",))
            for name in space.ids
        }
    else:
        title = tables.materials[node].name
        if node not in space.row and node not in _held(tables):
            raise InputError(
                f"{node}: has no odour profile on file, so nothing lies near it; "
                "give it rows in your own profiles.csv"
            )
        closeness = space.like(node).copy() if node in space.row else np.zeros(len(space.ids))
        shared = None
    near = []
    if kind == "constituent":
        near = _holders(tables, space, node, closeness)
    for row in np.argsort(-closeness, kind="stable"):
        name = space.ids[row]
        if len(near) >= top or closeness[row] <= 0:
            break
        if name == node or not tables.materials[name].stocked or any(n.id == name for n in near):
            continue
        near.append(
            Near(name, float(closeness[row]), shared[name] if shared else shared_words(tables, node, name))
        )
    path = _path(tables, names, (kind, node), to) if to else ()
    return Neighbourhood(kind, node, title, tuple(near[:top]), path, tables)


def _held(tables: Tables) -> set[str]:
    return {row.id for rows in tables.constituents.values() for row in rows}


def _holders(tables: Tables, space: Space, part: str, closeness: np.ndarray) -> list[Near]:
    """Naturals that hold a constituent, richest first."""
    found = [
        (row.typical, natural)
        for natural, rows in tables.constituents.items()
        for row in rows
        if row.id == part
    ]
    return [
        Near(
            natural,
            float(closeness[space.row[natural]]) if natural in space.row else 0.0,
            (f"holds {given(share)}",),
        )
        for share, natural in sorted(found, reverse=True)[:5]
        if tables.materials[natural].stocked
    ]


def _path(tables: Tables, names: Names, start: tuple[str, str], to: str) -> tuple[Step, ...]:
    graph = build_graph(tables)
    steps = path_between(graph, start, find_node(tables, names, to))
    return tuple(Step(node[0], node[1], graph.nodes[node]["label"], shared) for node, shared in steps)
