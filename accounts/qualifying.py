"""Every change to the schemes by which people are certified, and to the papers they hold under them."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Qualification, Role, Scheme
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.foundation.text import line

LONGEST_REASON = 1_000


# --- schemes ----------------------------------------------------------------------------------------------------------


@transaction.atomic
def add_scheme(by: Person, *, name: str) -> Scheme:
    """One more scheme on the company's list, from which papers and projects choose."""
    _may_keep_schemes(by)
    scheme = Scheme(name=_free_name(name))
    _save(scheme)
    journal.record("scheme.added", scheme, by=by, after={"name": scheme.name})
    return scheme


@transaction.atomic
def change_scheme(by: Person, *, scheme: Scheme, name: str, retired: bool) -> Scheme:
    """Another name for a scheme, for all papers under it; or off the list for what is new, or on it again."""
    _may_keep_schemes(by)
    scheme = Scheme.objects.select_for_update().get(pk=scheme.pk)
    before = {"name": scheme.name, "retired": scheme.retired_at is not None}
    scheme.name = _free_name(name, but=scheme)
    if retired != before["retired"]:
        scheme.retired_at = timezone.now() if retired else None
    _save(scheme)
    after = {"name": scheme.name, "retired": retired}
    if after != before:
        journal.record("scheme.changed", scheme, by=by, before=before, after=after)
    return scheme


def _may_keep_schemes(by: Person) -> None:
    require(by, Role.ADMINISTRATOR, Role.QUALITY_MANAGER, to="keep the list of schemes")


def _free_name(name: str, but: Scheme | None = None) -> str:
    name = " ".join(line(name, field="name", most=120).split())
    same = Scheme.objects.filter(name__iexact=name).first()
    if same and same != but:
        raise Refused(f"{same} stands on the list already.", field="name")
    return name


def _save(scheme: Scheme) -> None:
    try:
        with transaction.atomic():
            scheme.save()
    except IntegrityError:
        raise Conflict(f"Somebody has just added {scheme.name}.") from None


# --- papers -----------------------------------------------------------------------------------------------------------


@transaction.atomic
def add_qualification(by: Person, *, person: Person, **given: Any) -> Qualification:
    """A person's certificate of competence: scheme, level, number, issued, expires (None: never).

    Only the company's own people can say that they have seen it.
    """
    _may_record(by)
    paper = _filled(Qualification(person=person), **given)
    if paper.scheme.retired_at:
        raise Refused(f"{paper.scheme} is off the list for new papers.", field="scheme")
    paper.save(force_insert=True)
    journal.record("qualification.added", person, by=by, after=_journalled(paper))
    return paper


@transaction.atomic
def correct_qualification(by: Person, *, qualification: Qualification, reason: str, **given: Any) -> Qualification:
    """Put right what was typed wrong; the journal keeps what it said before, and why."""
    _may_record(by)
    paper = _standing(qualification)
    before = _journalled(paper)
    paper = _filled(paper, **given)
    reason = _reason(reason, "Say what was wrong; the journal keeps it.")
    paper.save()
    journal.record(
        "qualification.corrected", paper.person, by=by, before=before, after=_journalled(paper), reason=reason
    )
    return paper


@transaction.atomic
def withdraw_qualification(by: Person, *, qualification: Qualification, reason: str) -> Qualification:
    """Take a paper out of account: recorded for somebody else, revoked, never seen. It stays readable."""
    _may_record(by)
    paper = _standing(qualification)
    paper.withdrawal_reason = _reason(reason, "Say why it is withdrawn; it stays readable with the reason.")
    paper.withdrawn_at = timezone.now()
    paper.save(update_fields=["withdrawn_at", "withdrawal_reason"])
    journal.record(
        "qualification.withdrawn", paper.person, by=by, before=_journalled(paper), reason=paper.withdrawal_reason
    )
    return paper


def _may_record(by: Person) -> None:
    require(by, Role.ADMINISTRATOR, Role.QUALITY_MANAGER, to="record qualifications")


def _standing(qualification: Qualification) -> Qualification:
    """The paper, held until the transaction ends; Conflict where it was withdrawn."""
    held = Qualification.objects.select_for_update(of=("self",)).select_related("scheme", "person")
    paper = held.get(pk=qualification.pk)
    if paper.withdrawn_at:
        raise Conflict("This qualification was withdrawn; record it anew if it holds after all.")
    return paper


def _filled(
    paper: Qualification, *, scheme: Scheme, level: str, number: str, issued: date, expires: date | None
) -> Qualification:
    faults = []
    if expires is not None and expires <= issued:
        faults.append(Fault("It must run out after the day it was issued.", "expires"))
    if issued > timezone.now().date() + timedelta(days=1):
        faults.append(Fault("The day it was issued lies in the future.", "issued"))
    if issued.year < 1950:
        faults.append(Fault("Check the year.", "issued"))
    if expires is not None and expires.year > 2150:
        faults.append(Fault("Check the year.", "expires"))
    if faults:
        raise Refused(faults)
    paper.scheme, paper.issued, paper.expires = scheme, issued, expires
    paper.level = line(level, field="level", most=60, needed=False)
    paper.number = line(number, field="number", most=60)
    return paper


def _reason(reason: str, lacking: str) -> str:
    reason = reason.strip()
    if not reason:
        raise Refused(lacking, field="reason")
    if len(reason) > LONGEST_REASON:
        raise Refused(f"Give at most {LONGEST_REASON} characters; these are {len(reason)}.", field="reason")
    return reason


def _journalled(paper: Qualification) -> dict[str, Any]:
    return {
        "scheme": paper.scheme.name, "level": paper.level, "number": paper.number, "issued": paper.issued,
        "expires": paper.expires,
    }  # fmt: skip
