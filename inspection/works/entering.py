"""What every change of batches, mixes and lots asks: who may, for which party, texts and times, once only."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, TypeVar
from uuid import UUID

from django.db.models import Model

from accounts import journal, vault
from accounts.models import Person, Role, StoredFile
from accounts.rights import require
from inspection.foundation.attachments import UploadedContent, file_faults, media_type_of
from inspection.foundation.refusals import Asked, Conflict, Fault, NotAllowed, Refused
from inspection.foundation.text import wrong_in_a_note
from inspection.projects.models import Party, Project
from inspection.projects.preconditions import USED

WORKERS = (Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CONTRACTOR)
COMPANY = (Role.INSPECTOR, Role.QUALITY_MANAGER)
PARTIES = (Party.Kind.CONTRACTOR, Party.Kind.INSPECTION)
LONGEST_NOTE = 2_000
Row = TypeVar("Row", bound=Model)
# How each kind of value stands in a digest; a moment is a day too, so it comes first.
WRITTEN: tuple[tuple[type, Callable[[Any], Any]], ...] = (
    (datetime, lambda moment: moment.astimezone(UTC)),
    (date, lambda day: day.isoformat()),
    (Decimal, float),
    (Model, lambda row: row.pk),
    (UploadedContent, lambda file: journal.digest_of(file.content.hex())),
    (str, str.strip),
)


def parties_for(by: Person, project: Project) -> list[Party]:
    """The parties for which the person may enter paint: their own contractor, or each contractor and the company."""
    rows = Party.objects.in_force().filter(project=project, kind__in=PARTIES).select_related("organisation")
    if by.is_contractors:
        rows = rows.filter(pk__in=Party.objects.of_contractor(by).values("pk"))
    # A contractor's first: the paint is mostly theirs.
    return sorted(rows, key=lambda party: (party.kind != Party.Kind.CONTRACTOR, party.begun_at, str(party.pk)))


def party_for(by: Person, project: Project, party: Party | None) -> Party:
    """The party named, or the first for which the person may enter paint. Raises Refused or NotAllowed."""
    found = parties_for(by, project)
    if not found:
        raise NotAllowed(f"You act for no party of {project.code} that keeps paint.")
    if party is None:
        return found[0]
    if party not in found:
        named = ", ".join(str(each.organisation) for each in found)
        raise Refused(f"Paint of {project.code} is entered for {named}.", field="party")
    return party


def may_change(by: Person, party: Party) -> bool:
    """Whoever acts for the party for which it was entered, or works for the company."""
    if by.has_role(*COMPANY):
        return True
    return by.has_role(Role.CONTRACTOR) and party.organisation_id == by.organisation_id


def require_change(by: Person, party: Party, *, to: str) -> None:
    require(by, *WORKERS, to=to)
    if not may_change(by, party):
        raise NotAllowed(f"Only {party.organisation} and the inspection company may {to}.")


def note_faults(text: str, field: str, *, needed: str = "") -> list[Fault]:
    """What is wrong with a text of several lines; `needed` is the sentence for when there is none."""
    if needed and not text.strip():
        return [Fault(needed, field)]
    if len(text) > LONGEST_NOTE:
        return [Fault(f"This has {len(text)} characters; at most {LONGEST_NOTE} can be kept.", field)]
    wrong = wrong_in_a_note(text)
    return [Fault(wrong, field)] if wrong else []


def digest_of(by: Person, **sent: Any) -> str:
    """Of what the sender sent: zones of moments and zeros of numbers can be written in several ways, and are not."""
    return journal.digest_of({"by": by.pk, **{name: _plain(value) for name, value in sent.items()}})


def _plain(value: Any) -> Any:
    for kind, written in WRITTEN:
        if isinstance(value, kind):
            return written(value)
    return value


def sent_before(by: Person, model: type[Row], pk: UUID, digest: str) -> Row | None:
    """The stored row where the same was sent before. Raises Conflict where the id holds other content."""
    stored = model._default_manager.filter(pk=pk).first()
    if stored is None:
        return None
    seen = model._default_manager.visible_to(by).filter(pk=pk)  # type: ignore[attr-defined]  # rows of a project
    if stored.digest != digest or not seen.exists():  # type: ignore[attr-defined]  # each kind has one
        raise Conflict(Fault(USED, "id"))
    return stored


def keep_file(by: Person, file: UploadedContent | None, what: str) -> tuple[StoredFile | None, str]:
    """Keep what was attached as a file of record. Raises Refused for what is no PDF, PNG or JPEG."""
    if file is None:
        return None, ""
    if faults := file_faults(file, what):
        raise Refused(faults)
    stored = vault.store(file.content, name=file.name, media_type=media_type_of(file.content), by=by)
    return stored, vault.name_of(file.name)


def ask(questions: Iterable[Fault], *, confirmed: bool) -> list[str]:
    """What whoever enters it goes over. Raises Asked with it until they say that it is meant."""
    asked = list(questions)
    if asked and not confirmed:
        raise Asked(asked)
    return [question.message for question in asked]
