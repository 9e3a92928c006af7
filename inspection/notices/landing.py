"""The notices of the next days, on the landing page of whoever sees them."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.dispatch import receiver
from django.urls import reverse

from accounts.models import Person
from accounts.signals import Ahead, ahead_asked
from inspection.notices import queries


@receiver(ahead_asked, dispatch_uid="notices")
def notices_ahead(sender: Any, person: Person, at: datetime, **sent: Any) -> list[Ahead]:
    notices = queries.ahead(person, at)
    of = queries.what_of([notice.pk for notice in notices]) if notices else {}
    return [
        Ahead(
            f"{notice.project.code}: {', '.join(each.title for each in of[notice.pk])}", notice.meeting_place,
            notice.project, notice.begins_at, notice.ends_at, reverse("notice", args=[notice.pk]),
            "Short notice" if notice.is_short else "",
        )
        for notice in notices
    ]  # fmt: skip
