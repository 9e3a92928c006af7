"""What the bridge's inspector found and photographed: two measurements that tell the same, and a nonconformance."""

from __future__ import annotations

import io
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
from django.db.models import Model
from PIL import Image, ImageDraw, ImageFilter

from inspection.fieldwork import actions as fieldwork
from inspection.fieldwork.actions import ReadingSent
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.ids import new_id
from inspection.instruments import actions as instruments
from inspection.instruments.actions import PointSent
from inspection.instruments.models import Verification
from inspection.nonconformance import actions as nonconformance
from inspection.photos.actions import add_photo, change_photo
from inspection.plan import revisions
from inspection.plan.models import PlanRevision
from inspection.plan.templates_kept import begin_template
from inspection.projects.models import Coat, InspectionArea, Project
from inspection.works.models import Lot
from reports.demo import bridge_repair, plot
from reports.demo.invented_readings import Hand
from reports.questions.finding import examine

if TYPE_CHECKING:
    from reports.demo.story import Story

GAUGE, SHIMS, DAY = "TG-09", "B", 1
MEASURED = (("S2-N01", "10:05"), ("S2-N02", "11:20"))
TEMPLATE = "Road bridges, three coats"


def play(story: Story, project: Project) -> None:
    _template_kept(story, project)
    # A source of its own, so that all other readings of the story stay as they are.
    hand = Hand(plot.SEED + 4)
    _checked(story, project, hand, Verification.Purpose.OPENING, "09:20")
    records = _measured(story, project, hand)
    bridge_repair.play(story, project, Hand(plot.SEED + 5), gauge=GAUGE, days_ago=DAY)
    _checked(story, project, hand, Verification.Purpose.CLOSING, "15:10")
    with story.at(story.moment(DAY, "15:30")):
        _photo(story, records[0], film_drawn(), "Primer of S2-N01; runs at the third stiffener")
        for record in records:
            examine(record, compared=record.reading_count)
    _found_over_night(story, project)


def _template_kept(story: Story, project: Project) -> None:
    """The plan that its client approved is kept for the bridges to come."""
    tove = story.person["tove"]
    with story.at(story.moment(DAY, "09:00")):
        of = PlanRevision.objects.get(plan__project=project, state=PlanRevision.State.IN_FORCE)
        template = begin_template(tove, name=TEMPLATE, of=of)
        revisions.bring_into_force(tove, revision=template.revisions.get())


def _checked(story: Story, project: Project, hand: Hand, purpose: str, clock: str) -> None:
    opening, moment = purpose == Verification.Purpose.OPENING, story.moment(DAY, clock)
    points = [
        PointSent([story.standard[key]], hand.on_shim(value, plot.gauge_on(GAUGE, DAY)))
        for key, (_, value, _) in plot.SHIM_SETS[SHIMS].items()
    ]
    with story.at(moment):
        instruments.record_verification(
            story.person["priya"], id=new_id(), gauge=story.gauge[GAUGE], project=project, purpose=purpose,
            adjustment=Verification.Adjustment.ZERO if opening else Verification.Adjustment.NONE,
            surface=Verification.Surface.SMOOTH, as_left=opening, taken_at=moment, points=points,
        )  # fmt: skip


def _measured(story: Story, project: Project, hand: Hand) -> list[ThicknessRecord]:
    """The primer of two panels; what is stored of the second are the readings of the first, once more."""
    areas = {
        area.code: area for area in InspectionArea.objects.filter(structure__project=project, code__startswith="S2")
    }
    coat = Coat.objects.select_related("system").get(system__project=project, order=1)
    film = plot.primer("S2-N01", "10:05").film
    assert film is not None  # noqa: S101 - a primer has a film
    spots, per_spot = story.sampling(coat, areas["S2-N01"])
    found = hand.on_film(film, plot.gauge_on(GAUGE, DAY), spots, per_spot)
    readings = [
        ReadingSent(spot=spot, order=order, value_nm=value)
        for spot, values in enumerate(found, 1)
        for order, value in enumerate(values, 1)
    ]
    records = []
    for code, clock in MEASURED:
        begun = story.moment(DAY, clock)
        ended = begun + timedelta(seconds=20 * len(readings))
        with story.at(ended + timedelta(minutes=2)):
            record, _ = fieldwork.record_thickness(
                story.person["priya"], id=new_id(), project=project, area=areas[code], coat=coat,
                gauge=story.gauge[GAUGE], profile_way=ThicknessRecord.ProfileWay.ADJUSTED, unit="um",
                readings=readings, first_reading_at=begun, last_reading_at=ended,
                source=ThicknessRecord.Source.FILE,
            )  # fmt: skip
        records.append(record)
    return records


def _found_over_night(story: Story, project: Project) -> None:
    """Of the two panels that were blasted, the one that was not primed has bloomed with rust in the morning."""
    priya, tove, mikkel = story.person["priya"], story.person["tove"], story.person["mikkel"]
    blasted = Lot.objects.get(project=project, activity="blast")
    about = nonconformance.About(against="lot", lot=blasted)
    with story.at(story.moment(0, "06:15")):
        raised, _ = nonconformance.raise_once(
            priya, id=new_id(), project=project, about=about, asked=project.parties.get(kind="contractor"),
            title="Rust bloom on the blasted steel of S1-N02",
            description="The dehumidifier stood over night; the lower flange has turned on a third of the panel.",
        )  # fmt: skip
        nonconformance.say(
            priya,
            nonconformance=raised,
            kind="grade",
            choice="minor",
            text="Steel is to be primed the day it is blasted.",
        )
        nonconformance.say(
            priya, nonconformance=raised, kind="contained", text="No primer goes on S1-N02 before it is blasted again.",
            done_at=story.moment(0, "06:10"),
        )  # fmt: skip
        _photo(story, raised, bloom_drawn(), "S1-N02, lower flange, seen from the stair tower")
    with story.at(story.moment(0, "06:50")):
        nonconformance.answer(
            mikkel,
            nonconformance=raised,
            text="The breaker of the dehumidifier had tripped. We sweep-blast the flange by noon.",
        )
    with story.at(story.moment(0, "07:30")):
        nonconformance.say(
            tove, nonconformance=raised, kind="decision", choice="rework",
            text="Sweep-blasted to Sa 2½, profile and salts measured again before the primer.",
        )  # fmt: skip
        nonconformance.say(
            tove, nonconformance=raised, kind="action", text="An alarm on the dehumidifiers that calls the watch.",
            done_by="Holt & Arran Painters", due=story.day(-5),
        )  # fmt: skip


def _photo(story: Story, of: Model, content: bytes, caption: str) -> None:
    """Sent by the inspector, and shown to the client."""
    file = UploadedContent("drawn.png", content, "image/png")
    photo, _ = add_photo(story.person["priya"], id=new_id(), of=of, file=file, caption=caption)
    change_photo(story.person["priya"], photo=photo, caption=caption, shown=True)


# --- drawn, not taken -------------------------------------------------------------------------------------------------
WIDE, HIGH = 960, 720


def film_drawn() -> bytes:
    """A girder in grey primer with three stiffeners, and runs below the third."""
    image, draw = _girder("#8d959b", "#a7afb4")
    for number in range(5):
        left = 700 + 26 * number
        draw.rounded_rectangle((left, 300, left + 9, 360 + 34 * (number % 3)), 5, fill="#757d84")
    return _png(image)


def bloom_drawn() -> bytes:
    """The same girder of blasted steel, its lower flange spotted with rust."""
    image, draw = _girder("#b9bcbd", "#cfd2d2")
    draw.rectangle((0, 560, WIDE, 640), fill="#b3aaa2")
    rng = np.random.default_rng(plot.SEED)
    for _ in range(420):
        x, y, size = rng.uniform(0, WIDE), rng.triangular(560, 630, 640), rng.uniform(4, 20)
        fill = ("#a4623a", "#8f5230", "#b67b52")[rng.integers(3)]
        draw.ellipse((x, y, x + size, min(y + size * 0.6, 640)), fill=fill)
    return _png(image)


def _girder(web: str, flange: str) -> tuple[Image.Image, ImageDraw.ImageDraw]:
    image = Image.new("RGB", (WIDE, HIGH), "#dfe6ea")
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 160, WIDE, 560), fill=web)
    for top in (100, 560):
        draw.rectangle((0, top, WIDE, top + 80), fill=flange)
    for left in (180, 450, 720):
        draw.rectangle((left, 180, left + 34, 560), fill=flange)
        draw.line((left, 180, left, 560), fill="#5f676d", width=3)
    return image, draw


def _png(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.filter(ImageFilter.GaussianBlur(1.2)).save(out, "PNG")
    return out.getvalue()
