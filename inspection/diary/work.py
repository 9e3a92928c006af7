"""All that a person recorded and wrote on a project's day: the one home of what a signature under a day covers.

Each thing is a line with what of it never changes (`fixed`, a digest) and what may come later (`later`): a version
that replaces it, a withdrawal. A signature keeps the lines; `since` tells what differs from them now.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db.models import Model, Q
from django.urls import reverse
from django.utils.text import Truncator

from accounts import journal
from accounts.models import Person
from inspection.diary.models import DiaryEntry
from inspection.fieldwork.models import Record
from inspection.holdpoints.models import Decision
from inspection.instruments.models import Verification
from inspection.nonconformance.models import Nonconformance, ReworkEntry, ReworkItem
from inspection.photos.models import Photo
from inspection.projects.models import Project
from inspection.works.models import Lot

Line = dict[str, Any]
LONGEST_WORDS = 90


@dataclass(frozen=True, kw_only=True)
class Part:
    """One table of what a person records: who did it, on which day it is, what of it is signed.

    `fixed` are columns that never change, `later` those that a correction or withdrawal sets.
    """

    name: str
    one: str
    model: type[Model]
    by: str
    at: str
    fixed: tuple[str, ...]
    later: tuple[str, ...] = ()
    # What tells the thing to a reader: columns, of which choices are told in words; and the name of its page.
    told: tuple[str, ...]
    page: str = ""
    project: str = "project"
    # The column that names the day itself, where it is no moment.
    by_day: bool = False

    def of(self, project: Project, day: date, people: Collection[UUID]) -> Iterable[tuple[UUID, Line]]:
        """Each thing of the day with the person that it is of; one query."""
        begins, ends = project.day_bounds(day)
        when = Q(**{self.at: day}) if self.by_day else Q(**{f"{self.at}__gte": begins, f"{self.at}__lt": ends})
        rows = self.model._default_manager.filter(when, **{self.project: project, f"{self.by}__in": list(people)})
        columns = ("pk", self.by, *self.fixed, *self.later)
        for row in rows.order_by("pk").values(*dict.fromkeys(columns)):
            later = {name: journal.plain(row[name]) for name in self.later if row[name] is not None}
            yield row[self.by], {"kind": self.name, "id": str(row["pk"]), "fixed": self.digest(row), "later": later}

    def digest(self, row: dict[str, Any]) -> str:
        return journal.digest_of({name: row[name] for name in self.fixed})

    def stored(self, ids: Collection[str]) -> dict[str, str]:
        """What stands of the things now: the digest of what must not have changed, by id."""
        rows = self.model._default_manager.filter(pk__in=ids).values("pk", *self.fixed)
        return {str(row["pk"]): self.digest(row) for row in rows}


REPLACED, WITHDRAWN = ("replaced_by",), ("withdrawn_at",)
PARTS: tuple[Part, ...] = (
    Part(name="record", one="record", model=Record, by="taken_by", at="taken_at", fixed=("digest", "verdict"),
         later=REPLACED, told=("kind", "area__code", "verdict")),
    Part(name="check", one="gauge check", model=Verification, by="taken_by", at="taken_at", page="verification",
         fixed=("digest", "verdict"), later=REPLACED, told=("gauge__identity", "purpose", "verdict")),
    Part(name="entry", one="diary entry", model=DiaryEntry, by="entered_by", at="day", by_day=True, page="diary_entry",
         fixed=("digest",), later=REPLACED + WITHDRAWN, told=("kind", "who", "text")),
    Part(name="lot", one="lot", model=Lot, by="entered_by", at="begun_at", fixed=("digest",), page="lot",
         later=(*REPLACED, *WITHDRAWN, "ended_at", "drawn_l", "returned_l"), told=("number", "activity")),
    Part(name="nonconformance", one="nonconformance", model=Nonconformance, by="raised_by", at="raised_at",
         page="nonconformance", fixed=("number", "title", "description", "area", "coat"), told=("title",)),
    Part(name="rework", one="item of rework", model=ReworkItem, by="opened_by", at="opened_at", page="rework_item",
         fixed=("what", "place", "area"), told=("what", "place")),
    Part(name="rework_entry", one="entry of rework", model=ReworkEntry, by="person", at="at", project="item__project",
         fixed=("item", "kind", "text", "done_by", "done_at"), later=("withdrawn_by",), told=("kind", "item__what")),
    Part(name="decision", one="decision on a point", model=Decision, by="person", at="at", project="point__project",
         fixed=("point", "number", "outcome", "reason", "evidence_digest"), told=("outcome", "point__title")),
    Part(name="photo", one="photo", model=Photo, by="by", at="received_at", fixed=("file",), page="photo",
         later=("withdrawn_at", "caption"), told=("caption",)),
)  # fmt: skip
BY_NAME = {part.name: part for part in PARTS}


def work_of(project: Project, day: date, people: Collection[UUID]) -> dict[UUID, list[Line]]:
    """By person, all they recorded and wrote on the day; a query for each part, however many people there are."""
    found: dict[UUID, list[Line]] = defaultdict(list)
    if people:
        for part in PARTS:
            for person, line in part.of(project, day, people):
                found[person].append(line)
    return found


def stored(kind: str, ids: Collection[str]) -> dict[str, str]:
    """Of the things of a kind, by id, the digest of what stands now of what must never change."""
    return BY_NAME[kind].stored(ids) if kind in BY_NAME else {}


def name_of(line: Line) -> str:
    """What kind of thing a line is of, in words."""
    return BY_NAME[line["kind"]].one if line["kind"] in BY_NAME else str(line["kind"])


@dataclass(frozen=True)
class Thing:
    """A thing that a signature covers, as a page shows it; `address` is empty where it has no page of its own."""

    one: str
    words: str
    address: str
    line: Line
    # Whether it was corrected, withdrawn or moved to another day since it was signed.
    changed: bool


def things_of(lines: Sequence[Line], now: Sequence[Line]) -> list[Thing]:
    """The things of the lines, beside what stands `now`; a query for each kind among them."""
    stands = {(line["kind"], line["id"]): line for line in now}
    told: dict[tuple[str, str], tuple[str, str]] = {}
    for part in PARTS:
        if ids := [line["id"] for line in lines if line["kind"] == part.name]:
            told |= {(part.name, pk): shown for pk, shown in _told(part, ids).items()}
    return [
        Thing(name_of(line), *told.get(_key(line), ("", "")), line=line, changed=stands.get(_key(line)) != line)
        for line in lines
    ]


def _told(part: Part, ids: Sequence[str]) -> dict[str, tuple[str, str]]:
    """By id, what tells the things, and the address of their page; of a record that of its kind."""
    found = {}
    for row in part.model._default_manager.filter(pk__in=ids).values("pk", *part.told):
        words = ", ".join(text for name in part.told if (text := _text(part, name, row[name])))
        page = row["kind"] if part.model is Record else part.page
        found[str(row["pk"])] = (Truncator(words).chars(LONGEST_WORDS), reverse(page, args=[row["pk"]]) if page else "")
    return found


def _text(part: Part, name: str, value: Any) -> str:
    """A column in words: a choice by its label."""
    labels = {} if "__" in name else dict(getattr(part.model._meta.get_field(name), "flatchoices", ()))
    return str(labels.get(value, value))


def _key(line: Line) -> tuple[str, str]:
    return line["kind"], line["id"]


def digest_of(project: Project, day: date, person: Person, lines: Sequence[Line]) -> str:
    """SHA-256 over the lines, for whom and for which day."""
    return journal.digest_of({"project": project.pk, "day": day, "person": person.pk, "lines": list(lines)})


def in_words(lines: Iterable[Line]) -> str:
    """How many things of each kind: 3 records, 1 gauge check."""
    counts = Counter(line["kind"] for line in lines)
    return ", ".join(_many(counts[part.name], part.one) for part in PARTS if counts[part.name])


def since(signed: Sequence[Line], now: Sequence[Line]) -> str:
    """What differs now from what was signed, in words; empty while nothing does."""
    before, after = {_key(line): line for line in signed}, {_key(line): line for line in now}
    added = [line for key, line in after.items() if key not in before]
    changed = [line for key, line in after.items() if key in before and before[key] != line]
    gone = [line for key, line in before.items() if key not in after]
    told = [
        f"{in_words(lines)} {word}"
        for lines, word in ((added, "added"), (changed, "corrected or withdrawn"), (gone, "no longer of this day"))
        if lines
    ]
    return "; ".join(told)


def _many(count: int, one: str) -> str:
    if count == 1:
        return f"1 {one}"
    first, space, rest = one.partition(" of ") if " of " in one else one.partition(" on ")
    plural = f"{first[:-1]}ies" if first.endswith("ry") else f"{first}s"
    return f"{count} {plural}{space}{rest}"


# By part, as what a trace names it; of a record its kind, of a decision its point. A trace has no other of them.
TRACED = {"check": "verification", "entry": "diaryentry", "lot": "lot", "nonconformance": "nonconformance"}


def traced(lines: Iterable[Line]) -> set[tuple[str, UUID]]:
    """The things of the lines as a trace names them, by kind and id; two queries."""
    ids: dict[str, set[UUID]] = defaultdict(set)
    for line in lines:
        ids[line["kind"]].add(UUID(line["id"]))
    found = {(name, pk) for part, name in TRACED.items() for pk in ids[part]}
    records = Record.objects.filter(pk__among=list(ids["record"]))
    decided = Decision.objects.filter(pk__among=list(ids["decision"]))
    found |= set(records.values_list("kind", "pk"))
    return found | {("holdpoint", point) for point in decided.values_list("point", flat=True)}
