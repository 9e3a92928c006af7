"""Writing a letter (a row) and sending it. Writing the same letter again is quietly nothing."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.core.mail import EmailMessage
from django.db.models import F, Q
from django.utils import timezone

from accounts.models import Letter, Person

CLAIM_LASTS = timedelta(minutes=10)
ATTEMPTS = 8
# Letters that carry a link which opens a door; once sent, the link is not kept.
SECRET = frozenset({"invitation", "password_reset"})


def write(kind: str, about: str, *, to: Person | str, subject: str, body: str) -> bool:
    """Write one letter; False when this letter about this thing has already been written to them."""
    person = to if isinstance(to, Person) else None
    _, new = Letter.objects.get_or_create(
        kind=kind,
        about=about,
        recipient=person.email if person else str(to),
        defaults={"person": person, "subject": subject, "body": body},
    )
    return new


def send_due() -> int:
    """Send what waits. A letter is claimed by a conditional update first, so two senders never both send it."""
    now = timezone.now()
    free = Q(claimed_at=None) | Q(claimed_at__lt=now - CLAIM_LASTS)
    sent = 0
    for letter in Letter.objects.filter(free, sent_at=None, attempts__lt=ATTEMPTS)[:200]:
        if not Letter.objects.filter(free, pk=letter.pk, sent_at=None).update(
            claimed_at=now, attempts=F("attempts") + 1
        ):
            continue
        try:
            EmailMessage(letter.subject, letter.body, settings.DEFAULT_FROM_EMAIL, [letter.recipient]).send()
        except OSError as fault:
            Letter.objects.filter(pk=letter.pk).update(last_error=str(fault)[:500])
            continue
        kept = "(The link is not kept.)" if letter.kind in SECRET else letter.body
        Letter.objects.filter(pk=letter.pk).update(sent_at=timezone.now(), last_error="", body=kept)
        sent += 1
    return sent
