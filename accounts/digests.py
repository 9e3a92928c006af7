"""Letters that gather several things: written when they are sent, of what their reader sees at that moment."""

from __future__ import annotations

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from accounts.models import Letter
from accounts.signals import projects_seen

DIGEST = "digest"


def still_theirs(letter: Letter) -> bool:
    """Whether something of the letter may still be told to its reader; a digest is written on the way.

    A letter waits for its server, for hours at times, and who left a project meanwhile is told nothing more of it.
    """
    if letter.person is None:
        return True
    if letter.kind == DIGEST:
        return _compose(letter)
    return letter.project_id is None or letter.project_id in projects_seen(letter.person, {letter.project_id})


def calendars_of(letter: Letter) -> list[str]:
    """The appointments that go with a letter; with a digest those of what it still tells."""
    if letter.kind != DIGEST:
        return [letter.calendar] if letter.calendar else []
    told = letter.tidings.filter(set_aside_at=None).exclude(calendar="")
    return list(told.values_list("calendar", flat=True))


def subject_of(many: int) -> str:
    return "1 thing that concerns you" if many == 1 else f"{many} things that concern you"


def _compose(letter: Letter) -> bool:
    rows = list(letter.tidings.filter(set_aside_at=None))
    seen = projects_seen(letter.person, {row.project_id for row in rows}) if letter.person else set()
    kept = [row for row in rows if row.project_id in seen]
    left = [row.pk for row in rows if row.project_id not in seen]
    letter.tidings.filter(pk__in=left).update(set_aside_at=timezone.now())
    told = "\n\n".join(f"{row.subject}\n{row.body.strip()}" for row in kept)
    choose = f"Choose how you hear of such things:\n{settings.SITE_URL}{reverse('letter_choices')}"
    letter.subject, letter.body = subject_of(len(kept)), f"{told}\n\n{choose}\n"
    return bool(kept)
