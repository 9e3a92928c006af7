"""The same drawing or photo sent twice at the same moment: kept once, and both senders hear so. Real transactions."""

from __future__ import annotations

import hashlib
from typing import Any

import pytest

from inspection.drawings import actions
from inspection.drawings.models import DrawingRevision
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, Refused
from inspection.photos import actions as photos
from inspection.photos import parts
from inspection.photos.models import Photo, PhotoPart
from tests.cast import Cast
from tests.drawings.test_drawings import drawn
from tests.holdpoints.test_at_once import at_once, cast  # noqa: F401 - the cast of real transactions
from tests.photos.test_photos import photo_bytes, record
from tests.standing.scene import verify

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def test_a_drawing_sent_twice_at_once_is_kept_once(cast: Cast) -> None:  # noqa: F811 - the fixture
    told: dict[str, Any] = {
        "id": new_id(), "project": cast.site.project, "number": "D-1", "title": "Deck", "revision": "A",
        "file": UploadedContent("deck.png", drawn()),
    }  # fmt: skip
    ends = at_once(*[lambda: actions.add_drawing(cast.quinn, **told)] * 2)
    assert sorted(new for _, new in ends) == [False, True], ends
    # Under another number its id is used; under its number another is refused.
    other = told | {"id": new_id(), "number": "D-2"}
    ends = at_once(
        lambda: actions.add_drawing(cast.quinn, **other),
        lambda: actions.add_drawing(cast.quinn, **other | {"number": "D-3"}),
    )
    assert [isinstance(end, Conflict) for end in ends].count(True) == 1, ends
    third = told | {"number": "D-4"}
    ends = at_once(*[lambda: actions.add_drawing(cast.quinn, **third | {"id": new_id()})] * 2)
    assert [isinstance(end, (Conflict, Refused)) for end in ends].count(True) == 1, ends
    drawing = DrawingRevision.objects.get(pk=told["id"]).drawing
    again: dict[str, Any] = {"id": new_id(), "revision": "B", "file": UploadedContent("deck.png", drawn("B"))}
    ends = at_once(*[lambda: actions.revise_drawing(cast.quinn, drawing=drawing, **again)] * 2)
    assert sorted(new for _, new in ends) == [False, True], ends


def test_a_photo_sent_twice_at_once_is_kept_once(cast: Cast) -> None:  # noqa: F811 - the fixture
    of, content, own = record(cast), photo_bytes(), new_id()
    file = UploadedContent("a.jpg", content)
    ends = at_once(*[lambda: photos.add_photo(cast.ines, id=own, of=of, file=file)] * 2)
    assert sorted(new for _, new in ends) == [False, True], ends
    # Of a check, which is not held meanwhile.
    check = verify(cast, "07:10")
    own = new_id()
    ends = at_once(*[lambda: photos.add_photo(cast.ines, id=own, of=check, file=file)] * 2)
    assert sorted(new for _, new in ends) == [False, True], ends
    # In parts: the same part at once, and the whole at once.
    content = photo_bytes(size=(320, 240))
    digest, half = hashlib.sha256(content).hexdigest(), len(content) // 2
    for begins, part in ((0, content[:half]), (half, content[half:])):
        ends = at_once(*[lambda b=begins, p=part: parts.add_part(cast.ines, digest=digest, begins=b, content=p)] * 2)
        assert ends == [begins + len(part)] * 2, ends
    own = new_id()
    ends = at_once(*[lambda: parts.add_photo(cast.ines, digest=digest, name="a.jpg", id=own, of=of)] * 2)
    assert sorted(new for _, new in ends) == [False, True], ends
    assert (Photo.objects.count(), PhotoPart.objects.count()) == (3, 0)
