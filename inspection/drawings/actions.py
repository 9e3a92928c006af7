"""Every change of drawings: kept, revised, put right, withdrawn and restored; the areas that each shows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts import journal, vault
from accounts.models import Person, Role
from accounts.rights import require
from inspection.drawings import picture, shown
from inspection.drawings.models import PARTS, Drawing, DrawingArea, DrawingRevision
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line
from inspection.projects.actions import goes_on
from inspection.projects.corrections import reason_faults
from inspection.projects.models import InspectionArea, Project, Section
from inspection.projects.preconditions import USED, in_sight
from inspection.works import entering

KEEPERS = (Role.INSPECTOR, Role.QUALITY_MANAGER)
LONGEST = {"number": 60, "title": 200, "revision": 40}
MOST_PAGES = 2_000


@dataclass(frozen=True)
class Read:
    """A file that came, with what is shown of the one page."""

    content: bytes
    name: str
    page: int
    sheet: picture.Sheet


@dataclass(frozen=True)
class Placed:
    """An area that a drawing shows; its place in parts of 10,000 of width and height, or none."""

    area: InspectionArea
    x: int | None = None
    y: int | None = None


def add_drawing(
    by: Person, *, id: UUID, project: Project, number: str, title: str, revision: str, file: UploadedContent,  # noqa: A002 - the revision's own name for it, as in the API
    section: Section | None = None, page: int = 1,
) -> tuple[DrawingRevision, bool]:  # fmt: skip
    """Keep a drawing with its first revision; True when it is new. The same sent again answers with what is stored.

    Raises Refused for a number that the project has (its new file is a revision), Conflict for a used id.
    """
    require(by, *KEEPERS, to="keep a drawing")
    in_sight(by, project)
    words = _words(number=number, title=title, revision=revision)
    _of_the_project(by, project, section)
    digest = entering.digest_of(by, project=project, section=section, file=file, page=page, **words)
    if stored := entering.sent_before(by, DrawingRevision, id, digest):
        return stored, False
    goes_on(project)
    return _add(by, id, project, section, words, _read(file, page), digest)


@transaction.atomic
def _add(
    by: Person, pk: UUID, project: Project, section: Section | None, words: dict[str, Any], read: Read, digest: str
) -> tuple[DrawingRevision, bool]:
    already = Fault(f"{project.code} has a drawing {words['number']} already; add this as a revision of it.", "number")
    taken = Drawing.objects.filter(project=project, number__iexact=words["number"]).exists()
    # Asked once more: what was sent at the same moment may be there since.
    if stored := entering.sent_before(by, DrawingRevision, pk, digest):
        return stored, False
    if taken:
        raise Refused(already)
    try:
        with transaction.atomic():
            drawing = Drawing.objects.create(
                project=project, section=section, number=words["number"], title=words["title"]
            )
            kept = _store(by, drawing, pk, words["revision"], read, digest)
    except IntegrityError:
        if stored := entering.sent_before(by, DrawingRevision, pk, digest):
            return stored, False
        raise Conflict(already) from None
    journal.record("drawing.added", drawing, by=by, project_id=project.pk, after={**words, **_told(kept)})
    return kept, True


def revise_drawing(
    by: Person, *, drawing: Drawing, id: UUID, revision: str, file: UploadedContent, page: int = 1,  # noqa: A002 - as above
) -> tuple[DrawingRevision, bool]:  # fmt: skip
    """Keep a new revision, which stands from now on; the former ones stay readable, and notes stay on theirs."""
    require(by, *KEEPERS, to="revise a drawing")
    in_sight(by, drawing)
    words = _words(revision=revision)
    digest = entering.digest_of(by, drawing=drawing, file=file, page=page, **words)
    if stored := entering.sent_before(by, DrawingRevision, id, digest):
        return stored, False
    return _revise(by, drawing, id, words["revision"], _read(file, page), digest)


@transaction.atomic
def _revise(
    by: Person, drawing: Drawing, pk: UUID, revision: str, read: Read, digest: str
) -> tuple[DrawingRevision, bool]:
    locked = _locked(drawing)
    if stored := entering.sent_before(by, DrawingRevision, pk, digest):
        return stored, False
    goes_on(locked.project)
    _refuse_used(locked, revision)
    former = standing_of(locked)
    try:
        with transaction.atomic():
            kept = _store(by, locked, pk, revision, read, digest)
    except IntegrityError:
        raise Conflict(Fault(USED, "id")) from None
    before = {"revision": former.revision} if former else None
    told = {"revision": revision, **_told(kept)}
    journal.record("drawing.revised", locked, by=by, project_id=locked.project_id, before=before, after=told)
    return kept, True


@transaction.atomic
def correct_drawing(
    by: Person, *, drawing: Drawing, number: str, title: str, revision: str, section: Section | None, reason: str
) -> Drawing:
    """Put right what was typed: number, title and section, and how the revision that stands is called."""
    require(by, *KEEPERS, to="correct a drawing")
    in_sight(by, drawing)
    if faults := reason_faults(reason):
        raise Refused(faults)
    words = _words(number=number, title=title, revision=revision)
    locked = _locked(drawing)
    _of_the_project(by, locked.project, section)
    now = standing_of(locked)
    if now is None:
        raise Conflict("Every revision of this drawing is withdrawn; bring one back first.")
    before = {"number": locked.number, "title": locked.title, "revision": now.revision, "section": locked.section_id}
    after = {**words, "section": section.pk if section else None}
    if before == after:
        raise Refused("Nothing differs from what is stored.")
    others = Drawing.objects.filter(project=locked.project, number__iexact=words["number"]).exclude(pk=locked.pk)
    already = Fault(f"{locked.project.code} has another drawing {words['number']}.", "number")
    if others.exists():
        raise Refused(already)
    _refuse_used(locked, words["revision"], but=now)
    locked.number, locked.title, locked.section = words["number"], words["title"], section
    now.revision = words["revision"]
    try:
        with transaction.atomic():
            locked.save(update_fields=["number", "title", "section"])
            now.save(update_fields=["revision"])
    except IntegrityError:
        raise Conflict(already) from None
    journal.record(
        "drawing.corrected", locked, by=by, project_id=locked.project_id, before=before, after=after,
        reason=reason.strip(),
    )  # fmt: skip
    return locked


@transaction.atomic
def withdraw_revision(by: Person, *, revision: DrawingRevision, reason: str, at: datetime | None = None) -> None:
    """Say that it was kept by mistake. It stays readable; the revision before it stands again."""
    held = _held(by, revision, reason, to="withdraw a revision")
    if held.withdrawn_at:
        raise Conflict("The revision is withdrawn already.")
    _set_withdrawn(by, held, "drawing.revision_withdrawn", reason, at=at or timezone.now(), who=by)


@transaction.atomic
def restore_revision(by: Person, *, revision: DrawingRevision, reason: str) -> None:
    """Take a withdrawal back."""
    held = _held(by, revision, reason, to="bring a revision back")
    if held.withdrawn_at is None:
        raise Conflict("The revision is not withdrawn.")
    _refuse_used(held.drawing, held.revision)
    _set_withdrawn(by, held, "drawing.revision_restored", reason, at=None, who=None)


@transaction.atomic
def set_areas(
    by: Person, *, drawing: Drawing, areas: Sequence[Placed], seen: str | None = None, at: datetime | None = None
) -> None:
    """Say which areas the drawing shows, and where: these and no others. `seen` is the `areas_digest` looked at.

    Raises Refused naming the row of an area named twice, Conflict where somebody has changed them since.
    """
    require(by, *KEEPERS, to="say what a drawing shows")
    in_sight(by, drawing)
    in_sight(by, *(each.area for each in areas))
    locked = _locked(drawing)
    had = {each.area_id: each for each in _shown(locked)}
    if seen is not None and seen != areas_digest(had.values()):
        raise Conflict("Somebody has changed the areas of this drawing since you looked; look at them again.")
    if faults := _area_faults(locked, areas):
        raise Refused(faults)
    wanted = {each.area.pk: each for each in areas}
    gone = [each.pk for pk, each in had.items() if pk not in wanted or _place(wanted[pk]) != _place(each)]
    new = [each for pk, each in wanted.items() if pk not in had or _place(had[pk]) != _place(each)]
    if not gone and not new:
        return
    moment = at or timezone.now()
    DrawingArea.objects.filter(pk__in=gone).update(ended_at=moment, ended_by=by)
    DrawingArea.objects.bulk_create(
        DrawingArea(drawing=locked, area=each.area, x=each.x, y=each.y, by=by, at=moment) for each in new
    )
    journal.record(
        "drawing.areas_set", locked, by=by, project_id=locked.project_id,
        before={each.area.label: _place(each) for each in had.values()},
        after={each.area.label: _place(each) for each in areas},
    )  # fmt: skip


@transaction.atomic
def place_area(by: Person, *, drawing: Drawing, area: InspectionArea, x: int | None, y: int | None) -> None:
    """Say where on the drawing an area is, or that it is shown there without a place."""
    locked = _locked(drawing)
    others = [Placed(each.area, each.x, each.y) for each in _shown(locked) if each.area_id != area.pk]
    set_areas(by, drawing=locked, areas=[*others, Placed(area, x, y)])


@transaction.atomic
def confirm_places(by: Person, *, drawing: Drawing, at: datetime | None = None) -> None:
    """Say that the places which areas had before the revision that stands fit it too; each is entered anew."""
    require(by, *KEEPERS, to="say what a drawing shows")
    in_sight(by, drawing)
    locked, moment = _locked(drawing), at or timezone.now()
    before = placed_before(_shown(locked), standing_of(locked))
    if not before:
        raise Conflict("No area was placed before the revision that stands.")
    DrawingArea.objects.filter(pk__in=[each.pk for each in before]).update(ended_at=moment, ended_by=by)
    DrawingArea.objects.bulk_create(
        DrawingArea(drawing=locked, area=each.area, x=each.x, y=each.y, by=by, at=moment) for each in before
    )
    told = {each.area.label: _place(each) for each in before}
    journal.record("drawing.places_confirmed", locked, by=by, project_id=locked.project_id, after=told)


def placed_before(areas: Iterable[DrawingArea], revision: DrawingRevision | None) -> list[DrawingArea]:
    """The areas whose place was said of a former revision."""
    return [each for each in areas if each.x is not None and revision and each.at < revision.at]


def areas_digest(rows: Any) -> str:
    """Of the areas that a drawing shows, with their places, in whatever order."""
    return journal.digest_of(sorted([str(each.area_id), *map(str, _place(each))] for each in rows))


def standing_of(drawing: Drawing) -> DrawingRevision | None:
    """The revision that stands: the last that nobody withdrew."""
    return drawing.revisions.filter(withdrawn_at=None).order_by("-order").first()


def place_faults(x: int | None, y: int | None, *, needed: bool, row: int | None = None) -> list[Fault]:
    """What is wrong with a place on a drawing; without a picture there is none to give."""
    if x is None and y is None:
        return [Fault("Give the place on the drawing.", "x", row)] if needed else []
    return [
        Fault(f"Give a whole number from 0 to {PARTS}: parts of {PARTS} {way}.", name, row)
        for name, value, way in (("x", x, "from the left"), ("y", y, "from the top"))
        if value is None or not 0 <= value <= PARTS
    ]


def _area_faults(drawing: Drawing, areas: Sequence[Placed]) -> list[Fault]:
    faults, named = [], set()
    for row, each in enumerate(areas, start=1):
        if each.area.structure.project_id != drawing.project_id:
            faults.append(Fault(f"{each.area.label} is of another project.", "areas", row))
        if each.area.pk in named:
            faults.append(Fault(f"{each.area.label} is named twice.", "areas", row))
        named.add(each.area.pk)
        faults += place_faults(each.x, each.y, needed=False, row=row)
    return faults


def _place(each: Placed | DrawingArea) -> list[int | None]:
    return [each.x, each.y]


def _shown(drawing: Drawing) -> list[DrawingArea]:
    return list(drawing.areas.filter(ended_at=None).select_related("area__structure"))


def _words(**sent: str) -> dict[str, Any]:
    return {name: line(text, field=name, most=LONGEST[name]) for name, text in sent.items()}


def _of_the_project(by: Person, project: Project, section: Section | None) -> None:
    if section is None:
        return
    in_sight(by, section)
    if section.structure.project_id != project.pk:
        raise Refused("This section is of another project.", field="section")


def _locked(drawing: Drawing) -> Drawing:
    return Drawing.objects.select_for_update(of=("self",)).select_related("project").get(pk=drawing.pk)


def _held(by: Person, revision: DrawingRevision, reason: str, *, to: str) -> DrawingRevision:
    require(by, *KEEPERS, to=to)
    in_sight(by, revision)
    if faults := reason_faults(reason):
        raise Refused(faults)
    drawing = _locked(revision.drawing)
    held = DrawingRevision.objects.get(pk=revision.pk)
    held.drawing = drawing
    return held


def _refuse_used(drawing: Drawing, revision: str, *, but: DrawingRevision | None = None) -> None:
    used = drawing.revisions.filter(revision__iexact=revision, withdrawn_at=None)
    if (used.exclude(pk=but.pk) if but else used).exists():
        raise Refused(f"Drawing {drawing.number} has a revision {revision} already.", field="revision")


def _read(file: UploadedContent, page: int) -> Read:
    """The file as it is shown. Not within a transaction: a page of a PDF may take long, and others wait for none."""
    if not 1 <= page <= MOST_PAGES:
        raise Refused(f"Give the page as a whole number from 1 to {MOST_PAGES}.", field="page")
    name = vault.name_of(file.name)
    return Read(file.content, name, page, picture.read(file.content, name=name, page=page))


def _store(by: Person, drawing: Drawing, pk: UUID, revision: str, read: Read, digest: str) -> DrawingRevision:
    """The file kept with its pictures, and the revision that has it. The drawing is held."""
    sheet = read.sheet
    stored = vault.store(read.content, name=read.name, media_type=sheet.media_type, by=by)
    shown.keep(stored.pk, read.page, sheet)
    last = drawing.revisions.order_by("-order").first()
    return DrawingRevision.objects.create(
        id=pk, drawing=drawing, order=last.order + 1 if last else 1, revision=revision, file=stored,
        file_name=read.name, format=sheet.format, page=read.page, width=sheet.width, height=sheet.height,
        small_size=len(sheet.small), digest=digest, by=by,
    )  # fmt: skip


def _told(revision: DrawingRevision) -> dict[str, Any]:
    return {"file": revision.file_id, "page": revision.page, "digest": revision.digest}


def _set_withdrawn(
    by: Person, held: DrawingRevision, verb: str, reason: str, *, at: datetime | None, who: Person | None
) -> None:
    held.withdrawn_at, held.withdrawn_by, held.withdrawn_why = at, who, reason.strip() if at else ""
    held.save(update_fields=["withdrawn_at", "withdrawn_by", "withdrawn_why"])
    told = {"revision": held.revision, "file": held.file_id}
    journal.record(
        verb, held.drawing, by=by, project_id=held.drawing.project_id, after=told, reason=reason.strip()
    )  # fmt: skip
