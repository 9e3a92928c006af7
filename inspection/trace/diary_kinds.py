"""The diary in the trace: its entries, and signatures with what stands under them."""

from __future__ import annotations

from typing import Any

from django.db.models import F, Q, QuerySet
from django.urls import reverse

from accounts.models import Person
from inspection.diary.kinds import head_of
from inspection.diary.models import DaySignature, DiaryEntry, SignedThing
from inspection.diary.work import TRACED, in_words
from inspection.fieldwork.kinds import BY_NAME
from inspection.trace import bundle_content
from inspection.trace.kinds import Kind, Link, Row, register


def register_diary() -> None:
    register(ENTRY)
    register(SIGNATURE, links=[_over(name) for name in (*BY_NAME, *TRACED.values(), "holdpoint")])


def _over(name: str) -> Link:
    rows = SignedThing.objects.filter(kind=name)
    return Link("daysignature", name, lambda: rows.annotate(above=F("signature"), below=F("thing")))


def _entries(person: Person) -> QuerySet[Any]:
    rows = DiaryEntry.objects.visible_to(person)
    return rows.select_related("project", "crew__party__organisation", "party__organisation", "entered_by")


def _signatures(person: Person) -> QuerySet[Any]:
    return DaySignature.objects.visible_to(person).select_related("project", "by")


def _entry(row: DiaryEntry) -> Row:
    state, words = ("withdrawn", "Withdrawn") if row.withdrawn_at else ("", "")
    title = f"{row.project.code} {row.day:%Y-%m-%d}, {row.get_kind_display()}"
    return Row(title, head_of(row), state, words, reverse("diary_entry", args=[row.pk]), short=f"{row.day:%Y-%m-%d}")


def _entry_figures(row: DiaryEntry) -> list[str]:
    told = [head_of(row), row.text, *(f"gone over: {each}" for each in row.gone_over)]
    if row.withdrawn_at:
        told.append(f"withdrawn {row.withdrawn_at:%Y-%m-%d %H:%M} UTC: {row.withdrawn_why}")
    return [each for each in told if each]


def _signature(row: DaySignature) -> Row:
    state, words = ("withdrawn", "Withdrawn") if row.withdrawn_at else ("valid", "Stands")
    at = f"{row.at.astimezone(row.project.zone):%Y-%m-%d %H:%M}"
    title = f"{row.project.code} {row.day:%Y-%m-%d}, signature {row.number} of {row.signed_as}"
    address = reverse("day_signature", args=[row.pk])
    return Row(title, f"signed {at}: {in_words(row.content)}", state, words, address, short=f"{row.day:%Y-%m-%d}")


def _signature_facts(row: DaySignature) -> list[tuple[str, str]]:
    facts = [("Covers", in_words(row.content)), ("Digest of what was signed", row.digest)]
    return [*facts, ("Withdrawn", row.withdrawn_why)] if row.withdrawn_at else facts


ENTRY = Kind(
    name="diaryentry", one="Diary entry", many="Diary entries", layer=1, seen=_entries, describe=_entry,
    search=lambda words: Q(project__code__iexact=words), newest="-entered_at",
    content=bundle_content.columns, figures=_entry_figures,
)  # fmt: skip
SIGNATURE = Kind(
    name="daysignature", one="Signature under a day", many="Signatures under days", layer=9, seen=_signatures,
    describe=_signature, facts=_signature_facts, search=lambda words: Q(project__code__iexact=words), newest="-at",
    content=bundle_content.columns, figures=lambda row: [f"{label}: {told}" for label, told in _signature_facts(row)],
)  # fmt: skip
