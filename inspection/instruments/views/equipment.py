"""Pages of gauges and reference standards: the register, one thing, and what is done with it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.forms import carried_out, status_of
from accounts.journal import digest_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rehearsal import told_first
from accounts.rights import require
from inspection.foundation.charts import as_svg, control_chart
from inspection.foundation.labels import SHEETS
from inspection.foundation.lookalikes import tell_alike
from inspection.foundation.units import Unit
from inspection.instruments import actions, doubt, gauge_errors, overdue, queries, registers
from inspection.instruments.actions.equipment import stated_accuracy
from inspection.instruments.company_rules import reads_rules
from inspection.instruments.forms import equipment as forms
from inspection.instruments.labels import labels_pdf
from inspection.instruments.models import (
    Equipment,
    Gauge,
    GaugeIncident,
    InstrumentRules,
    ReferenceStandard,
    Verification,
)
from inspection.instruments.site_checks import CHOSEN_KINDS, site_check_of, tolerance_told

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 60
CHECKS_SHOWN = 10
FEW = 8
ERRORS_SHOWN = 60
WIDE, NARROW = {"width": 640, "height": 240}, {"width": 330, "height": 230}


@require_safe
def equipment(request: SignedIn) -> HttpResponse:
    """What the person holds, all gauges, or all reference standards."""
    person, asked, day = request.user, request.GET, timezone.now().date()
    gauges, standards = registers.gauges_for(person, day), registers.standards_for(person, day)
    held_gauges, held_standards = list(gauges.filter(holder=person)), list(standards.filter(holder=person))
    show = asked.get("show") or ("hands" if held_gauges or held_standards else "gauges")
    wanted = {name: asked.get(name, "").strip()[:40] for name in ("words", "kind", "state", "papers")}
    listed: QuerySet[Any] = standards if show == "standards" else gauges
    rows = Paginator(registers.filtered(listed, day=day, **wanted), A_PAGE).get_page(asked.get("page"))
    kinds = ReferenceStandard.Kind.choices if show == "standards" else Gauge.Kind.choices
    shown = {
        "show": show,
        "held_gauges": _marked(held_gauges, day),
        "held_standards": _marked(held_standards, day),
        "page": rows,
        "rows": _marked(rows, day),
        "wanted": wanted,
        "kinds": kinds,
        "states": Equipment.State.choices,
        "papers": registers.PAPERS.items(),
        "may_filter": rows.paginator.count > FEW or any(wanted.values()),
        "query": _query({"show": show, **wanted}),
        "may_read_rules": reads_rules(person),
        "may_register": person.has_role(Role.QUALITY_MANAGER),
        "may_verify": person.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER),
    }
    return _in_zone(request, registers.zone_of(person), "instruments/equipment.html", shown)


def _query(values: dict[str, str]) -> str:
    return urlencode({name: value for name, value in values.items() if value}) + "&"


def _marked(things: Any, day: Any) -> list[dict[str, Any]]:
    """Each thing with the state of its papers for the status mark."""
    return [{"thing": thing, "papers": queries.papers_state(thing.paper_expires, day)} for thing in things]


def _in_zone(request: SignedIn, zone: ZoneInfo, template: str, shown: dict[str, Any]) -> HttpResponse:
    """The page with its times as clocks show them in the zone, which it names."""
    with timezone.override(zone):
        return render(request, template, shown | {"zone": zone.key})


@require_safe
def gauge(request: SignedIn, pk: UUID) -> HttpResponse:
    day = timezone.now().date()
    found: Any = get_object_or_404(registers.gauges_for(request.user, day), pk=pk)
    checks = registers.verifications_for(request.user).filter(gauge=found)
    shown = {
        "thing": found,
        "kind": "gauge",
        "accuracy": stated_accuracy(found),
        "site_check": site_check_of(found),
        "tolerance": tolerance_told(found),
        "may_be_asked": found.kind in CHOSEN_KINDS,
        "papers": queries.papers_state(found.paper_expires, day),
        "certificates": _certificates(found, day),
        **_checks(checks),
        "incidents": GaugeIncident.objects.visible_to(request.user)
        .filter(gauge=found)
        .select_related("reported_by")[:20],
        **_custody(request, found),
        **_rights(request, found),
        **(_history(request, found) if found.kind == Gauge.Kind.THICKNESS else {}),
    }
    return _in_zone(request, registers.zone_of_gauge(found, request.user), "instruments/gauge.html", shown)


def _checks(checks: QuerySet[Verification]) -> dict[str, Any]:
    """The newest checks, and how many there are where these are not all."""
    newest = list(checks[: CHECKS_SHOWN + 1])
    more = checks.count() if len(newest) > CHECKS_SHOWN else 0
    return {"checks": newest[:CHECKS_SHOWN], "more_checks": more}


def _certificates(thing: Any, day: Any) -> list[dict[str, Any]]:
    values: Any = registers.values_of(thing)
    return [
        {"value": value, "state": queries.certificate_state(value.certificate, day, replaced=value.replaced)}
        for value in values
    ]


def _custody(request: SignedIn, thing: Any) -> dict[str, Any]:
    """Who held it and where: the company's own matter, since places and people are those of all its clients."""
    if not request.user.is_company:
        return {}
    rows = list(thing.custody.select_related("holder", "recorded_by")[:20])
    mine = bool(rows) and rows[0].holder_id == request.user.pk and rows[0].confirmed_at is None
    return {"keeps": True, "custody": rows, "to_confirm": rows[0] if mine else None}


def _rights(request: SignedIn, thing: Any) -> dict[str, bool]:
    manager, inspector = request.user.has_role(Role.QUALITY_MANAGER), request.user.has_role(Role.INSPECTOR)
    return {
        "may_manage": manager,
        "may_handle": manager or inspector,
        "may_quarantine": (manager or inspector) and thing.state != Equipment.State.QUARANTINED,
    }


def _history(request: SignedIn, found: Gauge) -> dict[str, Any]:
    """The chosen series of errors and what it says."""
    as_found = request.GET.get("checks") == gauge_errors.CHECKS_AS_FOUND
    series = gauge_errors.series_of(found, request.user, as_found=as_found)
    chosen = next((one for one in series if one.key == request.GET.get("on")), series[0] if series else None)
    if not chosen:
        return {"series": [], "as_found": as_found}
    return {
        "series": series,
        "chosen": chosen,
        "as_found": as_found,
        "study": gauge_errors.study_of(found, chosen, request.user, now=timezone.now()),
        # The tolerance is that of the newest check, and so is the way it was made.
        "combination": Verification.objects.get(pk=chosen.errors[-1].verification).combination.in_words,
        "fewest_for_limits": gauge_errors.FEWEST_FOR_LIMITS,
        "fewest_for_drift": gauge_errors.FEWEST_FOR_DRIFT,
        "errors": list(reversed(chosen.errors))[:ERRORS_SHOWN],
        "chart_query": _query({"on": chosen.key, "checks": gauge_errors.CHECKS_AS_FOUND if as_found else ""}),
    }


@require_safe
def gauge_chart(request: SignedIn, pk: UUID) -> HttpResponse:
    """The control chart of the chosen series as SVG, shown by <img>."""
    found = get_object_or_404(Gauge.objects.visible_to(request.user), pk=pk)
    about = _history(request, found)
    if not about["series"]:
        raise Http404
    chosen, study = about["chosen"], about["study"]
    drawing = control_chart(
        [(error.at, error.error_um) for error in chosen.errors],
        unit=Unit.UM, limits=study.limits, tolerance=study.tolerance_um, title=f"Errors of {found} on {chosen.label}",
        **(NARROW if "narrow" in request.GET else WIDE),
    )  # fmt: skip
    return HttpResponse(as_svg(drawing), content_type="image/svg+xml")


@require_safe
def standard(request: SignedIn, pk: UUID) -> HttpResponse:
    day = timezone.now().date()
    found: Any = get_object_or_404(registers.standards_for(request.user, day), pk=pk)
    checks = registers.verifications_for(request.user).filter(points__uses__certified_value__standard=found).distinct()
    shown = {
        "thing": found,
        "kind": "standard",
        "papers": queries.papers_state(found.paper_expires, day),
        "certificates": _certificates(found, day),
        **_checks(checks),
        **_custody(request, found),
        **_rights(request, found),
    }
    return _in_zone(request, registers.zone_of(request.user), "instruments/standard.html", shown)


@require_safe
def equipment_by_identity(request: SignedIn, identity: str) -> HttpResponse:
    """Where a scanned label leads: to the page of the thing with that identity."""
    for model, name in ((Gauge, "gauge"), (ReferenceStandard, "standard")):
        thing = model._default_manager.visible_to(request.user).filter(identity__iexact=identity).first()
        if thing:
            return redirect(name, thing.pk)
    raise Http404


@require_safe
def labels(request: SignedIn) -> HttpResponse:
    """Choose labels; once chosen, the sheets as PDF. Printing changes nothing, so all of it is in the address."""
    require(request.user, Role.QUALITY_MANAGER, Role.INSPECTOR, to="print labels")
    asked = request.GET
    initial = {"gauge": asked.getlist("gauge"), "standard": asked.getlist("standard")}
    form = forms.ChooseLabels(asked if "sheet" in asked else None, by=request.user, initial=initial)
    if form.is_bound and form.is_valid():
        sheet = SHEETS[form.cleaned_data["sheet"]]
        content = labels_pdf(form.chosen(), sheet=sheet, start=form.cleaned_data["start"])
        headers = {"Content-Disposition": 'attachment; filename="labels.pdf"'}
        return HttpResponse(content, content_type="application/pdf", headers=headers)
    return render(request, "instruments/labels.html", {"form": form}, status=status_of(form))


# --- what is done with them -------------------------------------------------------------------------------------------


@page
def gauge_new(request: SignedIn) -> HttpResponse:
    require(request.user, Role.QUALITY_MANAGER, to="register instruments")
    return _register(request, forms.RegisterGauge, actions.register_gauge, "gauge", "Register an instrument")


@page
def standard_new(request: SignedIn) -> HttpResponse:
    require(request.user, Role.QUALITY_MANAGER, to="register reference standards")
    heading = "Register a reference standard"
    return _register(request, forms.RegisterStandard, actions.register_standard, "standard", heading)


def _register(request: SignedIn, form_class: Any, action: Any, name: str, heading: str) -> HttpResponse:
    form = form_class(request.POST or None)
    made: list[Any] = []
    if carried_out(form, lambda values: made.append(action(request.user, **values))):
        messages.success(request, f"{made[0]} is registered. Next, record its certificate.")
        tell_alike(request, [made[0].identity], registers.identities())
        return redirect(name, made[0].pk)
    shown = {"form": form, "heading": heading, "submit": "Register", "cancel_name": "equipment"}
    return render(request, "instruments/one_form.html", shown, status=status_of(form))


def _thing(request: SignedIn, kind: str, pk: UUID) -> Any:
    model: Any = Gauge if kind == "gauge" else ReferenceStandard
    return get_object_or_404(model.objects.visible_to(request.user).select_related("holder"), pk=pk)


def _deed(
    request: SignedIn,
    kind: str,
    thing: Any,
    form: Any,
    act: Any,
    *,
    heading: str,
    submit: str,
    done: str,
    run_out: Sequence[str] = (),
) -> HttpResponse:
    """One form about one thing; back to its page when done."""
    if carried_out(form, act):
        messages.success(request, done)
        return redirect(kind, thing.pk)
    shown = {"form": form, "heading": heading, "submit": submit, "thing": thing, "kind": kind, "run_out": run_out}
    if run_out:
        shown["rules"] = InstrumentRules.now()
    if kind == "gauge":
        shown["reported"] = doubt.sentences([thing], registers.zone_of_gauge(thing, request.user))
    return render(request, "instruments/one_form.html", shown, status=status_of(form))


@page
def hand_over(request: SignedIn, kind: str, pk: UUID) -> HttpResponse:
    thing = _thing(request, kind, pk)
    require(request.user, Role.QUALITY_MANAGER, Role.INSPECTOR, to="hand over equipment")
    form = forms.HandOver(request.POST or None, by=request.user, thing=thing)
    day = timezone.now().astimezone(registers.zone_of(request.user)).date()
    return _deed(
        request, kind, thing, form, lambda values: actions.hand_over(request.user, **{kind: thing}, **values),
        heading=f"Hand over {thing}", submit="Hand over", done=f"Who holds {thing} is recorded.",
        run_out=list(overdue.of_things(day, [thing]).values()),
    )  # fmt: skip


@require_POST
def confirm_custody(request: SignedIn, kind: str, pk: UUID) -> HttpResponse:
    """That one has what one was handed."""
    thing = _thing(request, kind, pk)
    actions.confirm_custody(request.user, **{kind: thing})
    messages.success(request, f"It is recorded that you have {thing}.")
    return redirect(kind, pk)


@page
def equipment_state(request: SignedIn, kind: str, pk: UUID) -> HttpResponse:
    thing = _thing(request, kind, pk)
    require(request.user, Role.QUALITY_MANAGER, Role.INSPECTOR, to="change the state of equipment")
    form = forms.SetState(request.POST or None, by=request.user, thing=thing)
    return _deed(
        request, kind, thing, form, lambda values: actions.set_state(request.user, **{kind: thing}, **values),
        heading=f"Change the state of {thing}", submit="Change the state", done=f"The state of {thing} is changed.",
    )  # fmt: skip


@page
def equipment_correct(request: SignedIn, kind: str, pk: UUID) -> HttpResponse:
    """What is registered of a thing; what a correction changes elsewhere is shown before it is stored."""
    thing = _thing(request, kind, pk)
    require(request.user, Role.QUALITY_MANAGER, to="correct what is registered of equipment")
    form = (forms.CorrectGauge if kind == "gauge" else forms.CorrectStandard)(request.POST or None, thing=thing)
    touched: list[str] = []

    def act(values: dict[str, Any]) -> None:
        def store() -> Gauge | ReferenceStandard:
            return actions.correct_equipment(request.user, thing=thing, **values)

        touched.extend(told_first(values, request.POST.get("confirmed", ""), store, but="equipment.corrected"))

    if carried_out(form, act) and not touched:
        messages.success(request, "Corrected; the journal keeps what stood before.")
        tell_alike(request, [form.cleaned_data["identity"]], registers.identities())
        return redirect(kind, pk)
    shown = {
        "kind": kind, "thing": thing, "form": form, "heading": f"Correct {thing}", "submit": "Correct it",
        "touched": touched, "confirmed": digest_of(form.cleaned_data) if touched else "",
    }  # fmt: skip
    return render(request, "instruments/one_form.html", shown, status=status_of(form))


@page
def gauge_checks(request: SignedIn, pk: UUID) -> HttpResponse:
    """From now on, or no longer, checked on site before and after work."""
    thing = _thing(request, "gauge", pk)
    require(request.user, Role.QUALITY_MANAGER, to="choose how instruments are checked")
    zone = registers.zone_of_gauge(thing, request.user)
    asked = thing.checked_since is None
    form = forms.AskForChecks(request.POST or None, zone=zone) if asked else forms.NoMoreChecks(request.POST or None)
    heading = f"Check {thing} on site before and after work" if asked else f"No longer check {thing} before and after"
    return _deed(
        request, "gauge", thing, form,
        lambda values: actions.ask_for_checks(request.user, gauge=thing, **{"since": None, **values}),
        heading=heading, submit="From then on" if asked else "No longer",
        done=f"How {thing} is checked is changed; the standing of what it measured follows.",
    )  # fmt: skip


@page
def incident_new(request: SignedIn, pk: UUID) -> HttpResponse:
    thing = _thing(request, "gauge", pk)
    require(request.user, Role.INSPECTOR, Role.QUALITY_MANAGER, to="report an incident")
    form = forms.ReportIncident(request.POST or None, zone=registers.zone_of_gauge(thing, request.user))
    return _deed(
        request, "gauge", thing, form, lambda values: actions.report_incident(request.user, gauge=thing, **values),
        heading=f"Report an incident with {thing}", submit="Report it",
        done=f"Reported. Check {thing} before it is used again.",
    )  # fmt: skip
