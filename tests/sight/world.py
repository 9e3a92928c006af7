"""The cast at work: for each of the two projects one of everything that an address can name."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from accounts import vault
from accounts.ids import new_id
from accounts.models import JournalEntry, Person, Role
from inspection.fieldwork import actions as fieldwork
from inspection.fieldwork.models import ThicknessRecord
from inspection.holdpoints.models import Disposition, HoldPoint, Nonconformance
from inspection.instruments.actions.certificates import StandardValue, record_certificate
from inspection.instruments.actions.equipment import register_gauge, register_standard
from inspection.instruments.actions.verifications import PointSent, record_verification
from inspection.instruments.files import UploadedContent
from inspection.projects.models import Membership
from reports.models import DailyReport, ReportIssue
from tests import cast as casting
from tests.cast import DAY, MORNING, Cast
from tests.fieldwork.build import GOOD_SPOTS

PDF = b"%PDF-1.4\n%%EOF\n"
HOUR = timedelta(hours=1)


@dataclass
class Place:
    """One project with the things in it, and the instruments that were used on it alone."""

    cast: Cast
    site: casting.Site
    inspector: Person
    client: Person
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
        words = (self.foreign.site.project.code, self.cast.other_owner.name, self.cast.carl.name, self.foreign.mark)
        return words if person.is_company else (*words, self.foreign.tools)


def build() -> World:
    cast = casting.cast()
    own = Place(cast, cast.site, cast.ines, cast.clara, "Heron", "K21")
    foreign = Place(cast, cast.foreign, cast.igor, cast.carl, "Osprey", "K22")
    for place in (own, foreign):
        _instruments(place)
        _records(place)
        _points(place)
        _reports(place)
        entries = JournalEntry.objects.filter(project_id=place.site.project.pk)
        place.things["entry"] = entries.earliest("pk")
        place.things |= {"project": place.site.project, "area": place.site.area, "system": place.site.system}
        place.things["membership"] = Membership.objects.get(project=place.site.project, person=place.client)
    return World(cast, own, foreign, _returned(cast))


def _returned(cast: Cast) -> Person:
    returned = casting.person("Rhea Returned", cast.owner, Role.CLIENT)
    for site, organisation in ((cast.site, cast.owner), (cast.foreign, cast.other_owner)):
        Membership.objects.create(project=site.project, person=returned, organisation=organisation, role=Role.CLIENT)
    return returned


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
    place.things |= {"gauge": gauge, "shim": shims[0], "certificate": certificate, "verification": verification}


def _records(place: Place) -> None:
    site, inspector, gauge = place.site, place.inspector, place.things["gauge"]
    climate, _ = fieldwork.record_climate(
        inspector, id=new_id(), project=site.project, area=site.area, coat=site.coats[0], taken_at=MORNING + HOUR,
        dry_bulb_c=Decimal(18), wet_bulb_c=Decimal(14), surface_c=Decimal(17), note=place.mark,
    )  # fmt: skip
    file = vault.store(f"spot,µm\n1,80 {place.mark}".encode(), name=f"{place.mark}.csv", media_type="text/csv", by=None)
    record, _ = fieldwork.record_thickness(
        inspector, id=new_id(), project=site.project, area=site.area, coat=site.coats[0], gauge=gauge,
        profile_way="adjusted", unit="um", readings=GOOD_SPOTS, first_reading_at=MORNING + HOUR,
        last_reading_at=MORNING + 2 * HOUR, note=place.mark, source=ThicknessRecord.Source.FILE, file=file,
    )  # fmt: skip
    sheet = fieldwork.open_sheet(
        inspector, id=new_id(), area=site.other_area, coat=site.coats[0], gauge=gauge, profile_way="adjusted"
    )
    reading = fieldwork.note_reading(inspector, sheet=sheet, spot=1, value_nm=80_000)
    place.things |= {"climate": climate, "record": record, "sheet": sheet, "sheet_reading": reading}


def _points(place: Place) -> None:
    site = place.site
    place.things["point"] = HoldPoint.objects.create(
        project=site.project, area=site.area, coat=site.coats[0], title=f"Primer accepted, {place.mark}"
    )
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
    place.things["concession"] = Disposition.objects.create(kind="concession", **common)


def _reports(place: Place) -> None:
    file = vault.store(PDF + place.mark.encode(), name=f"{place.mark}.pdf", media_type="application/pdf", by=None)
    report = DailyReport.objects.create(
        project=place.site.project, day=DAY, draft=file, built_at=MORNING, facts_digest="1" * 64
    )
    place.things["report"] = report
    place.things["issue"] = ReportIssue.objects.create(
        report=report, revision=1, file=file, facts_digest="0" * 64, issued_by=place.cast.quinn
    )  # fmt: skip
    place.things["issue"].basis.create(kind="thickness", thing=place.things["record"].pk)
