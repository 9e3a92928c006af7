"""Gauges and reference standards: registering them, who holds them, in what state they are, what befell them."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import TypeVar
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.foundation.units import MOST_NM, Unit, in_unit
from inspection.instruments import overdue, registers
from inspection.instruments.models import SOLUTION_UNIT, Custody, Equipment, Gauge, GaugeIncident, ReferenceStandard
from inspection.instruments.signals import evidence_changed
from inspection.instruments.site_checks import CHOSEN_KINDS, site_check_of
from inspection.projects.preconditions import USED, in_sight, in_time, save_new, snapshot

# No shift is longer than a day; the hour is for the night the clocks go back.
A_SHIFT_AT_MOST = timedelta(hours=25)
# Sea water conducts about half of this.
MOST_US_CM = 100_000
Registered = TypeVar("Registered", Gauge, ReferenceStandard)


@transaction.atomic
def register_gauge(
    by: Person,
    *,
    identity: str,
    kind: str = Gauge.Kind.THICKNESS,
    maker: str = "",
    model: str = "",
    serial: str = "",
    range_from_nm: int | None = None,
    range_to_nm: int | None = None,
    accuracy_pct: Decimal | None = None,
    accuracy_nm: int | None = None,
    checked_on_site: bool = False,
    check_tolerance_pct: Decimal | None = None,
    check_tolerance: Decimal | None = None,
) -> Gauge:
    """Register an instrument. A thickness gauge states its range and its accuracy as ± a % ± b µm.

    One that is `checked_on_site` is checked before and after work from now on, as its kind has it.
    """
    require(by, Role.QUALITY_MANAGER, to="register instruments")
    gauge = Gauge(
        identity=identity.strip(), kind=kind, maker=maker.strip(), model=model.strip(), serial=serial.strip(),
        range_from_nm=range_from_nm, range_to_nm=range_to_nm, accuracy_pct=accuracy_pct, accuracy_nm=accuracy_nm,
        check_tolerance_pct=check_tolerance_pct, check_tolerance=check_tolerance,
    )  # fmt: skip
    if checked_on_site and kind != Gauge.Kind.THICKNESS:
        gauge.checked_since = timezone.now()
    faults = range_faults(gauge) + identity_faults(gauge.identity) + check_faults(gauge)
    if faults:
        raise Refused(faults)
    return _register(by, gauge, "gauge.registered")


def range_faults(gauge: Gauge) -> list[Fault]:
    stated = {
        "range_from_nm": gauge.range_from_nm, "range_to_nm": gauge.range_to_nm,
        "accuracy_pct": gauge.accuracy_pct, "accuracy_nm": gauge.accuracy_nm,
    }  # fmt: skip
    if gauge.kind == Gauge.Kind.THICKNESS:
        missing = [field for field, value in stated.items() if value is None]
        if missing:
            return [
                Fault("A coating thickness gauge needs this figure from its data sheet.", field) for field in missing
            ]
        if not gauge.accuracy_pct and not gauge.accuracy_nm:
            return [Fault("Give the stated accuracy; both parts are zero.", "accuracy_pct")]
    if (gauge.range_from_nm is None) != (gauge.range_to_nm is None):
        return [Fault("Give both ends of the range, or neither.", "range_to_nm")]
    if gauge.range_from_nm is not None and gauge.range_to_nm is not None:
        if gauge.range_to_nm <= gauge.range_from_nm:
            return [Fault("The range ends above where it begins.", "range_to_nm")]
        if gauge.range_to_nm > MOST_NM:
            return [Fault(f"The range ends beyond {MOST_NM // 1_000_000} mm; check the unit.", "range_to_nm")]
    return []


def check_faults(gauge: Gauge) -> list[Fault]:
    """What cannot be right in how its checks on site are asked and judged."""
    check, (pct, fixed) = site_check_of(gauge), (gauge.check_tolerance_pct, gauge.check_tolerance)
    told = [(pct, "check_tolerance_pct"), (fixed, "check_tolerance")]
    if check is None or check.of_thickness:
        words = "Checks of this kind are held to the stated accuracy; give no tolerance of its own." if check else (
            "An instrument of this kind is not checked on site; give no tolerance.")  # fmt: skip
        faults = [Fault(words, name) for value, name in told if value is not None]
        if gauge.checked_since and check and not gauge.accuracy_pct and not gauge.accuracy_nm:
            faults.append(Fault("Its checks are held to the stated accuracy; give it.", "accuracy_pct"))
    else:
        faults = [Fault("Give a tolerance that is more than 0, or none.", name) for value, name in told
                  if value is not None and value <= 0]  # fmt: skip
    if gauge.checked_since and gauge.kind not in CHOSEN_KINDS:
        faults.append(Fault("An instrument of this kind is not checked before and after work.", "checked_on_site"))
    return faults


def identity_faults(identity: str, *, but: Equipment | None = None) -> list[Fault]:
    """A label is read back by its identity alone, so one identity is never on two things, whatever their kind.

    `but` is the thing that bears it already.
    """
    if not identity:
        return [Fault("Give the company's own number, as on the label.", "identity")]
    for kind in (Gauge, ReferenceStandard):
        same = kind._default_manager.filter(identity__iexact=identity)
        if (same.exclude(pk=but.pk) if but else same).exists():
            return [Fault(f"{identity} is already registered; give each thing its own number.", "identity")]
    return []


@transaction.atomic
def register_standard(
    by: Person,
    *,
    identity: str,
    kind: str = ReferenceStandard.Kind.SHIM,
    nominal_nm: int | None = None,
    nominal: Decimal | None = None,
    maker: str = "",
    model: str = "",
    serial: str = "",
) -> ReferenceStandard:
    """Register a shim, coated standard or zero plate by the thickness it is sold as, a solution by its conductivity.

    A reference instrument, such as a voltmeter, is sold as neither.
    """
    require(by, Role.QUALITY_MANAGER, to="register reference standards")
    standard = ReferenceStandard(
        identity=identity.strip(), kind=kind, nominal_nm=nominal_of(kind, nominal_nm), nominal=nominal,
        maker=maker.strip(), model=model.strip(), serial=serial.strip(),
    )  # fmt: skip
    faults = identity_faults(standard.identity) + nominal_faults(kind, standard.nominal_nm, nominal)
    if faults:
        raise Refused(faults)
    return _register(by, standard, "standard.registered")


def nominal_of(kind: str, nominal_nm: int | None) -> int | None:
    """The thickness in nm that it is sold as; a zero plate's is 0, said or not."""
    return 0 if kind == ReferenceStandard.Kind.ZERO and nominal_nm is None else nominal_nm


def nominal_faults(kind: str, nominal_nm: int | None, nominal: Decimal | None = None) -> list[Fault]:
    """What cannot be right in what a standard is sold as: a thickness, a conductivity, or neither."""
    if kind in (ReferenceStandard.Kind.SOLUTION, ReferenceStandard.Kind.INSTRUMENT):
        return _faults_without_thickness(kind, nominal_nm, nominal)
    if nominal is not None:
        return [Fault("Only a standard solution is sold by its conductivity.", "nominal")]
    if kind == ReferenceStandard.Kind.ZERO and nominal_nm != 0:
        return [Fault("A zero plate has no thickness; give 0, or choose another kind.", "nominal_nm")]
    if kind != ReferenceStandard.Kind.ZERO and (nominal_nm is None or not 0 < nominal_nm <= MOST_NM):
        return [Fault("Give the thickness it is sold as, more than 0.", "nominal_nm")]
    return []


def _faults_without_thickness(kind: str, nominal_nm: int | None, nominal: Decimal | None) -> list[Fault]:
    if nominal_nm is not None:
        return [Fault("It has no thickness; leave that empty.", "nominal_nm")]
    if kind == ReferenceStandard.Kind.INSTRUMENT and nominal is not None:
        return [Fault("What it shows is read at each check; give no conductivity.", "nominal")]
    if kind == ReferenceStandard.Kind.SOLUTION and (nominal is None or not 0 < nominal <= MOST_US_CM):
        return [Fault(f"Give the conductivity on its label, in {SOLUTION_UNIT} at 25 °C.", "nominal")]
    return []


def _register(by: Person, thing: Registered, verb: str) -> Registered:
    save_new(
        thing, already=f"{thing.identity} is already registered; give each thing its own number.", field="identity"
    )
    journal.record(verb, thing, by=by, after=snapshot(thing))
    return thing


def _locked(by: Person, gauge: Gauge | None, standard: ReferenceStandard | None) -> Gauge | ReferenceStandard:
    """The one thing meant, fresh and locked until the transaction ends."""
    thing = gauge or standard
    if thing is None or (gauge and standard):
        raise ValueError("name one gauge or one standard")
    in_sight(by, thing)
    locked: Gauge | ReferenceStandard = type(thing)._default_manager.select_for_update().get(pk=thing.pk)
    return locked


@transaction.atomic
def hand_over(
    by: Person,
    *,
    gauge: Gauge | None = None,
    standard: ReferenceStandard | None = None,
    to: Person | None,
    place: str = "",
    at: datetime | None = None,
    id: UUID | None = None,  # noqa: A002 - the sender's own, as the API names it
) -> Custody:
    """Record who holds a thing from now (or `at`) on; nobody means it lies in store, at the place named.

    Whoever takes it over confirms that they have it, at once where they record it themselves. What was sent before
    under its `id` is given back as it stands.

    With a certificate that has run out it goes to a crew only where the company warns instead of blocking; into store,
    or to a quality manager who sends it for calibration, it goes always.
    """
    require(by, Role.QUALITY_MANAGER, Role.INSPECTOR, to="hand over equipment")
    thing = _locked(by, gauge, standard)
    at = at or timezone.now()
    sent = {
        "gauge": gauge,
        "standard": standard,
        "holder": to,
        "place": place.strip(),
        "from_when": at,
        "recorded_by": by,
    }
    if id and (stored := Custody.objects.filter(sent_as=id).first()):
        if any(getattr(stored, name) != value for name, value in sent.items()):
            raise Conflict(Fault(USED, "id"))
        return stored
    if not by.has_role(Role.QUALITY_MANAGER) and by.pk not in (thing.holder_id, to.pk if to else None):
        raise NotAllowed(f"{thing} is not in your hands; take it over yourself, or ask whoever holds it.")
    faults = in_time(at, "at")
    if to and not (to.is_active and to.is_company and to.has_role(Role.INSPECTOR, Role.QUALITY_MANAGER)):
        faults.append(Fault(f"{to} is neither inspector nor quality manager of the company.", "to"))
    if to is None and not place.strip():
        faults.append(Fault("Choose who takes it, or name the place where it lies.", "to"))
    if thing.state == Equipment.State.RETIRED:
        faults.append(Fault(f"{thing} is retired.", ""))
    if faults:
        raise Refused(faults)
    run_out = overdue.begin(overdue_for_crew(thing, to, at))
    custody = Custody(**sent, sent_as=id, confirmed_at=timezone.now() if to == by else None)
    save_new(custody, already="It was handed over at the same moment by someone else.")
    before = {"holder": thing.holder_id}
    newest = type(custody)._default_manager.filter(gauge=gauge, standard=standard).order_by("-from_when", "-pk").first()
    thing.holder = newest.holder if newest else to
    thing.save(update_fields=["holder"])
    after = {"holder": to, "place": custody.place, "from": at} | ({"run_out": run_out} if run_out else {})
    journal.record("equipment.handed_over", thing, by=by, before=before, after=after)
    return custody


@transaction.atomic
def confirm_custody(by: Person, *, gauge: Gauge | None = None, standard: ReferenceStandard | None = None) -> Custody:
    """Say that one has what one was handed; said again it stands as it does. Who has it not hands it over."""
    require(by, Role.QUALITY_MANAGER, Role.INSPECTOR, to="hold equipment")
    thing = _locked(by, gauge, standard)
    held = Custody.objects.filter(gauge=gauge, standard=standard).order_by("-from_when", "-pk").first()
    if held is None or held.holder_id != by.pk:
        raise Conflict(f"{thing} is not in your hands; only whoever it was handed to says that they have it.")
    if held.confirmed_at is None:
        held.confirmed_at = timezone.now()
        held.save(update_fields=["confirmed_at"])
        journal.record("equipment.receipt_confirmed", thing, by=by, after={"from": held.from_when})
    return held


def overdue_for_crew(thing: Gauge | ReferenceStandard, to: Person | None, at: datetime) -> list[Fault]:
    """That the thing's certificate has run out, on the receiver's day; nothing where it does not go to a crew."""
    if to is None or to.has_role(Role.QUALITY_MANAGER):
        return []
    day = at.astimezone(registers.zone_of(to)).date()
    return [
        Fault(f"{words} Hand it into store, or to a quality manager who sends it for calibration.", "to")
        for words in overdue.of_things(day, [thing]).values()
    ]


@transaction.atomic
def set_state(
    by: Person,
    *,
    gauge: Gauge | None = None,
    standard: ReferenceStandard | None = None,
    state: str,
    reason: str,
) -> Gauge | ReferenceStandard:
    """Change the state of a thing. An inspector may quarantine what they doubt; the rest is the quality manager's."""
    if state == Equipment.State.QUARANTINED:
        require(by, Role.QUALITY_MANAGER, Role.INSPECTOR, to="quarantine equipment")
    else:
        require(by, Role.QUALITY_MANAGER, to="change the state of equipment otherwise than to quarantine")
    thing = _locked(by, gauge, standard)
    faults = []
    if state not in Equipment.State.values:
        faults.append(Fault("Choose in service, quarantined, at the laboratory or retired.", "state"))
    if not reason.strip():
        faults.append(Fault("Say why; the journal keeps it.", "reason"))
    if faults:
        raise Refused(faults)
    if thing.state == state:
        raise Conflict(f"{thing} already is {thing.get_state_display().lower()}.")
    before = thing.state
    thing.state = state
    thing.state_since = timezone.now()
    thing.save(update_fields=["state", "state_since"])
    journal.record(
        "equipment.state_changed", thing, by=by, before={"state": before}, after={"state": state}, reason=reason.strip()
    )
    return thing


@transaction.atomic
def report_incident(
    by: Person,
    *,
    gauge: Gauge,
    at: datetime,
    what: str,
    id: UUID | None = None,  # noqa: A002 - as the API names it
) -> GaugeIncident:
    """Report a fall, an erratic reading or anything else that casts doubt on a gauge from that moment on.

    What was sent before under its `id` is given back as it stands.
    """
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="report an incident")
    in_sight(by, gauge)
    if id and (stored := GaugeIncident.objects.filter(pk=id).first()):
        if (stored.gauge_id, stored.at, stored.what, stored.reported_by_id) != (gauge.pk, at, what.strip(), by.pk):
            raise Conflict(Fault(USED, "id"))
        return stored
    faults = in_time(at, "at")
    if not what.strip():
        faults.append(Fault("Say what happened, such as: fell from the scaffold board.", "what"))
    if faults:
        raise Refused(faults)
    incident = GaugeIncident(id=id or new_id(), gauge=gauge, at=at, what=what.strip(), reported_by=by)
    save_new(incident, already="This incident has just been reported.")
    journal.record("gauge.incident_reported", gauge, by=by, after={"at": at, "what": incident.what})
    evidence_changed.send(
        sender=Gauge,
        by=by,
        gauges=[gauge.pk],
        since=at - A_SHIFT_AT_MOST,
        # Read by the clients whose points it puts in doubt; what was written may speak of another client's works.
        because=f"An incident with {gauge} at {at:%Y-%m-%d %H:%M} UTC was reported.",
    )
    return incident


def stated_accuracy(gauge: Gauge) -> str:
    """± a % ± b µm, as the maker states it; empty when not stated."""
    if gauge.accuracy_pct is None or gauge.accuracy_nm is None:
        return ""
    return f"± {gauge.accuracy_pct.normalize():f} % ± {in_unit(gauge.accuracy_nm, Unit.UM)} µm"
