"""An evidence bundle: all that a thing rests on in one signed ZIP, to be read and checked without this platform."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.conf import settings
from django.db.models import QuerySet

from accounts import vault
from accounts.keys import public_pem, signing_key
from accounts.models import Person, StoredFile
from accounts.refusals import Refused
from inspection.trace import prov
from inspection.trace.bundle_pdf import readable
from inspection.trace.kinds import Kind, kind_named
from inspection.trace.queries import Node, edges, ids_below, node_of

MOST_THINGS = 2_000
README = """Evidence bundle of {title}
made {at:%Y-%m-%d %H:%M} UTC by {by} from the records of {company}

evidence.pdf        to read
provenance.jsonld   what rests on what, in the terms of W3C PROV
records/            every record in full, as JSON; thicknesses in nanometres, times in UTC
files/              certificates, uploads and reports as they were stored, named by their SHA-256
SHA256SUMS          the SHA-256 of each of these files
SHA256SUMS.sig      the company's signature over SHA256SUMS (Ed25519, RFC 8032)
public-key.pem      the key to check it with; compare it with the one the company gave you

To check that nothing was altered:

    sha256sum --check SHA256SUMS
    openssl pkeyutl -verify -pubin -inkey public-key.pem -rawin -in SHA256SUMS -sigfile SHA256SUMS.sig
"""


@dataclass
class _Gathered:
    nodes: list[Node] = field(default_factory=list)
    contents: dict[UUID, dict[str, Any]] = field(default_factory=dict)
    paths: dict[UUID, str] = field(default_factory=dict)
    files: dict[str, StoredFile] = field(default_factory=dict)
    facts: list[tuple[str, str]] = field(default_factory=list)
    figures: dict[UUID, list[str]] = field(default_factory=dict)


def bundle(thing: Any, kind: Kind, person: Person, at: datetime) -> bytes:
    """The ZIP of the thing and of all it rests on, as far as the person may see it.

    Raises Refused when that is more than a person can read through, or a stored file is missing or was altered.
    """
    found = _gathered(thing, kind, person)
    links = edges(found.nodes)
    people = _names(found)
    documents: dict[str, bytes] = {found.paths[pk]: _json(content) for pk, content in found.contents.items()}
    documents["provenance.jsonld"] = _json(prov.document(found.nodes, links, found.contents, found.paths, people))
    documents["evidence.pdf"] = readable(found.nodes, found.facts, found.figures, links, by=person, at=at)
    for digest, file in found.files.items():
        documents[f"files/{digest}"] = vault.content_of(file)
    title = f"{kind.one.lower()} {found.nodes[0].row.title}"
    text = README.format(title=title, at=at, by=person.name, company=settings.COMPANY_NAME)
    documents["README.txt"] = text.encode()
    documents["public-key.pem"] = public_pem()
    sums = "".join(f"{hashlib.sha256(data).hexdigest()}  {name}\n" for name, data in sorted(documents.items())).encode()
    documents["SHA256SUMS"] = sums
    documents["SHA256SUMS.sig"] = signing_key().sign(sums)
    return _zipped(documents, at)


def _gathered(thing: Any, kind: Kind, person: Person) -> _Gathered:
    below = ids_below(thing, kind, person, most=MOST_THINGS)
    many = sum(map(len, below.values()))
    if many > MOST_THINGS:
        raise Refused(
            f"More than {MOST_THINGS} things stand under this one; take the bundle of a hold point, a report or a "
            "measurement instead."
        )
    found = _Gathered(facts=kind.facts(thing))
    _add(found, kind, kind.whole(kind.seen(person)).filter(pk=thing.pk))
    for name, ids in below.items():
        other = kind_named(name)
        if other and ids:
            _add(found, other, other.whole(other.seen(person)).filter(pk__in=ids).order_by(other.newest, "-pk"))
    return found


def _add(found: _Gathered, kind: Kind, rows: QuerySet[Any]) -> None:
    for row in rows:
        found.nodes.append(node_of(kind, row))
        found.contents[row.pk] = kind.content(row)
        found.figures[row.pk] = kind.figures(row)
        found.paths[row.pk] = f"records/{kind.name}/{row.pk}.json"
        file = kind.file(row)
        if file:
            found.files[file.digest] = file


def _names(found: _Gathered) -> dict[str, str]:
    """Who recorded the things, by id."""
    ids = {content[name] for content in found.contents.values() for name in prov.WHO if content.get(name)}
    return {str(person.pk): person.name for person in Person.objects.filter(pk__in=ids)}


def _json(content: Any) -> bytes:
    return json.dumps(content, indent=1, ensure_ascii=False, sort_keys=True).encode() + b"\n"


def _zipped(documents: dict[str, bytes], at: datetime) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in sorted(documents.items()):
            entry = zipfile.ZipInfo(name, at.timetuple()[:6])
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            archive.writestr(entry, data)
    return out.getvalue()
