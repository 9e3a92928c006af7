"""Reading the journal: the quality manager all of it, an auditor what happened in the projects they see."""

from __future__ import annotations

from uuid import UUID

from django.db.models import QuerySet

from accounts.models import JournalEntry, Person, Role
from accounts.rights import require
from inspection.projects.models import Project

PAGE = 50


def visible_to(person: Person) -> QuerySet[JournalEntry]:
    """Raises NotAllowed for roles that do not read the journal."""
    require(person, Role.QUALITY_MANAGER, Role.AUDITOR, to="read the journal")
    entries = JournalEntry.objects.all()
    if person.has_role(Role.QUALITY_MANAGER):
        return entries
    return entries.filter(project_id__in=Project.objects.visible_to(person).values("pk"))


def newest(
    person: Person, *, project: UUID | None = None, verb: str = "", who: str = "", before: int | None = None
) -> tuple[list[JournalEntry], int | None]:
    """One page of entries, newest first, and the id below which the next page begins (None on the last)."""
    entries = visible_to(person)
    if project:
        entries = entries.filter(project_id=project)
    # Verbs are shown as words, so each word is looked for.
    for word in verb.split():
        entries = entries.filter(verb__icontains=word)
    if who:
        entries = entries.filter(actor_text__icontains=who)
    if before is not None:
        entries = entries.filter(pk__lt=before)
    page = list(entries.order_by("-pk")[: PAGE + 1])
    return page[:PAGE], page[PAGE - 1].pk if len(page) > PAGE else None
