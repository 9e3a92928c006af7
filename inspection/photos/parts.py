"""A photo that comes in parts over a link that breaks: what came of it is kept for its sender, by the photo's digest.

Nobody but the sender hears of it. It becomes a photo as one that is sent whole, once all of it is there and is of the
digest; what is given up is thrown away after some days.
"""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Count, Max, Model, Sum
from django.utils import timezone

from accounts import vault
from accounts.models import Person
from accounts.rights import require
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.photos import actions, queries
from inspection.photos.models import Photo, PhotoPart
from inspection.photos.picture import MOST_BYTES

MOST_OF_A_PART = 2**20
# Of one person at once, in bytes; beyond it what rested longest is thrown away, and is sent anew.
MOST_UNDER_WAY = 4 * MOST_BYTES
# And in parts, of one photo and of all that are under way: very small ones would fill the table and slow each answer.
MOST_PARTS, MOST_OF_ALL = 1_000, 2_000
KEPT_FOR = timedelta(days=7)
TO_SEND = "send a photo in parts"


def came_of(by: Person, digest: str) -> int:
    """How many bytes of the photo came from this person so far: all of them where they sent it before."""
    require(by, *queries.SENDERS, to=TO_SEND)
    before = _sent_before(by, digest)
    return before.file.size if before else _stands(by, digest)


@transaction.atomic
def add_part(by: Person, *, digest: str, begins: int, content: bytes, at: datetime | None = None) -> int:
    """Keep the bytes from that place on and say how many are there now; what is there already changes nothing.

    Raises Conflict where it does not follow on what came, Refused for too much.
    """
    require(by, *queries.SENDERS, to=TO_SEND)
    # Of two that come at once the second finds the first there.
    Person.objects.select_for_update(of=("self",)).get(pk=by.pk)
    stands, ends = _stands(by, digest), begins + len(content)
    if not content:
        raise Refused("This part is empty; send the bytes that come next.", field="from")
    if len(content) > MOST_OF_A_PART:
        raise Refused(f"A part has at most {MOST_OF_A_PART // 2**20} MB; send less at once.", field="from")
    if ends <= stands:
        return stands
    if begins != stands:
        raise Conflict(Fault(f"{stands} bytes of it came so far: send what comes after those.", "from"))
    if ends > MOST_BYTES:
        raise Refused(f"A photo has at most {MOST_BYTES // 2**20} MB. Set the camera to a smaller size.", field="from")
    _join_small(by, digest)
    PhotoPart.objects.create(
        by=by, digest=digest, begins=begins, size=len(content), content=content, at=at or timezone.now()
    )
    _make_room(by, digest)
    return ends


def add_photo(by: Person, *, digest: str, name: str, of: Model, **told: Any) -> tuple[Photo, bool]:
    """Keep the photo whose parts came as one that is sent whole; True when it is new.

    Raises Refused naming the digest where nothing came, or where what came is not of it; that is thrown away.
    """
    require(by, *queries.SENDERS, to="add a photo")
    file = UploadedContent(name or "photo", _content(by, digest))
    with transaction.atomic():
        kept = actions.add_photo(by, of=of, file=file, **told)
        PhotoPart.objects.filter(by=by, digest=digest).delete()
    return kept


def clear_given_up(at: datetime) -> int:
    """Throw away what rests for longer than some days; how many parts."""
    gone, _ = PhotoPart.objects.filter(at__lt=at - KEPT_FOR).delete()
    return gone


def _content(by: Person, digest: str) -> bytes:
    content = b"".join(map(bytes, _contents(by, digest)))
    if hashlib.sha256(content).hexdigest() == digest:
        return content
    # Its answer was lost, or it is sent with another thing too.
    if before := _sent_before(by, digest):
        return vault.content_of(before.file)
    if not content:
        raise Refused(Fault("Nothing of this photo came yet: send its parts first.", "digest"))
    PhotoPart.objects.filter(by=by, digest=digest).delete()
    told = (
        f"The {len(content)} bytes that came are not of this digest and were thrown away: send it from the beginning."
    )
    raise Refused(Fault(told, "digest"))


def _sent_before(by: Person, digest: str) -> Photo | None:
    return Photo.objects.filter(by=by, file=digest).select_related("file").first()


def _stands(by: Person, digest: str) -> int:
    return PhotoPart.objects.filter(by=by, digest=digest).aggregate(all=Sum("size"))["all"] or 0


def _join_small(by: Person, digest: str) -> None:
    """Make one part of what came in very many."""
    rows = PhotoPart.objects.filter(by=by, digest=digest)
    if rows.count() < MOST_PARTS:
        return
    content, last = b"".join(map(bytes, _contents(by, digest))), rows.aggregate(last=Max("at"))["last"]
    rows.delete()
    PhotoPart.objects.create(by=by, digest=digest, begins=0, size=len(content), content=content, at=last)


def _contents(by: Person, digest: str) -> Any:
    return PhotoPart.objects.filter(by=by, digest=digest).order_by("begins").values_list("content", flat=True)


def _make_room(by: Person, digest: str) -> None:
    """Throw away of the person's other photos what rested longest, until what is under way is not too much."""
    rows = PhotoPart.objects.filter(by=by).values("digest").annotate(all=Sum("size"), many=Count("pk"), last=Max("at"))
    others = sorted((row for row in rows if row["digest"] != digest), key=lambda row: row["last"])
    size, many = sum(row["all"] for row in rows), sum(row["many"] for row in rows)
    for row in others:
        if size <= MOST_UNDER_WAY and many <= MOST_OF_ALL:
            return
        PhotoPart.objects.filter(by=by, digest=row["digest"]).delete()
        size, many = size - row["all"], many - row["many"]
