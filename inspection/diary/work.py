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
         later=REPLACED),
    Part(name="check", one="gauge check", model=Verification, by="taken_by", at="taken_at",
         fixed=("digest", "verdict"), later=REPLACED),
    Part(name="entry", one="diary entry", model=DiaryEntry, by="entered_by", at="day", by_day=True,
         fixed=("digest",), later=REPLACED + WITHDRAWN),
    Part(name="lot", one="lot", model=Lot, by="entered_by", at="begun_at", fixed=("digest",),
         later=(*REPLACED, *WITHDRAWN, "ended_at", "drawn_l", "returned_l")),
    Part(name="nonconformance", one="nonconformance", model=Nonconformance, by="raised_by", at="raised_at",
         fixed=("number", "title", "description", "area", "coat")),
    Part(name="rework", one="item of rework", model=ReworkItem, by="opened_by", at="opened_at",
         fixed=("what", "place", "area")),
    Part(name="rework_entry", one="entry of rework", model=ReworkEntry, by="person", at="at", project="item__project",
         fixed=("item", "kind", "text", "done_by", "done_at"), later=("withdrawn_by",)),
    Part(name="decision", one="decision on a point", model=Decision, by="person", at="at", project="point__project",
         fixed=("point", "number", "outcome", "reason", "evidence_digest")),
    Part(name="photo", one="photo", model=Photo, by="by", at="received_at", fixed=("file",),
         later=("withdrawn_at", "caption")),
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


def digest_of(project: Project, day: date, person: Person, lines: Sequence[Line]) -> str:
    """SHA-256 over the lines, for whom and for which day."""
    return journal.digest_of({"project": project.pk, "day": day, "person": person.pk, "lines": list(lines)})


def in_words(lines: Iterable[Line]) -> str:
    """How many things of each kind: 3 records, 1 gauge check."""
    counts = Counter(line["kind"] for line in lines)
    return ", ".join(_many(counts[part.name], part.one) for part in PARTS if counts[part.name])


def since(signed: Sequence[Line], now: Sequence[Line]) -> str:
    """What differs now from what was signed, in words; empty while nothing does."""
    before = {(line["kind"], line["id"]): line for line in signed}
    after = {(line["kind"], line["id"]): line for line in now}
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
