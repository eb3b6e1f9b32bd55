"""The typed graph: materials, descriptors (a tree) and constituents, edges declared as small records.

The networkx graph is built from that list in one function, on demand; nothing else in the package draws
edges.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ..frozen import frozen
from ..records import Tables
from .staging import natural_mix


@frozen
class Edge:
    """A relation with its strength, 0 to 1; nodes are (kind, id)."""

    start: tuple[str, str]
    end: tuple[str, str]
    relation: str
    weight: float


def material_node(tables: Tables, name: str) -> tuple[str, str]:
    """The node of a material: a constituent that nobody weighs is a node of its own kind."""
    return ("material" if tables.materials[name].stocked else "constituent", name)


def edges(tables: Tables) -> Iterator[Edge]:
    """Every relation of the tables: smells of, kind of (tree), contains, releases."""
    for name, profile in tables.profiles.items():
        top = max(profile.values())
        for word, weight in profile.items():
            yield Edge(material_node(tables, name), ("descriptor", word), "smells of", weight / top)
    for descriptor in tables.descriptors.values():
        if descriptor.parent:
            ends = ("descriptor", descriptor.id), ("descriptor", descriptor.parent)
            yield Edge(*ends, "kind of", 0.5)
    for natural in tables.constituents:
        shares = natural_mix(tables, natural).odour_shares()
        for part in tables.constituents[natural]:
            yield Edge(
                material_node(tables, natural),
                material_node(tables, part.id),
                "contains",
                max(shares.get(part.id, 0.0), part.typical / 100.0, 0.01),
            )
    for name, releases in tables.releases.items():
        for release in releases:
            yield Edge(
                material_node(tables, name),
                material_node(tables, release.id),
                "releases",
                max(release.share / 100.0, 0.01),
            )


def build_graph(tables: Tables) -> Any:
    """An undirected ``networkx.Graph``; edges carry ``relation``, ``weight`` (nearness) and ``length`` (1 /
    weight).
    """
    import networkx

    graph = networkx.Graph()
    for name in tables.materials:
        graph.add_node(material_node(tables, name), label=tables.materials[name].name)
    for word in tables.descriptors.values():
        graph.add_node(("descriptor", word.id), label=word.name, parent=word.parent)
    for edge in edges(tables):
        graph.add_edge(
            edge.start, edge.end, relation=edge.relation, weight=edge.weight, length=1.0 / edge.weight
        )
    return graph


def path_between(
    graph: Any, start: tuple[str, str], end: tuple[str, str]
) -> list[tuple[tuple[str, str], str]]:
    """The shortest path by ``length`` as (node, relation to the next); empty if there is none.

    Families of descriptors are not walked through: everything meets in 'sweet', which says nothing.
    """
    import networkx

    families = {
        node for node, data in graph.nodes(data=True) if node[0] == "descriptor" and not data["parent"]
    }
    view = networkx.subgraph_view(
        graph, filter_node=lambda node: node in (start, end) or node not in families
    )
    try:
        nodes = networkx.shortest_path(view, start, end, weight="length")
    except networkx.NetworkXNoPath:
        return []
    return [
        (node, graph.edges[node, nodes[i + 1]]["relation"] if i + 1 < len(nodes) else "")
        for i, node in enumerate(nodes)
    ]
