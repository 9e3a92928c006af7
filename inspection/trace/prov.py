"""A trace in the terms of W3C PROV (PROV-O, W3C Recommendation of 30 April 2013), as JSON-LD 1.1.

Every thing is a prov:Entity; one that rests on another is prov:wasDerivedFrom it; a person is a prov:Agent to whom what
they recorded prov:wasAttributedTo. What happened to make it, such as a check or a measurement, is left inside the
entity's own record: it was stored as one thing and is given as one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from uuid import UUID

from inspection.trace.queries import Node

CONTEXT = {
    "prov": "http://www.w3.org/ns/prov#",
    "xsd": "http://www.w3.org/2001/XMLSchema#",
    "rdfs": "http://www.w3.org/2000/01/rdf-schema#",
    "label": "rdfs:label",
    "wasDerivedFrom": {"@id": "prov:wasDerivedFrom", "@type": "@id"},
    "wasAttributedTo": {"@id": "prov:wasAttributedTo", "@type": "@id"},
    "wasRevisionOf": {"@id": "prov:wasRevisionOf", "@type": "@id"},
    "generatedAtTime": {"@id": "prov:generatedAtTime", "@type": "xsd:dateTime"},
    "atLocation": "prov:atLocation",
}
# The columns that say when a thing came to be, who made it, and what it replaces, by the names the records use.
WHEN = ("taken_at", "recorded_at", "issued_at", "entered_at")
WHO = ("taken_by_id", "recorded_by_id", "issued_by_id", "entered_by_id")
READ = (*WHEN, *WHO, "replaces_id")


def document(
    nodes: Sequence[Node], edges: Iterable[tuple[UUID, UUID]], contents: dict[UUID, dict[str, Any]],
    paths: dict[UUID, str], people: dict[str, str],
) -> dict[str, Any]:  # fmt: skip
    """The JSON-LD document. `edges` are (what rests, what it rests on), `paths` where in the bundle each thing lies."""
    below: dict[UUID, list[UUID]] = {}
    for above, under in sorted(edges):
        below.setdefault(above, []).append(under)
    graph = [_entity(node, below.get(node.pk, []), contents[node.pk], paths[node.pk]) for node in nodes]
    agents = [
        {"@id": f"urn:uuid:{pk}", "@type": ["prov:Agent", "prov:Person"], "label": name}
        for pk, name in sorted(people.items(), key=lambda item: item[1])
    ]
    return {"@context": CONTEXT, "@graph": [*graph, *agents]}


def _entity(node: Node, below: Sequence[UUID], content: dict[str, Any], path: str) -> dict[str, Any]:
    entity: dict[str, Any] = {
        "@id": f"urn:uuid:{node.pk}",
        "@type": "prov:Entity",
        "prov:type": node.kind.name,
        "label": node.row.title,
        "atLocation": path,
    }
    for key, names, lead in (("generatedAtTime", WHEN, ""), ("wasAttributedTo", WHO, "urn:uuid:")):
        value = next((content[name] for name in names if content.get(name)), None)
        if value:
            entity[key] = lead + value
    if content.get("replaces_id"):
        entity["wasRevisionOf"] = f"urn:uuid:{content['replaces_id']}"
    if below:
        entity["wasDerivedFrom"] = [f"urn:uuid:{pk}" for pk in below]
    return entity
