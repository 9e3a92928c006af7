"""Entering what stands at the head of papers. What stood before stays, and stays on the papers of its days."""

from __future__ import annotations

import io

from django.db import transaction
from PIL import Image

from accounts import journal, vault
from accounts.models import Person, Role, StoredFile
from accounts.rights import require
from inspection.foundation.attachments import UploadedContent, media_type_of
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.text import line, wrong_in_a_note
from inspection.projects.actions import goes_on
from inspection.projects.models import Project
from inspection.projects.preconditions import in_sight, save_new, snapshot
from reports.papers.models import CompanyHead, ProjectHead

LONGEST_LINE, MOST_LINES, MOST_ADDRESS_LINES = 160, 60, 6
LOGO_MOST_BYTES, LOGO_MOST_PIXELS = 2 * 2**20, 4000
SETTERS = (Role.QUALITY_MANAGER, Role.ADMINISTRATOR)
ALREADY = "This has just been entered."


@transaction.atomic
def enter_company_head(
    by: Person, *, address: str, logo: UploadedContent | None = None, without_logo: bool = False
) -> CompanyHead:
    """Set address and logo of the company from now on; without a logo sent, the one before stays."""
    require(by, *SETTERS, to="set the head of the company’s papers")
    before = CompanyHead.objects.order_by("entered_at", "pk").last()
    told, faults = _lines(address, "address", MOST_ADDRESS_LINES)
    faults += _logo_faults(logo) if logo else []
    if faults:
        raise Refused(faults)
    kept = None if without_logo or before is None else before.logo
    head = CompanyHead(address=told, logo=_kept(by, logo) if logo else kept, entered_by=by)
    if before and (before.address, before.logo_id) == (head.address, head.logo_id):
        raise Refused("Nothing differs from what is stored.")
    save_new(head, already=ALREADY)
    journal.record("paper.company_head", head, by=by, before=snapshot(before) if before else None, after=snapshot(head))
    return head


@transaction.atomic
def enter_project_head(
    by: Person, *, project: Project, order_number: str = "", references: str = "", distribution: str = ""
) -> ProjectHead:
    """Set order number, references and distribution list of the project's papers from now on."""
    require(by, Role.QUALITY_MANAGER, to="set the head of a project’s papers")
    in_sight(by, project)
    goes_on(project)
    before = ProjectHead.objects.filter(project=project).order_by("entered_at", "pk").last()
    order = line(order_number, field="order_number", most=80, needed=False)
    (refers, faults), (sent_to, more) = (
        _lines(references, "references", MOST_LINES), _lines(distribution, "distribution", MOST_LINES),
    )  # fmt: skip
    if faults or more:
        raise Refused([*faults, *more])
    head = ProjectHead(
        project=project, order_number=order, references=refers, distribution=sent_to, entered_by=by
    )  # fmt: skip
    if before and all(getattr(before, name) == getattr(head, name) for name in TOLD):
        raise Refused("Nothing differs from what is stored.")
    save_new(head, already=ALREADY)
    journal.record(
        "paper.project_head", head, by=by, project_id=project.pk, before=snapshot(before) if before else None,
        after=snapshot(head),
    )  # fmt: skip
    return head


TOLD = ("order_number", "references", "distribution")


def _lines(text: str, field: str, most: int) -> tuple[str, list[Fault]]:
    """The lines without empty ones, and what is wrong with them."""
    if wrong := wrong_in_a_note(text):
        return "", [Fault(wrong, field)]
    lines = [each.strip() for each in text.splitlines() if each.strip()]
    faults = [
        Fault(f"Line {number} has {len(each)} characters; at most {LONGEST_LINE} can be printed.", field)
        for number, each in enumerate(lines, 1)
        if len(each) > LONGEST_LINE
    ]
    if len(lines) > most:
        faults.append(Fault(f"These are {len(lines)} lines; at most {most} can be printed.", field))
    return "\n".join(lines), faults


def _logo_faults(logo: UploadedContent) -> list[Fault]:
    if len(logo.content) > LOGO_MOST_BYTES:
        return [Fault(f"The logo is too large; at most {LOGO_MOST_BYTES // 2**20} MB are taken.", "logo")]
    if media_type_of(logo.content) not in ("image/png", "image/jpeg"):
        return [Fault("The logo is neither PNG nor JPEG; choose it in one of these.", "logo")]
    try:
        with Image.open(io.BytesIO(logo.content)) as image:
            if max(image.size) > LOGO_MOST_PIXELS:
                return [Fault(f"The logo is larger than {LOGO_MOST_PIXELS} pixels; make it smaller.", "logo")]
            image.load()
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
        return [Fault("The logo is damaged or cut short; export it anew.", "logo")]
    return []


def _kept(by: Person, logo: UploadedContent) -> StoredFile:
    return vault.store(logo.content, name=logo.name, media_type=media_type_of(logo.content), by=by)
