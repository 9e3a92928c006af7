"""The field pack of a project: all that a person takes along before going where there is no signal, in one body.

Made only of what the person may see, in a number of reads that does not grow. The same facts give the same bytes, so
that their digest is the version, and a download that broke off goes on where it stopped.
"""

from __future__ import annotations

import gzip
import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from rest_framework.utils.encoders import JSONEncoder

from accounts.models import Person, Role
from inspection.diary.actions import WRITERS
from inspection.drawings.noting import WRITERS as NOTERS
from inspection.fieldapp.pack_drawings import drawings
from inspection.fieldapp.pack_places import places
from inspection.fieldapp.pack_things import things
from inspection.fieldapp.told_forms import RECORDERS, forms_for
from inspection.nonconformance.actions import RAISERS
from inspection.nonconformance.rework import WORKERS as REWORKERS
from inspection.projects.models import Project
from inspection.works.entering import WORKERS
from inspection.works.lots.actions import LOGGERS

# What the app asks before it offers a screen; the action asks again.
MAY: dict[str, tuple[Role, ...]] = {
    "record": RECORDERS, "check": RECORDERS, "lots": LOGGERS, "paint": WORKERS, "rework": REWORKERS, "diary": WRITERS,
    "raise": RAISERS, "note": NOTERS,
}  # fmt: skip
# Counted up where the app could not read what an older server wrote.
SHAPE = 1


@dataclass(frozen=True)
class Pack:
    version: str
    body: bytes

    @property
    def packed(self) -> bytes:
        """Gzipped without the moment at which it was, so that the same pack is the same bytes."""
        return gzip.compress(self.body, compresslevel=6, mtime=0)


def pack_of(person: Person, project: Project, at: datetime) -> Pack:
    """The pack as it stands at the moment, with the SHA-256 of its content as its version."""
    content = {
        "shape": SHAPE,
        "person": person.pk,
        "project": {
            "id": project.pk, "code": project.code, "name": project.name, "time_zone": project.time_zone,
            "unit": project.unit, "shift_starts": project.shift_starts, "closed_at": project.closed_at,
        },
        "may": {deed: person.has_role(*roles) for deed, roles in MAY.items()},
        **places(person, project, at),
        **things(person, project, at), **drawings(person, project),
        "forms": forms_for(person),
    }  # fmt: skip
    told = _written(content)
    version = hashlib.sha256(told).hexdigest()
    return Pack(version, b'{"version":"' + version.encode() + b'",' + told[1:])


def _written(content: Any) -> bytes:
    return json.dumps(content, cls=JSONEncoder, ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode()
