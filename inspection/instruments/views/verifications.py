"""Verifying a gauge step by step, the list of verifications, and one of them.

The steps keep their state in the address, id included, so that a page can be reloaded, sent again or come back to.
"""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from accounts.middleware import SignedIn
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Asked, Fault, NotAllowed, Refused
from inspection.foundation.units import Unit, in_unit
from inspection.instruments import actions, advice, closing, doubt, losing, overdue, queries, registers
from inspection.instruments.forms import other_checks as other_forms
from inspection.instruments.forms import verifications as forms
from inspection.instruments.models import Gauge, InstrumentRules, ReferenceStandard, Verification
from inspection.instruments.site_checks import SITE_CHECKS, tolerance_told
from inspection.projects.models import Project

A_PAGE = 50
BEGIN_NAMES = ("project", "purpose", "surface", "profile_known", "target")
CHOICE_NAMES = ("adjustment", "on", "stack")
STEPS = ("Gauge", "Purpose", "Shims", "Readings")
OTHER_STEPS = ("Instrument", "Purpose and reference", "Readings")
# What both ways through the steps have.
Beginning = forms.Begin | other_forms.Begin
Chosen = forms.OnWhat | other_forms.Begin


@require_safe
def verification_list(request: SignedIn) -> HttpResponse:
    checks = registers.verifications_for(request.user)
    kept, of = [], None
    for name, (path, rows) in _narrowed_by(request.user).items():
        thing = rows.filter(pk=_uuid(request.GET.get(name))).first() if _uuid(request.GET.get(name)) else None
        if thing:
            checks, of = checks.filter(**{path: thing}).distinct(), thing
            kept.append((name, str(thing.pk)))
    verdict = request.GET.get("verdict", "")
    if verdict in Verification.Verdict.values:
        checks = checks.filter(verdict=verdict)
    shown = {
        "checks": Paginator(checks, A_PAGE).get_page(request.GET.get("page")),
        "verdict": verdict,
        "kept": kept,
        "of": of,
        "query": urlencode([*kept, ("verdict", verdict)]) + "&",
        "may_verify": request.user.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER),
    }
    return render(request, "instruments/verification_list.html", shown)


def _narrowed_by(person: Person) -> dict[str, tuple[str, Any]]:
    """What the list can be narrowed to by the address: where it lies, and what of it the person may see."""
    return {
        "project": ("project", Project.objects.visible_to(person)),
        "gauge": ("gauge", Gauge.objects.visible_to(person)),
        "standard": ("points__uses__certified_value__standard", ReferenceStandard.objects.visible_to(person)),
    }


@require_safe
def verification(request: SignedIn, pk: UUID) -> HttpResponse:
    check = get_object_or_404(registers.with_points(registers.verifications_for(request.user)), pk=pk)
    points = list(check.points.all())
    day = timezone.now().date()
    resting, resting_count = registers.resting_on(check, request.user)
    used = {use.certified_value.certificate for point in points for use in point.uses.all()}
    answers, compared = check.result["points"], not SITE_CHECKS[check.gauge.kind].of_thickness
    pairs = list(zip(points, answers, strict=True))
    shown = {
        "check": check,
        "site_check": SITE_CHECKS[check.gauge.kind],
        "compared": [{"point": point, "judged": judged} for point, judged in pairs] if compared else [],
        "points": []
        if compared
        else [
            {
                "point": point,
                "judged": judged,
                "check": said,
                "mean_nm": _nm(judged["mean_um"]),
                "error_nm": _nm(judged["error_um"]),
                "observed_nm": _nm(said["observed"]),
                "tolerance_nm": _nm(judged["tolerance_um"]),
            }
            for (point, judged), said in zip(pairs, check.result["checks"], strict=True)
        ],
        "papers": [
            {
                "paper": paper,
                "state": queries.certificate_state(
                    paper, day, replaced=getattr(paper, "replaced_by", None) is not None
                ),
            }
            for paper in sorted(used, key=lambda paper: paper.number)
        ],
        "run_out": overdue.of_check(check),
        "resting": resting,
        "resting_count": resting_count,
        "closing": closing.closing_told(check, request.user),
        **(_ways_on(check) if request.user.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER) else {}),
    }
    return render(request, "instruments/verification.html", shown)


def _nm(um: float) -> Fraction:
    """As the filters that write thicknesses take it."""
    return Fraction(str(um)) * 1000


def _ways_on(check: Verification) -> dict[str, Any]:
    """Addresses at which the same check is made again, or put right; and what comes next after one that passed.

    After a failed one the first step is to see it again as it is; adjusting destroys what the gauge shows, so it comes
    second. A version that a correction replaced leads nowhere.
    """
    if hasattr(check, "replaced_by"):
        return {}
    failed = check.verdict == Verification.Verdict.FAIL
    as_it_was = forms.LEFT if check.as_left and not failed else forms.FOUND
    ways: dict[str, Any] = {"again": _again(check, as_left=as_it_was)}
    if not failed:
        before_work = check.purpose == Verification.Purpose.OPENING
        ways["goes_on"] = "measure" if before_work and SITE_CHECKS[check.gauge.kind].of_thickness else "look"
    if failed:
        ways["adjusting"] = _again(check, as_left=forms.LEFT)
    when = forms.LEFT if check.as_left else forms.FOUND
    ways["correct"] = _again(check, as_left=when, adjustment=check.adjustment, replaces=str(check.pk))
    return ways


def _again(check: Verification, **chosen: str) -> str:
    if not SITE_CHECKS[check.gauge.kind].of_thickness:
        return _compared_again(check, **chosen)
    alone: list[str] = []
    stack: list[str] = []
    for point in check.points.all():
        standards = [str(use.certified_value.standard_id) for use in point.uses.all()]
        (alone if len(standards) == 1 else stack).extend(standards)
    target = max(point.thickness_nm for point in check.points.all())
    given = {
        "gauge": check.gauge_id, "project": check.project_id, "purpose": check.purpose,
        "surface": check.surface, "target": in_unit(target, check.project.unit), "on": alone, "stack": stack, **chosen,
    }  # fmt: skip
    return urlencode(given, doseq=True)


def _compared_again(check: Verification, **chosen: str) -> str:
    on = [str(use.certified_value.standard_id) for point in check.points.all() for use in point.uses.all()]
    given = {"gauge": check.gauge_id, "project": check.project_id, "purpose": check.purpose, "on": on, **chosen}
    return urlencode(given, doseq=True)


@require_http_methods(["GET", "HEAD", "POST"])
def verification_new(request: SignedIn) -> HttpResponse:
    """Gauge, purpose, shims, readings: each step is shown until what it asks is in the address."""
    person, asked = request.user, request.GET
    require(person, Role.INSPECTOR, Role.QUALITY_MANAGER, to="verify a gauge")
    corrected = _corrected(request)
    now = corrected.taken_at if corrected else timezone.now()
    gauges = Gauge.objects.visible_to(person).filter(kind__in=SITE_CHECKS)
    gauge = gauges.filter(pk=_uuid(asked.get("gauge"))).first() if _uuid(asked.get("gauge")) else None
    rules = InstrumentRules.now()
    shown: dict[str, Any] = {
        "id": _uuid(asked.get("id")) or new_id(), "gauge": gauge, "steps": STEPS, "rules": rules,
        "corrected": corrected,
    }  # fmt: skip
    if not gauge:
        shown |= {
            "of_person": overdue.of_person(person, now.date()),
            "choices": advice.gauge_choices(person, now.date(), now),
            "step": 0,
            "project": _uuid(asked.get("project")),
        }
        return render(request, "instruments/verify_gauge.html", shown)
    if gauge.kind != Gauge.Kind.THICKNESS:
        return _other_check(request, gauge, shown)
    begin = forms.Begin(
        asked if "target" in asked else None, by=person, gauge=gauge, corrected=corrected, initial=asked.dict()
    )
    ready = begin.is_bound and begin.is_valid()
    shown |= _against(person, gauge, begin.cleaned_data["project"] if ready else None, shown, now)
    if not ready:
        shown |= {"form": begin, "step": 1}
        return render(request, "instruments/verify_purpose.html", shown, status=422 if begin.errors else 200)
    return _on_what(request, gauge, begin, shown)


def _against(
    person: Person, gauge: Gauge, project: Project | None, shown: dict[str, Any], now: datetime
) -> dict[str, Any]:
    """What stands against a check of the gauge now, and what awaits one."""
    corrected, rules = shown["corrected"], shown["rules"]
    day = project.day_of(now) if project else now.date()
    zone = project.zone if project else registers.zone_of(person)
    reliance = queries.Reliance.on(day, gauges=[gauge], warns=rules.warns or bool(corrected))
    reported = doubt.sentences([gauge], zone)
    waiting = 0 if corrected else losing.awaiting(gauge, now)
    return {
        "of_person": [] if corrected else overdue.of_person(person, day, project),
        "awaited": forms.awaited(waiting),
        "used": not corrected and bool(waiting or reported or losing.noted(gauge, now).exists()),
        "choice": advice.gauge_choice(gauge, reliance, now),
        "reported": reported,
    }


def _other_check(request: SignedIn, gauge: Gauge, shown: dict[str, Any]) -> HttpResponse:
    """What for and on what an instrument that measures no coating is checked; then its readings."""
    person, asked, corrected = request.user, request.GET, shown["corrected"]
    check, now = SITE_CHECKS[gauge.kind], corrected.taken_at if corrected else timezone.now()
    used = not corrected and bool(losing.awaiting(gauge, now))
    initial: dict[str, Any] = {
        "purpose": asked.get("purpose"), "project": asked.get("project"), "on": asked.getlist("on"),
        "as_left": asked.get("as_left") or forms.usual_when(asked.get("purpose", ""), used=used),
        "adjustment": asked.get("adjustment", Verification.Adjustment.NONE),
    }  # fmt: skip
    begin = other_forms.Begin(
        asked if "as_left" in asked and "adjustment" in asked else None,
        by=person, check=check, corrected=corrected, initial=initial,
    )  # fmt: skip
    project = Project.objects.visible_to(person).filter(pk=_uuid(asked.get("project")) or new_id()).first()
    project = project or begin.fields["project"].queryset.first()  # type: ignore[attr-defined]  # a choice of rows
    choices = [] if project is None else advice.standard_choices(
        person, project, now, kinds=check.on, warns=bool(corrected) or shown["rules"].warns
    )  # fmt: skip
    begin.offer(choices, project.unit if project else Unit.UM)
    ready = begin.is_bound and begin.is_valid()
    shown |= {"steps": OTHER_STEPS, "site_check": check, "tolerance": tolerance_told(gauge)}
    shown |= _against(person, gauge, project if ready else None, shown, now)
    if not ready:
        shown |= {"form": begin, "step": 1, "unusable": [choice for choice in choices if choice.why_not]}
        return render(request, "instruments/check_purpose.html", shown, status=422 if begin.errors else 200)
    return _readings(request, gauge, begin, begin, shown)


def _on_what(request: SignedIn, gauge: Gauge, begin: forms.Begin, shown: dict[str, Any]) -> HttpResponse:
    """The advice, and the choice of standards."""
    asked, values = request.GET, begin.cleaned_data
    project = values["project"]
    corrected, used = shown["corrected"], shown["used"]
    at, warns = (corrected.taken_at, True) if corrected else (timezone.now(), shown["rules"].warns)
    kinds = SITE_CHECKS[gauge.kind].on
    choices = advice.standard_choices(request.user, project, at, kinds=kinds, warns=warns)
    advised = advice.advise(
        choices, gauge=gauge, target_nm=values["target_nm"], surface=values["surface"],
        profile_known=values["profile_known"],
    )  # fmt: skip
    when = asked.get("as_left") or forms.usual_when(values["purpose"], used=used)
    initial: dict[str, Any] = {"as_left": when, "on": asked.getlist("on"), "stack": asked.getlist("stack")}
    if when == forms.FOUND:
        initial["adjustment"] = Verification.Adjustment.NONE
    if advised:
        initial["on"] = initial["on"] or [str(choice.standard.pk) for choice in advised.check_on]
        initial.setdefault("adjustment", advised.method)
    on_what = forms.OnWhat(
        asked if "adjustment" in asked else None,
        choices=choices, unit=project.unit, initial=initial,
        found_first=forms.usual_when(values["purpose"], used=used) == forms.FOUND,
    )  # fmt: skip
    shown |= {
        "project": project, "begin": values, "advice": advised,
        "carried": _carried(asked, ("gauge", "replaces", *BEGIN_NAMES)),
        "unusable": [choice for choice in choices if choice.why_not], "adjusting": when != forms.FOUND,
    }  # fmt: skip
    if not on_what.is_bound or not on_what.is_valid():
        shown |= {"form": on_what, "step": 2}
        return render(request, "instruments/verify_shims.html", shown, status=422 if on_what.errors else 200)
    return _readings(request, gauge, begin, on_what, shown)


def _readings(
    request: SignedIn, gauge: Gauge, begin: Beginning, on_what: Chosen, shown: dict[str, Any]
) -> HttpResponse:
    """The readings: looked at as often as wished, and stored once."""
    values, how = begin.cleaned_data, on_what.cleaned_data
    corrected: Verification | None = shown["corrected"]
    form = forms.Readings(
        request.POST or None, points=on_what.points(), check=SITE_CHECKS[gauge.kind], project=values["project"],
        corrected=corrected, purpose=values["purpose"],
        now=corrected.taken_at if corrected else timezone.now(),
    )  # fmt: skip
    look = "look" in request.POST
    asking: tuple[Fault, ...] = ()
    if form.is_bound and form.is_valid() and not look:
        try:
            check, new = actions.record_verification(
                request.user, id=shown["id"], gauge=gauge, project=values["project"], purpose=values["purpose"],
                adjustment=how["adjustment"], surface=values["surface"],
                as_left=how["as_left"] == forms.LEFT, taken_at=form.cleaned_data["taken_at"],
                points=form.sent(), note=form.cleaned_data["note"], confirmed=form.is_confirmed, replaces=corrected,
                replacement_reason=form.cleaned_data.get("replacement_reason", ""),
            )  # fmt: skip
        except NotAllowed:
            raise
        except Asked as question:
            asking = question.faults
        except Refused as refusal:
            _show(refusal, form)
        else:
            stored = "is stored, corrected" if corrected else "is stored"
            messages.success(request, f"{_named(check)} {stored if new else 'was already stored'}.")
            return redirect("verification", check.pk)
    shown |= {
        "form": form, "step": len(shown["steps"]) - 1, "warned": _warned(on_what),
        "handling": SITE_CHECKS[gauge.kind].handling or advice.HANDLING, "facts": _facts(begin, on_what),
        "loses": forms.loses_evidence(values["purpose"], how["as_left"], how["adjustment"], used=shown["used"])
        and forms.LOSES_EVIDENCE,
        "asking": asking,
        "combination": InstrumentRules.Combination(shown["rules"].combination).in_words,
        "address": "?" + _with_id(request.GET, shown["id"]),
        "back": "?" + _without(request.GET, CHOICE_NAMES),
        "as_usual": "?" + _without(request.GET, ("as_left", "adjustment")),
    }  # fmt: skip
    return render(request, "instruments/verify_readings.html", shown, status=422 if form.errors or asking else 200)


def _corrected(request: SignedIn) -> Verification | None:
    """The check that `?replaces=` says is to be corrected; None without it. Foreign, unknown or replaced is 404."""
    if "replaces" not in request.GET:
        return None
    seen = registers.with_points(registers.verifications_for(request.user)).filter(replaced_by=None)
    return get_object_or_404(seen, pk=_uuid(request.GET["replaces"]))


def _named(check: Verification) -> str:
    """The check with its time as clocks show it where it was made."""
    taken = check.taken_at.astimezone(check.project.zone)
    return f"{check.gauge} {check.get_purpose_display().split(',')[0].lower()} check of {taken:%Y-%m-%d %H:%M}"


def _facts(begin: Beginning, on_what: Chosen) -> list[tuple[str, str]]:
    """What was chosen in the steps before, in the words it was chosen by."""
    values, how = begin.cleaned_data, on_what.cleaned_data
    return [
        ("Project", str(values["project"])),
        ("Purpose", str(Verification.Purpose(values["purpose"]).label)),
        ("When", dict(forms.WHENS)[how["as_left"]]),
        ("Adjustment", str(Verification.Adjustment(how["adjustment"]).label)),
        *([("Surface", str(Verification.Surface(values["surface"]).label))] if "target" in values else []),
    ]


def _warned(on_what: Chosen) -> list[str]:
    """The chosen standards whose certificate has run out."""
    chosen = {choice.standard.pk: choice for point in on_what.points() for choice in point}
    return [f"{choice.standard}: {choice.warning}." for choice in chosen.values() if choice.warning]


def _show(refusal: Refused, form: forms.Readings) -> None:
    """Faults of a point go beside its readings, the rest on top."""
    of_lines = form.check.by_reference_read
    for fault in refusal.faults:
        if fault.field == "points" and fault.row and fault.row <= len(form.names) and not of_lines:
            form.add_error(form.names[fault.row - 1], fault.message)
        else:
            form.add_error(fault.field if fault.field in form.fields else None, fault.message)


def _carried(asked: QueryDict, names: tuple[str, ...]) -> list[tuple[str, str]]:
    return [(name, value) for name in names for value in asked.getlist(name)]


def _with_id(asked: QueryDict, pk: UUID) -> str:
    kept = asked.copy()
    kept["id"] = str(pk)
    return kept.urlencode()


def _without(asked: QueryDict, names: tuple[str, ...]) -> str:
    kept = asked.copy()
    for name in names:
        kept.pop(name, None)
    return kept.urlencode()


def _uuid(text: str | None) -> UUID | None:
    try:
        return UUID(text or "")
    except ValueError:
        return None
