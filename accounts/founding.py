"""The code that proves, to the page that founds the company, that whoever sends it runs this machine."""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import secrets
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from accounts.models import Organisation, Person
from inspection.foundation.refusals import Refused

LASTS = timedelta(hours=24)
# Without letters and digits that look alike. Sixteen of them are 80 bits: nobody guesses that through a web page.
ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
LENGTH, GROUP = 16, 4


def may_be_founded() -> bool:
    """Whether there is neither a company nor anybody yet."""
    return not (Person.objects.exists() or Organisation.objects.filter(kind=Organisation.Kind.COMPANY).exists())


def new_code(at: datetime | None = None) -> str:
    """A code that is good once, for a day, and makes earlier ones worthless. Only its digest is kept, in VAR_DIR."""
    text = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
    kept = {"digest": _digest(text), "until": ((at or timezone.now()) + LASTS).isoformat()}
    file = os.open(_place(), os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(file, "w") as kept_file:
        json.dump(kept, kept_file)
    return "-".join(text[start : start + GROUP] for start in range(0, LENGTH, GROUP))


def check_code(text: str, at: datetime | None = None) -> None:
    """Raise Refused unless it is the newest code and not a day old. Spaces, hyphens and case do not matter."""
    try:
        kept = json.loads(_place().read_text())
    except FileNotFoundError:
        kept = None
    if kept is None or datetime.fromisoformat(kept["until"]) < (at or timezone.now()):
        raise Refused(
            "No code is good at present. Whoever runs this machine gets a new one from manage.py founding_code.",
            field="code",
        )
    if not hmac.compare_digest(_digest(text), kept["digest"]):
        raise Refused("This is not the newest code that was shown on the machine; type it as it stands.", field="code")


def forget_code() -> None:
    """Make the code worthless, once it has served."""
    _place().unlink(missing_ok=True)


def invitation(code: str) -> str:
    """What the machine's own screen says of founding the company."""
    return f"Found the company at {settings.SITE_URL}{reverse('found')} with the code {code}, good once and for a day."


def _place() -> Path:
    return Path(settings.VAR_DIR) / "founding-code.json"


def _digest(text: str) -> str:
    plain = "".join(char for char in text.upper() if char in ALPHABET)
    return hashlib.sha256(plain.encode()).hexdigest()
