"""The cast at work: for each of the two projects one of everything that an address can name."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone
from PIL import Image

from accounts import vault
from accounts.models import (
    ApiToken,
    Invitation,
    JournalEntry,
    Letter,
    Organisation,
    Person,
    Qualification,
    Role,
    Tiding,
)
from inspection.diary.models import DaySignature, DiaryEntry, NoteRead, SignedThing
from inspection.drawings.models import Drawing, DrawingArea, DrawingNote, DrawingRevision
from inspection.fieldwork import actions as fieldwork
from inspection.fieldwork.climate import stations
from inspection.fieldwork.climate.logger_files import store_file
from inspection.fieldwork.cure.recording import CURE
from inspection.fieldwork.cuttest.recording import CUT_TEST
from inspection.fieldwork.defects.recording import DEFECTS
from inspection.fieldwork.hardness.recording import HARDNESS
from inspection.fieldwork.highvoltage.recording import HIGH_VOLTAGE
from inspection.fieldwork.kinds import BY_NAME
from inspection.fieldwork.models import KeptUpload, ThicknessRecord, ToldShape
from inspection.fieldwork.printed.actions import print_sheet
from inspection.fieldwork.profile.recording import LocationSent, record_profile
from inspection.fieldwork.pulloff.recording import PULL_OFF
from inspection.fieldwork.tested import AsTested
from inspection.fieldwork.wetfilm.recording import WET_FILM
from inspection.fieldwork.wetsponge.recording import WET_SPONGE
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.ids import new_id
from inspection.holdpoints.actions.keeping import keep_places
from inspection.holdpoints.models import Decision, HoldPoint, PointLetter, Requirement
from inspection.instruments.actions import PointSent, record_verification
from inspection.instruments.actions.certificates import StandardValue, record_certificate
from inspection.instruments.actions.equipment import register_gauge, register_standard, report_incident
from inspection.instruments.models import Custody, GaugeIncident
from inspection.nonconformance.models import (
    Disposition,
    ExtentSpot,
    Nonconformance,
    Remainder,
    RepairedPart,
    ReworkEntry,
    ReworkItem,
)
from inspection.notices.models import Notice, NoticeParty, NoticePlace, NoticeStep
from inspection.photos.models import Photo, PhotoLayer
from inspection.plan.models import (
    Approval,
    ApprovalAsked,
    ClosedDay,
    Intervention,
    LegendLetter,
    LineRequirement,
    Plan,
    PlanLine,
)
from inspection.projects.models import (
    Coat,
    DataSheet,
    DataSheetRow,
    Deviation,
    DeviationAnswer,
    InspectionArea,
    Membership,
    Party,
    Scope,
    Section,
    Specification,
    SpecificationRevision,
    StoredTable,
    StripeCoat,
    ToldTable,
)
from inspection.recall.models import AskedRecall, Recall
from inspection.works.models import (
    BatchStep,
    Crew,
    CrewPerson,
    Lot,
    LotMix,
    LotParent,
    LotPlace,
    Mix,
    MixPart,
    PaintBatch,
    Shift,
)
from reports.attention.models import CalendarLink
from reports.daily.models import ClientWord, DailyReport, Reporting, ReportIssue, Review, SetAside
from reports.papers.models import CompanyHead, ProjectHead
from reports.questions.models import ReadingAnswer, ReadingQuestion
from reports.work.models import Heartbeat, Job
from tests import cast as casting
from tests.cast import DAY, MORNING, Cast
from tests.fieldwork.build import GOOD_SPOTS
from tests.fieldwork.samples import SAMPLES
from tests.sight.markers import fill, found_in

PDF = b"%PDF-1.4\n%%EOF\n"
HOUR = timedelta(hours=1)
SAME = "spot,µm\n1,80".encode()


@dataclass
class Place:
    """One project with the things in it, and the instruments that were used on it alone."""

    cast: Cast
    site: casting.Site
    inspector: Person
    client: Person
    # Of the project's painting contractor.
    painter: Person
    # What is written into the texts of this project, and must be read in no other; and into the names of its
    # instruments, which the company's inspectors share but nobody outside may read.
    mark: str
    tools: str
    things: dict[str, Any] = field(default_factory=dict)

    def pk(self, name: str) -> dict[str, Any]:
        return {"pk": self.things[name].pk}


@dataclass
class World:
    cast: Cast
    own: Place
    foreign: Place
    # Of the own client now, and formerly of the foreign one, for which a part in the foreign project is still open.
    returned: Person

    def secrets_from(self, person: Person) -> tuple[str, ...]:
        """Words that only the foreign project's pages may hold."""
        if person.sees_every_project:
            return ()
        place = self.foreign
        contractor = place.painter.organisation
        words = (
            place.site.project.code, self.cast.other_owner.name, self.cast.carl.name, place.mark, contractor.name,
            place.painter.name,
        )  # fmt: skip
        return words if person.is_company else (*words, place.tools)

    def told_of_foreign(self, person: Person, text: str) -> list[str]:
        """What the text tells the person of the foreign project; a marker is told by its column."""
        return [told for secret in self.secrets_from(person) for told in found_in(text, secret)]


def build() -> World:
    # No worker runs beside the world, but one that another test killed may have beaten once more.
    Heartbeat.objects.all().delete()
    cast = casting.cast()
    own = Place(cast, cast.site, cast.ines, cast.clara, _painter(cast.site, "Pia"), "Heron", "K21")
    foreign = Place(cast, cast.foreign, cast.igor, cast.carl, _painter(cast.foreign, "Pablo"), "Osprey", "K22")
    # The same bytes come from both; the foreign client's were the first.
    vault.store(SAME, name=f"{foreign.mark}.csv", media_type="text/csv", by=None)
    for place in (own, foreign):
        _instruments(place)
        _records(place)
        _points(place)
        _plan(place)
        _notice(place)
        _photos(place)
        _drawings(place)
        _diary(place)
        _reports(place)
        entries = JournalEntry.objects.filter(project_id=place.site.project.pk)
        place.things["entry"] = entries.earliest("pk")
        place.things |= {"project": place.site.project, "area": place.site.area, "system": place.site.system}
        place.things |= {"structure": place.site.structure, "section": _section(place)}
        place.things |= _paint(place)
        _specification(place)
        place.things["membership"] = Membership.objects.get(project=place.site.project, person=place.client)
        _crew(place)
        _batches(place)
        _station(place)
        _rest(place)
        _parties(place)
    _gauge_lent(own, foreign)
    for place in (own, foreign):
        fill(place)
    _read_again(cast, own, foreign)
    return World(cast, own, foreign, _returned(cast))


def _specification(place: Place) -> None:
    """A revision with its paper, on which the system stands, and a deviation that was asked for and answered."""
    quinn, things, system = place.cast.quinn, place.things, place.site.system
    things["specification"] = Specification.objects.create(project=place.site.project, number="S-1", title="Painting")
    things["specification_revision"] = SpecificationRevision.objects.create(
        specification=things["specification"], revision="C1", dated=DAY, added_by=quinn, file=things["file"]
    )
    things["deviation"] = Deviation.objects.create(
        specification=things["specification"], number=1, asked="Brush", asked_for="Somebody", asked_on=DAY,
        entered_by=quinn,
    )  # fmt: skip
    things["deviation_answer"] = DeviationAnswer.objects.create(
        deviation=things["deviation"], outcome="accepted", answer="Agreed", answered_by="Somebody", answered_on=DAY,
        entered_by=quinn,
    )  # fmt: skip
    system.specification_revision = things["specification_revision"]
    system.save()


def _painter(site: casting.Site, name: str) -> Person:
    """The project's painting contractor, and one of theirs who takes part."""
    painters = Organisation.objects.create(name=f"Painters of {name}", kind=Organisation.Kind.CONTRACTOR)
    painter = casting.person(f"{name} Painter", painters, Role.CONTRACTOR)
    site.project.contractor = painters
    site.project.save()
    Membership.objects.create(project=site.project, person=painter, organisation=painters, role=Role.CONTRACTOR)
    return painter


def _section(place: Place) -> Section:
    """Both areas hang in it."""
    section = Section.objects.create(structure=place.site.structure, name="Bay", path="Bay")
    place.site.structure.areas.update(section=section)
    return section


def _crew(place: Place) -> None:
    """A crew of the company with the place's inspector, and a shift of the day before."""
    party = Party.objects.get(project=place.site.project, kind=Party.Kind.INSPECTION)
    crew = Crew.objects.create(project=place.site.project, party=party, name="Days")
    part = CrewPerson.objects.create(crew=crew, person=place.inspector, begun_at=MORNING - 48 * HOUR)
    shift = Shift.objects.create(crew=crew, planned_begin=MORNING - 25 * HOUR, planned_end=MORNING - 15 * HOUR)
    place.things |= {"crew": crew, "crew_person": part, "shift": shift, "lot": _lots(place, crew, shift)}


def _lots(place: Place, crew: Crew, shift: Shift) -> Lot:
    """Steel blasted the day before, and the primer begun on it, which nobody has ended."""
    common = {
        "project": place.site.project, "crew": crew, "entered_by": place.inspector, "note": "By the door",
        "applicators": "Somebody", "pump_ratio": "60:1", "tip": "519", "why": "Typing", "digest": "0" * 64,
    }  # fmt: skip
    blasted = Lot.objects.create(
        number=1, activity="blast", method="dryblast", shift=shift, begun_at=MORNING - 24 * HOUR,
        ended_at=MORNING - 16 * HOUR, **common,
    )  # fmt: skip
    primed = Lot.objects.create(
        number=2, activity="coat", method="airless", coat=place.site.coats[0], begun_at=MORNING - 15 * HOUR,
        gone_over=["No climate was recorded."], withdrawn_why="Twice", drawn_l=20, **common,
    )  # fmt: skip
    for lot in (blasted, primed):
        LotPlace.objects.create(lot=lot, area=place.site.area, m2=8)
    LotParent.objects.create(lot=primed, parent=blasted)
    return primed


def _batches(place: Place) -> None:
    """A batch of the company's, put in quarantine and extended, and a mix of it."""
    party = Party.objects.get(project=place.site.project, kind=Party.Kind.INSPECTION)
    common = {"project": place.site.project, "party": party, "entered_by": place.inspector, "digest": "0" * 64}
    batch = PaintBatch.objects.create(
        product="Paint", component="single", number="B-1", expires_on=DAY, received=20, unit="l", place="Store",
        received_at=MORNING - 48 * HOUR, received_by="Somebody", note="Dented", withdrawn_why="Twice",
        file=place.things["file"], file_name="receipt.pdf", **common,
    )  # fmt: skip
    step = BatchStep.objects.create(
        batch=batch, what="extended", at=MORNING - HOUR, dated=DAY, expires_on=DAY, reference="L-1", why="Retested",
        withdrawn_why="Another batch", entered_by=place.inspector, file=place.things["file"], file_name="letter.pdf",
    )  # fmt: skip
    mix = Mix.objects.create(
        number=1, coat=place.site.coats[0], mixed_at=MORNING - HOUR, stirred="power", sheet_told="Paint, 2026-01",
        ratio_wanted="4:1", ratio_mixed="4:1", pot_life_told="Not stated", note="Warm", gone_over=["Expired"],
        reason="Told late", withdrawn_why="Twice", **common,
    )  # fmt: skip
    MixPart.objects.create(mix=mix, batch=batch, amount=5, unit="l")
    LotMix.objects.create(lot=place.things["lot"], mix=mix, drawn_l=4)
    place.things |= {"batch": batch, "batch_step": step, "mix": mix}


def _station(place: Place) -> None:
    """A climate station that serves the first area, with a reading and a logger's file."""
    site, at = place.site, MORNING - HOUR
    station, _ = stations.declare_station(
        place.inspector, project=site.project, code="CS-1", name="Tower", where="outdoors", areas=[site.area],
        since=MORNING - 48 * HOUR,
    )  # fmt: skip
    stations.record_at_station(
        place.inspector, id=new_id(), station=station, coats=[], taken_at=at, dry_bulb_c=Decimal("18.0"),
        relative_humidity_pct=Decimal("60.0"), surface_c=Decimal("17.0"), note=place.mark,
    )  # fmt: skip
    rows = f"{place.mark}\ntime;air;RH;steel\n{at:%Y-%m-%d %H:%M}Z;18;60;17\n{MORNING:%Y-%m-%d %H:%M}Z;18;61;17\n"
    file, _ = store_file(place.inspector, station=station, content=rows.encode(), name=f"{place.mark}.csv", gap_min=90)
    place.things |= {"station": station, "logger_file": file}


def _paint(place: Place) -> dict[str, Any]:
    """The data sheet of the first coat's product, and a stripe coat before it."""
    first = place.site.coats[0]
    sheet = DataSheet.objects.create(project=place.site.project, product="Paint", revision="2026-01")
    DataSheetRow.objects.create(sheet=sheet, temperature_c=20, next_product="Paint", recoat_min_hours=8)
    Coat.objects.filter(pk=first.pk).update(data_sheet=sheet)
    stripe = StripeCoat.objects.create(coat=first, name="First stripe", product="Paint")
    return {"data_sheet": sheet, "stripe": stripe, "coat": first}


def _returned(cast: Cast) -> Person:
    returned = casting.person("Rhea Returned", cast.owner, Role.CLIENT)
    for site, organisation in ((cast.site, cast.owner), (cast.foreign, cast.other_owner)):
        Membership.objects.create(project=site.project, person=returned, organisation=organisation, role=Role.CLIENT)
    return returned


def _read_again(cast: Cast, *places: Place) -> None:
    """What was built is now worded otherwise."""
    for place in places:
        site = place.site
        held = [site.project, site.structure, site.system, *site.coats, site.area, site.other_area]
        for thing in (*held, *place.things.values()):
            thing.refresh_from_db()
    for thing in (cast.owner, cast.other_owner, cast.clara, cast.carl):
        thing.refresh_from_db()


def _gauge_lent(own: Place, foreign: Place) -> None:
    """The own gauge was used on the foreign project the same morning: its record rests on a check made for that one."""
    gauge, shims = own.things["gauge"], [own.things["shim"], own.things["other_shim"]]
    words = {"note": f"{foreign.mark} at the quay"}
    check = {
        "gauge": gauge, "project": foreign.site.project, "purpose": "closing", "adjustment": "none",
        "surface": "smooth", "as_left": False, "taken_at": MORNING + 3 * HOUR,
    }  # fmt: skip
    first, second = (
        [PointSent([shim], [shim.nominal_nm + n for n in (0, 200, step)]) for shim in shims] for step in (400, 300)
    )
    wrong, _ = record_verification(foreign.inspector, id=new_id(), points=first, **check, **words)
    record_verification(
        foreign.inspector, id=new_id(), points=second, replaces=wrong, replacement_reason=f"slip at {foreign.mark}",
        confirmed=True, **check, **words,
    )  # fmt: skip
    report_incident(foreign.inspector, gauge=gauge, at=MORNING + HOUR * 1.5, what=f"Fell at {foreign.mark}")
    Custody.objects.create(
        gauge=gauge, holder=foreign.inspector, place=f"Quay of {foreign.mark}", recorded_by=foreign.inspector
    )


def _parties(place: Place) -> None:
    project, painter = place.site.project, place.painter
    place.things["party"] = Party.objects.get(project=project, organisation=painter.organisation)
    place.things["client_party"] = Party.objects.get(project=project, kind=Party.Kind.CLIENT)
    place.things["scope"] = Scope.objects.create(party=place.things["party"], section=place.things["section"])
    place.things["answer"] = Disposition.objects.create(
        kind="answer", nonconformance=place.things["nonconformance"], text=f"Sanding on Monday, {place.mark}",
        person=painter, signed_as=place.mark,
    )  # fmt: skip


def _rest(place: Place) -> None:
    """One row of whatever else holds words."""
    things, client, inspector, quinn = place.things, place.client, place.inspector, place.cast.quinn
    gauge, paper = things["gauge"], things["certificate"]
    things["job"] = Job.objects.create(kind="report", about=str(things["report"].pk), state="done")
    Invitation.objects.create(
        email=f"{place.mark.lower()}@example.com", name="Somebody New", organisation=client.organisation,
        role=Role.CLIENT, token_digest=place.mark, invited_by=quinn, expires_at=MORNING,
    )  # fmt: skip
    Qualification.objects.create(person=inspector, scheme=casting.scheme(), number="Q-1", issued=DAY)
    ApiToken.objects.create(client, expiry=HOUR, name="office")
    Letter.objects.create(
        kind="test", about=place.mark, person=client, recipient=client.email, subject="Of a point", body="Released",
        sent_at=MORNING,
    )  # fmt: skip
    Tiding.objects.create(
        kind="refused", about=place.mark, person=client, project_id=place.site.project.pk, subject="Of a point",
        body="Refused",
    )  # fmt: skip
    CalendarLink.objects.create(person=client, name="phone", token_digest=place.mark)
    Custody.objects.create(gauge=gauge, holder=inspector, place="Store", recorded_by=quinn)
    GaugeIncident.objects.create(gauge=gauge, at=MORNING - HOUR, what="Fell", reported_by=inspector)
    Decision.objects.create(
        point=things["point"], number=1, outcome=Decision.Outcome.PRESENTED, person=inspector, signed_as="Inspector",
        evidence={}, evidence_digest="0" * 64,
    )  # fmt: skip
    told_columns = {"head_digest": "0" * 64, "shape": {"columns": ["code"]}, "told_by": inspector}
    ToldTable.objects.create(organisation=client.organisation, table="areas", **told_columns)
    StoredTable.objects.create(
        organisation=client.organisation, table="areas", rows_digest="0" * 64, rows=1, stored_by=inspector
    )
    ToldShape.objects.create(gauge=gauge, head_digest="0" * 64, shape={"columns": ["thickness"]}, told_by=inspector)
    KeptUpload.objects.create(
        person=inspector, digest=place.mark, what={"note": "Hatch"}, content=b"", kept_until=MORNING + HOUR
    )
    SetAside.objects.create(issue=things["issue"], by=quinn, covers_until=MORNING, reason="Looked at")
    kept = {"certificate": paper, "by": quinn, "reason": "Oven at fault"}
    place.things["recall"] = Recall.objects.create(touched={"way": "withdrawn"}, **kept)
    AskedRecall.objects.create(way="withdrawn", finished_at=MORNING, fault="Stopped", **kept)


def _instruments(place: Place) -> None:
    quinn, mark = place.cast.quinn, place.tools
    gauge = register_gauge(
        quinn, identity=f"G-{mark}", range_from_nm=0, range_to_nm=1_500_000, accuracy_pct=Decimal(1), accuracy_nm=1000
    )
    shims = [
        register_standard(quinn, identity=f"S-{mark}-{nominal}", nominal_nm=nominal * 1000) for nominal in (50, 250)
    ]
    certificate = record_certificate(
        quinn, number=f"C-{mark}", laboratory="Example Laboratory", issued=date(2025, 9, 1), expires=date(2050, 1, 1),
        traceable_to="National institute", gauges=[gauge],
        values=[StandardValue(shim, shim.nominal_nm, 1000) for shim in shims],
        file=UploadedContent(f"{mark}.pdf", PDF, "application/pdf"),
    )  # fmt: skip
    points = [PointSent([shim], [shim.nominal_nm + n for n in (0, 200, 400)]) for shim in shims]
    verification, _ = record_verification(
        place.inspector, id=new_id(), gauge=gauge, project=place.site.project, purpose="opening", adjustment="zero",
        surface="smooth", as_left=True, taken_at=MORNING, points=points,
    )  # fmt: skip
    place.things |= {
        "gauge": gauge,
        "shim": shims[0],
        "other_shim": shims[1],
        "certificate": certificate,
        "verification": verification,
    }


def _records(place: Place) -> None:
    site, inspector, gauge = place.site, place.inspector, place.things["gauge"]
    climate, _ = fieldwork.record_climate(
        inspector, id=new_id(), project=site.project, area=site.area, coat=site.coats[0], taken_at=MORNING + HOUR,
        dry_bulb_c=Decimal(18), wet_bulb_c=Decimal(14), surface_c=Decimal(17), note=place.mark,
    )  # fmt: skip
    file = vault.store(SAME, name=f"{place.mark}.csv", media_type="text/csv", by=None)
    record, _ = fieldwork.record_thickness(
        inspector, id=new_id(), project=site.project, area=site.area, coat=site.coats[0], gauge=gauge,
        profile_way="adjusted", unit="um", readings=GOOD_SPOTS, first_reading_at=MORNING + HOUR,
        last_reading_at=MORNING + 2 * HOUR, note=place.mark, source=ThicknessRecord.Source.FILE, file=file,
        file_name=f"{place.mark}.csv",
    )  # fmt: skip
    profile, _ = record_profile(
        inspector, id=new_id(), project=site.project, area=site.area, taken_at=MORNING + HOUR, method="tape",
        consumable_batch=f"roll of {place.mark}", location_value="mean",
        locations=[LocationSent([60_000], place.mark)], note=place.mark,
    )  # fmt: skip
    _tests(place)
    question = place.things["question"] = ReadingQuestion.objects.create(
        project=site.project, record=record, kind="digits",
        figures={"counts": [30, 1, 1, 1, 1, 30, 1, 1, 1, 33], "chi_square": 202.0, "chance": 1e-6, "step_nm": 100},
    )  # fmt: skip
    ReadingAnswer.objects.create(
        question=question, outcome="taken_up", text=f"Asked at {place.mark}", by=place.cast.quinn
    )
    for name, sent in SAMPLES.items():
        taken: Any = BY_NAME[name].taken
        place.things[name], _ = taken.record(
            inspector, id=new_id(), project=site.project, area=site.area, taken_at=MORNING + HOUR, note=place.mark,
            **sent,
        )  # fmt: skip
    sheet = fieldwork.open_sheet(
        inspector, id=new_id(), area=site.other_area, coat=site.coats[0], gauge=gauge, profile_way="adjusted"
    )
    reading = fieldwork.note_reading(inspector, sheet=sheet, spot=1, value_nm=80_000)
    printed, _ = print_sheet(inspector, id=new_id(), project=site.project, places=[(site.other_area, site.coats[0])])
    place.things |= {
        "file": file,
        "climate": climate,
        "profile": profile,
        "record": record,
        "sheet": sheet,
        "sheet_reading": reading,
        "printed": printed,
    }


def _tests(place: Place) -> None:
    """One test of each kind of the film after the first coat, with the place's word in its texts."""
    site, place_of_test = place.site, f"web of {place.mark}"
    after = {"project": site.project, "area": site.area, "coat": site.coats[0], "note": place.mark}
    place.things["pulloff"], _ = PULL_OFF.record(
        place.inspector, id=new_id(), **after, taken_at=MORNING + HOUR, method="ASTM D4541", tests_wanted=1,
        tests=[{"place": place_of_test, "strength_mpa": 7, "failures_pct": {"B": 100}}], minimum_single_mpa=5,
        used_instrument=f"hydraulic of {place.mark}", dolly_mm=20, steel_mm=12,
    )  # fmt: skip
    hole = [{"place": place_of_test}]
    others: list[tuple[str, AsTested, dict[str, Any]]] = [
        ("wetsponge", WET_SPONGE, {"standard": "ASTM D5162", "dry_film_um": 200, "voltage_v": 67, "tested_m2": 5}
         | {"holidays": hole}),
        ("highvoltage", HIGH_VOLTAGE, {"standard": "NACE SP0274", "dry_film_um": 1500, "voltage_v": 9600}
         | {"tested_m2": 5, "holidays": hole, "electrode": f"brush of {place.mark}"}),
        ("cuttest", CUT_TEST, {"scale": "ISO 2409", "dry_film_um": 180, "spacing_mm": 3, "worst_rating": "1"}
         | {"cuts": [{"place": place_of_test, "rating": "2"}]}),
        ("cure", CURE, {"method": "ASTM D5402", "solvent": f"solvent of {place.mark}"}
         | {"places": [{"place": place_of_test, "as_agreed": False}]}),
        ("hardness", HARDNESS, {"method": "Shore D", "pencil_set": f"set of {place.mark}", "least": 70}
         | {"places": [{"place": place_of_test, "readings": [60, 62]}]}),
        ("defects", DEFECTS, {"defects": [
            {"kind": "runs", "extent": "3", "place": place_of_test, "acceptable": False},
        ]}),
        ("wetfilm", WET_FILM, {"readings": [{"place": place_of_test, "um": 50}]}),
    ]  # fmt: skip
    for name, kind, observed in others:
        place.things[name], _ = kind.record(
            place.inspector, id=new_id(), **after, taken_at=MORNING + HOUR, **observed
        )  # fmt: skip


def _points(place: Place) -> None:
    site = place.site
    place.things["point"] = HoldPoint.objects.create(
        project=site.project, area=site.area, coat=site.coats[0], title=f"Primer accepted, {place.mark}"
    )
    Requirement.objects.create(point=place.things["point"], kind="profile")
    place.things["nonconformance"] = Nonconformance.objects.create(
        project=site.project, number=900, area=site.other_area, coat=site.coats[0], title=f"Runs at {place.mark}"
    )
    place.things["failure"] = Nonconformance.objects.create(
        project=site.project, number=901, area=site.area, coat=site.coats[0], title=f"Thin film at {place.mark}",
        record=place.things["record"],
    )  # fmt: skip
    common = {
        "nonconformance": place.things["nonconformance"], "text": f"Sanded by {place.mark}", "person": place.inspector,
        "signed_as": place.mark,
    }  # fmt: skip
    place.things["rework"] = Disposition.objects.create(kind="rework", done_by=place.mark, done_at=MORNING, **common)
    place.things["extent_spot"] = ExtentSpot.objects.create(
        nonconformance=place.things["nonconformance"], number=1, direction=1, readings_nm=[50_000],
        note=f"frame of {place.mark}", measured_by=place.inspector,
    )  # fmt: skip
    undone = {"undone_at": MORNING, "undone_by": place.inspector, "undone_why": f"not by {place.mark}"}
    for number, more in enumerate((undone, {}), start=1):
        part = InspectionArea.objects.create(
            structure=site.structure, system=site.system, code=f"R{number} {place.mark}",
            name=f"Repair of {place.mark}", area_m2=2, repair_of=site.area,
        )  # fmt: skip
        made = place.things["repaired_part"] = RepairedPart.objects.create(
            nonconformance=place.things["failure"], part=part, area_m2=2, left_out=[1], extent={}, digest="0" * 64,
            note=f"chalk of {place.mark}", confirmed=[f"asked of {place.mark}"], made_by=place.inspector, **more,
        )  # fmt: skip
        Remainder.objects.create(
            repaired=made, record=place.things["record"], verdict="pass", inputs={}, digest="0" * 64,
            result={"rule": "SSPC-PA 2", "checks": [], "notes": []},
        )  # fmt: skip
    item = place.things["rework_item"] = ReworkItem.objects.create(
        project=site.project, area=site.other_area, coat=site.coats[0], what=f"Misses of {place.mark}",
        place=f"bracket of {place.mark}", opened_by=place.inspector, state="done",
    )  # fmt: skip
    place.things["rework_entry"] = ReworkEntry.objects.create(
        item=item, kind="done", text=f"Brushed by {place.mark}", done_by=place.mark, done_at=MORNING,
        person=place.inspector,
    )  # fmt: skip
    place.things["concession"] = Disposition.objects.create(kind="concession", **common)


def _plan(place: Place) -> None:
    project = place.site.project
    plan = Plan.objects.create(project=project, name="Plan")
    revision = plan.revisions.create(number=1, note="First")
    line = PlanLine.objects.create(
        revision=revision, number="1", activity="profile", title="Profile", frequency="Every area", criterion="50 µm",
        method="ISO 8503-5",
    )  # fmt: skip
    LineRequirement.objects.create(line=line, kind="profile")
    Intervention.objects.create(line=line, party_kind="client", letter="H", meaning="hold")
    LegendLetter.objects.create(project=project, letter="H", meaning="hold", word="Hold")
    painters = Party.objects.get(project=project, kind=Party.Kind.CONTRACTOR)
    ApprovalAsked.objects.create(revision=revision, party=painters)
    ClosedDay.objects.create(project=project, day=DAY, why="Yard closed")
    party = Party.objects.get(project=project, kind=Party.Kind.CLIENT)
    place.things["plan_approval"] = Approval.objects.create(
        revision=revision, party=party, person=place.client, signed_as="Client", admitted="Invited", digest="0" * 64,
        withdrawn_at=MORNING, withdrawn_by=place.client, withdrawn_because="Too soon",
    )  # fmt: skip
    in_force = plan.revisions.create(number=0, state="in_force", note=f"Before, {place.mark}")
    before = PlanLine.objects.create(
        revision=in_force, number="7", activity="thickness", title=f"Film of {place.mark}", frequency="every area",
        criterion=f"as {place.mark} specified", coat_order=1,
    )  # fmt: skip
    of_line = HoldPoint.objects.create(
        project=project, area=place.site.area, coat=place.site.coats[0], line=before, title=f"Film of {place.mark}"
    )
    place.things["point_letter"] = PointLetter.objects.create(
        point=of_line, party_kind="client", letter="W", meaning="witness", reason="Far away", given_by=place.cast.quinn
    )
    place.things |= {"point_of_line": of_line, "plan": plan, "plan_revision": revision, "plan_line": line}


def _notice(place: Place) -> None:
    """That the film of the plan's line is inspected in two days: given by the inspector, short, to the client."""
    project, inspector, point = (
        place.site.project,
        place.inspector,
        HoldPoint.objects.get(title=f"Film of {place.mark}"),
    )
    company, client = (project.parties.get(kind=kind) for kind in (Party.Kind.INSPECTION, Party.Kind.CLIENT))
    begin = timezone.now() + 48 * HOUR
    when = {
        "begins_at": begin,
        "ends_at": begin + HOUR,
        "meeting_place": "Gangway",
        "short_hours": 2,
        "due_by": MORNING,
    }
    given = {"party": company, "person": inspector, "signed_as": "Inspector"}
    notice = Notice.objects.create(
        project=project, number=1, note="Bring lamps", area_m2=8, sent_digest="0" * 64, **when, **given
    )
    NoticeParty.objects.create(notice=notice, party=client)
    NoticePlace.objects.create(notice=notice, area=point.area, point=point, line=point.line, title=point.title)
    NoticeStep.objects.create(notice=notice, number=1, what="given", asked="48 working hours", **when, **given)
    HoldPoint.objects.filter(pk=point.pk).update(notified_for=begin)
    keep_places(HoldPoint.objects.filter(pk=point.pk))
    place.things["notice"] = notice


def _photos(place: Place) -> None:
    """One of a nonconformance, shown to the other parties and drawn over; one of a record, the company's own."""
    told = {"project": place.site.project, "file_name": f"{place.mark}.jpg", "format": "jpeg", "by": place.inspector}
    for number, (name, of) in enumerate((("photo", "nonconformance"), ("photo_hidden", "record"))):
        out = io.BytesIO()
        Image.new("RGB", (40 + number, 30)).save(out, "JPEG", comment=place.mark.encode())
        file = vault.store(out.getvalue(), name=f"{place.mark}.jpg", media_type="image/jpeg", by=place.inspector)
        place.things[name] = Photo.objects.create(
            **told, **{of: place.things[of]}, area=place.things[of].area, file=file, width=40, height=30,
            caption=f"Runs at {place.mark}", shown=name == "photo",
        )  # fmt: skip
    shapes = [{"shape": "text", "from": [0.5, 0.5], "to": None, "text": f"here, {place.mark}"}]
    place.things["photo_layer"] = PhotoLayer.objects.create(
        photo=place.things["photo"], number=1, shapes=shapes, by=place.inspector
    )  # fmt: skip


def _drawings(place: Place) -> None:
    """One with two revisions, on which the area is; a note that is shown to the other parties, and one that is not."""
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "white").save(out, "JPEG", comment=f"drawing {place.mark}".encode())
    file = vault.store(out.getvalue(), name=f"{place.mark}.jpg", media_type="image/jpeg", by=place.inspector)
    drawing = Drawing.objects.create(project=place.site.project, number=f"D {place.mark}", title="Deck")
    told = {"drawing": drawing, "by": place.inspector}
    former, revision = (
        DrawingRevision.objects.create(
            **told, order=order, revision=f"{order} {place.mark}", file=file, file_name=f"{place.mark}.jpg",
            format="jpeg", width=60, height=40, small_size=1_000, digest="0" * 64,
        )
        for order in (1, 2)
    )  # fmt: skip
    DrawingArea.objects.create(**told, area=place.site.area, x=5_000, y=5_000)
    for number, name in ((1, "drawing_note"), (2, "drawing_note_hidden")):
        place.things[name] = DrawingNote.objects.create(
            **told, revision=revision, number=number, area=place.site.area, x=100 * number, y=200, at=MORNING,
            text=f"Rust at {place.mark}", shown=number == 1, digest="0" * 64,
        )  # fmt: skip
    place.things |= {"drawing": drawing, "drawing_revision": revision, "drawing_revision_former": former}


def _diary(place: Place) -> None:
    """A note of the inspector to the next shift, one of the quality manager, a visitor; a signature under the day."""
    project, by = place.site.project, place.inspector
    told = {"project": project, "day": DAY, "digest": "0" * 64, "entered_by": by}
    place.things["diary_note"] = DiaryEntry.objects.create(
        **told, kind="handover", text=f"Mind the gap at {place.mark}"
    )
    place.things["diary_entry"] = DiaryEntry.objects.create(
        **told, kind="visitor", who=f"V. of {place.mark}", organisation="Class", text="looked round"
    )
    note = DiaryEntry.objects.create(
        **told | {"entered_by": place.cast.quinn}, kind="handover", text=f"Lamps at {place.mark}"
    )  # fmt: skip
    place.things["diary_of_manager"] = note
    NoteRead.objects.create(entry=place.things["diary_note"], person=place.cast.quinn)
    place.things["day_signature"] = DaySignature.objects.create(
        project=project, day=DAY, by=by, number=1, signed_as=f"{by.name} at {place.mark}", digest="1" * 64,
        content=[{"kind": "record", "id": str(place.things["record"].pk), "fixed": "2" * 64, "later": {}}],
    )  # fmt: skip
    signed = place.things["day_signature"]
    SignedThing.objects.create(signature=signed, kind="thickness", thing=place.things["record"].pk)


def _reports(place: Place) -> None:
    file = vault.store(PDF + place.mark.encode(), name=f"{place.mark}.pdf", media_type="application/pdf", by=None)
    report = DailyReport.objects.create(
        project=place.site.project, day=DAY, draft=file, built_at=MORNING, facts_digest="1" * 64
    )
    place.things["report"] = report
    place.things["issue"] = ReportIssue.objects.create(
        report=report, revision=1, file=file, facts_digest="0" * 64, issued_by=place.cast.quinn
    )  # fmt: skip
    place.things["word"] = ClientWord.objects.create(
        issue=place.things["issue"], what="comment", text="Seen", person=place.client, signed_as=place.client.name
    )
    Review.objects.create(report=report, facts_digest="1" * 64, by=place.cast.quinn, note="Looked through")
    ProjectHead.objects.create(project=place.site.project, order_number="4711", entered_by=place.cast.quinn)
    place.things["reporting"] = Reporting.objects.create(
        project=place.site.project, one_a="day", from_day=DAY, reason="As agreed", entered_by=place.cast.quinn
    )
    # Any stored file will do for the logo; its page gives out what is stored.
    CompanyHead.objects.create(address="1 Quay Street", logo=file, entered_by=place.cast.quinn)
    place.things["logo"] = file
    place.things["issue"].basis.create(kind="thickness", thing=place.things["record"].pk)
