"""An evidence bundle: all that a thing rests on in one signed ZIP, to be read and checked without this platform."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from contextlib import closing
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from accounts import vault
from accounts.keys import public_pem, signing_key
from accounts.models import Person, StoredFile
from accounts.queries import company_name
from inspection.foundation.refusals import Refused
from inspection.photos.shown import shown_of
from inspection.trace import prov
from inspection.trace.bundle_chain import chains_in, in_words
from inspection.trace.bundle_pdf import readable
from inspection.trace.bundle_photos import photos_under, told
from inspection.trace.kinds import Kind, kind_named
from inspection.trace.queries import Node, edges, node_of
from inspection.trace.sight import keep_to, project_of
from inspection.trace.weighing import Weight, weighed

README = """Evidence bundle of {title}
made {at:%Y-%m-%d %H:%M} UTC by {by} from the records of {company}

evidence.pdf        to read
provenance.jsonld   what rests on what, in the terms of W3C PROV
records/            every record in full, as JSON; thicknesses in nanometres, times in UTC
files/              certificates, uploads and reports as they were stored, named by their SHA-256
chains.json         where there are hold points or lots: what had to come before each, and whether it did
photos/             where there are any: as they are shown, without camera data; photos.json says what is known of each
SHA256SUMS          the SHA-256 of each of these files
SHA256SUMS.sig      the company's signature over SHA256SUMS (Ed25519, RFC 8032)
public-key.pem      the key to check it with; compare it with the one the company gave you

A check of a gauge that was made for another project, and that a record here rests on, is told with all its figures, but
without that project and what was noted for it.

To check that nothing was altered:

    sha256sum --check SHA256SUMS
    openssl pkeyutl -verify -pubin -inkey public-key.pem -rawin -in SHA256SUMS -sigfile SHA256SUMS.sig
"""


@dataclass
class _Gathered:
    """What the PDF and the provenance tell of each thing; its full content is in the archive by then."""

    nodes: list[Node] = field(default_factory=list)
    made: dict[UUID, dict[str, Any]] = field(default_factory=dict)
    paths: dict[UUID, str] = field(default_factory=dict)
    files: dict[str, StoredFile] = field(default_factory=dict)
    facts: list[tuple[str, str]] = field(default_factory=list)
    figures: dict[UUID, list[str]] = field(default_factory=dict)

    def of_kind(self, name: str) -> list[UUID]:
        return [node.pk for node in self.nodes if node.kind.name == name]


class _Archive:
    """A ZIP that is written one document at a time and knows the SHA-256 of each."""

    def __init__(self, at: datetime) -> None:
        self.out, self.at = io.BytesIO(), at
        self.zip = zipfile.ZipFile(self.out, "w", zipfile.ZIP_DEFLATED)
        self.sums: dict[str, str] = {}

    def add(self, name: str, data: bytes, *, summed: bool = True) -> None:
        entry = zipfile.ZipInfo(name, self.at.timetuple()[:6])
        entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
        self.zip.writestr(entry, data)
        if summed:
            self.sums[name] = hashlib.sha256(data).hexdigest()

    def signed(self) -> bytes:
        """The archive's bytes, with the sums of what was added and the signature over them."""
        sums = "".join(f"{digest}  {name}\n" for name, digest in sorted(self.sums.items())).encode()
        self.add("SHA256SUMS", sums, summed=False)
        self.add("SHA256SUMS.sig", signing_key().sign(sums), summed=False)
        self.close()
        return self.out.getvalue()

    def close(self) -> None:
        self.zip.close()


def bundle(thing: Any, kind: Kind, person: Person, at: datetime) -> bytes:
    """The ZIP of the thing and of all it rests on, as far as the person may see it.

    Raises Refused when that is more than a bundle holds (see `weighing`), or a stored file is missing or was altered.
    """
    weight = weighed(thing, kind, person)
    if weight.too_much:
        raise Refused(weight.too_much)
    with closing(_Archive(at)) as archive:
        _fill(archive, thing, kind, person, weight)
        return archive.signed()


def _fill(archive: _Archive, thing: Any, kind: Kind, person: Person, weight: Weight) -> None:
    found = _gathered(archive, thing, kind, person, weight)
    links = edges(found.nodes)
    archive.add("provenance.jsonld", _json(prov.document(found.nodes, links, found.made, found.paths, _names(found))))
    company = company_name()
    chains = chains_in(person, found.of_kind("holdpoint"), found.of_kind("lot"))
    if chains:
        archive.add("chains.json", _json(chains))
        found.facts += in_words(chains, thing.pk)
    readable_part = readable(found.nodes, found.facts, found.figures, links, company=company, by=person, at=archive.at)
    archive.add("evidence.pdf", readable_part)
    for digest, file in sorted(found.files.items()):
        archive.add(f"files/{digest}", vault.content_of(file))
    _add_photos(archive, found, person, project_of(thing))
    title = f"{kind.one.lower()} {found.nodes[0].row.title}"
    text = README.format(title=title, at=archive.at, by=person.name, company=company)
    archive.add("README.txt", text.encode())
    archive.add("public-key.pem", public_pem())


def _add_photos(archive: _Archive, found: _Gathered, person: Person, home: UUID | None) -> None:
    photos = list(photos_under(person, list(found.paths), home))
    for photo in photos:
        archive.add(f"photos/{photo.pk}.jpg", shown_of(photo, "page"))
    if photos:
        archive.add("photos/photos.json", _json({"photos": told(photos)}))


def _gathered(archive: _Archive, thing: Any, kind: Kind, person: Person, weight: Weight) -> _Gathered:
    """Every thing's record into the archive, the thing itself first; what the other parts need of it is kept."""
    found, home = _Gathered(facts=kind.facts(thing)), project_of(thing)
    _add(found, archive, kind, [thing.pk], person, weight, home)
    for name, ids in weight.ids.items():
        other = kind_named(name)
        if other:
            _add(found, archive, other, ids, person, weight, home)
    return found


def _add(
    found: _Gathered, archive: _Archive, kind: Kind, ids: list[UUID], person: Person, weight: Weight,
    home: UUID | None,
) -> None:  # fmt: skip
    for batch in weight.batches(ids):
        rows = kind.whole(kind.seen(person)).filter(pk__in=batch).order_by(kind.newest, "-pk")
        for row in keep_to(home, rows):
            content, path = kind.content(row), f"records/{kind.name}/{row.pk}.json"
            archive.add(path, _json(content))
            found.nodes.append(node_of(kind, row))
            found.made[row.pk] = {name: content[name] for name in prov.READ if name in content}
            found.figures[row.pk] = kind.figures(row)
            found.paths[row.pk] = path
            file = kind.file(row)
            if file:
                found.files[file.digest] = file


def _names(found: _Gathered) -> dict[str, str]:
    """Who recorded the things, by id."""
    ids = {made[name] for made in found.made.values() for name in prov.WHO if made.get(name)}
    return {str(person.pk): person.name for person in Person.objects.filter(pk__in=ids)}


def _json(content: dict[str, Any]) -> bytes:
    """As JSON with a line for each part, and for each item of a list: to be read, and quickly written at any length."""
    return (
        "{\n" + ",\n".join(f"{_line(name)}: {_part(part)}" for name, part in sorted(content.items())) + "\n}\n"
    ).encode()


def _part(part: Any) -> str:
    return "[\n" + ",\n".join(map(_line, part)) + "\n]" if isinstance(part, list) and part else _line(part)


def _line(part: Any) -> str:
    return json.dumps(part, ensure_ascii=False, sort_keys=True)
