"""Drawings: kept and revised, the areas they show, notes at a place, who sees them, and the way back of each."""

from __future__ import annotations

import io
import json
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.http import Http404
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image, ImageDraw
from reportlab.lib.pagesizes import A4, landscape
from reportlab.pdfgen import canvas

from accounts import vault
from accounts.models import JournalEntry, Organisation, Person, Role
from inspection.drawings import actions, noting, picture, queries
from inspection.drawings.actions import Placed
from inspection.drawings.marks import Mark, letters_of
from inspection.drawings.models import Drawing, DrawingArea, DrawingNote, DrawingRevision
from inspection.drawings.noting import NoteSent
from inspection.drawings.shown import path_of, shown_of
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.projects.models import Membership, Party, Scope
from reports.verify import drawings
from tests.cast import MORNING, Cast, person
from tests.past_triggers import rewrite

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_work")]


@pytest.fixture
def at_work() -> Any:
    with time_machine.travel(MORNING + timedelta(hours=3), tick=True):
        yield


def drawn(words: str = "DECK", size: tuple[int, int] = (1200, 800)) -> bytes:
    image = Image.new("RGB", size, "white")
    draw = ImageDraw.Draw(image)
    for x in range(0, size[0], 40):
        draw.line([(x, 0), (size[0] - x, size[1])], fill="black")
    draw.text((50, 50), words, fill="black")
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def kept(cast: Cast, number: str = "D-101", content: bytes | None = None, **more: Any) -> DrawingRevision:
    told: dict[str, Any] = {"id": new_id(), "project": cast.site.project, "title": "Deck", "revision": "A"}
    file = UploadedContent("deck.png", content or drawn())
    return actions.add_drawing(cast.quinn, number=number, file=file, **told | more)[0]


def noted(
    cast: Cast, revision: DrawingRevision, by: Person | None = None, text: str = "Rust at the weld", **more: Any
) -> DrawingNote:
    sent = NoteSent(**{"text": text, "at": MORNING, "x": 2500, "y": 7500} | more)
    return noting.write_note(by or cast.ines, id=new_id(), revision=revision, sent=sent)[0]


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def verbs(*ids: Any) -> list[str]:
    rows = JournalEntry.objects.filter(object_id__in=[str(each) for each in ids]).order_by("pk")
    return list(rows.values_list("verb", flat=True))


def test_a_drawing_is_kept_as_it_came_with_a_picture_to_show_and_a_small_one_for_phones(cast: Cast) -> None:
    content, own = drawn(size=(4000, 3000)), new_id()
    told: dict[str, Any] = {
        "id": own, "project": cast.site.project, "number": "D-101", "title": "Deck", "revision": "A",
        "file": UploadedContent("deck.png", content),
    }  # fmt: skip
    revision, new = actions.add_drawing(cast.ines, **told)
    assert new
    assert vault.content_of(revision.file) == content
    assert (revision.width, revision.height, revision.format) == (4000, 3000, "png")
    with Image.open(io.BytesIO(shown_of(revision, "page"))) as page:
        assert (page.format, page.size) == ("JPEG", (1600, 1200))
    small = shown_of(revision, "small")
    assert len(small) == revision.small_size <= picture.SMALL_BYTES
    default_storage.delete(path_of(revision.file_id, 1, "small"))
    assert shown_of(revision, "small") == small
    # Sent again it is there once; its id with other content, and its number with another id, are refused.
    assert actions.add_drawing(cast.ines, **told) == (revision, False)
    with pytest.raises(Conflict):
        actions.add_drawing(cast.ines, **told | {"title": "Hull"})
    with pytest.raises(Refused, match="has a drawing d-101 already"):
        actions.add_drawing(cast.ines, **told | {"id": new_id(), "number": "d-101"})
    for person_ in (cast.clara, cast.audrey):
        with pytest.raises(NotAllowed):
            actions.add_drawing(person_, **told | {"id": new_id(), "number": "D-9"})
    with pytest.raises(Http404):
        actions.add_drawing(cast.igor, **told | {"id": new_id(), "number": "D-9"})
    assert Drawing.objects.count() == 1
    assert verbs(revision.drawing_id) == ["drawing.added"]


@pytest.mark.once
@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "the file is empty"), (b"MZ" + bytes(400), "no drawing that can be kept. Send the drawing as PDF"),
     (drawn()[:-400], "damaged or cut short"), (b"%PDF-" + bytes(picture.photos.MOST_BYTES), "more than 25 MB")],
    ids=["empty", "no drawing", "cut", "too large"],
)  # fmt: skip
def test_what_is_no_drawing_is_refused_by_name(content: bytes, words: str) -> None:
    with pytest.raises(Refused, match=words) as refused:
        picture.read(content, name="deck.png")
    assert [fault.field for fault in refused.value.faults] == ["file"]


@pytest.mark.once
def test_a_page_of_a_pdf_is_drawn_and_a_pdf_that_cannot_be_drawn_is_kept_without_a_picture() -> None:
    """The second page is A4 across (ISO 216: 297 × 210 mm), with a black square in its upper left quarter."""
    out = io.BytesIO()
    paper = canvas.Canvas(out, pagesize=A4)
    paper.drawString(100, 100, "A list of parts")
    paper.showPage()
    paper.setPageSize(landscape(A4))
    wide, high = landscape(A4)
    paper.rect(0, high / 2, wide / 2, high / 2, fill=1)
    paper.showPage()
    paper.save()
    sheet = picture.read(out.getvalue(), name="deck.pdf", page=2)
    assert (sheet.format, sheet.media_type, sheet.width) == ("pdf", "application/pdf", 1600)
    assert sheet.height / sheet.width == pytest.approx(210 / 297, abs=0.002)
    with Image.open(io.BytesIO(sheet.page)) as page:
        assert [page.getpixel((sheet.width * x // 4, sheet.height * y // 4)) for x, y in ((1, 1), (3, 1), (1, 3))] == [
            (0, 0, 0), (255, 255, 255), (255, 255, 255),
        ]  # fmt: skip
    assert 0 < len(sheet.small) <= picture.SMALL_BYTES
    with pytest.raises(Refused, match=r"deck\.pdf: it has 2 pages; give one of them"):
        picture.read(out.getvalue(), name="deck.pdf", page=3)
    assert picture.read(b"%PDF-1.4\n%%EOF\n", name="torn.pdf") == picture.Sheet("pdf")


def test_a_new_revision_stands_and_each_mistake_has_its_way_back(cast: Cast) -> None:
    first = kept(cast)
    drawing = first.drawing
    on_first = noted(cast, first)
    sent: dict[str, Any] = {"drawing": drawing, "id": new_id(), "file": UploadedContent("b.png", drawn("B"))}
    second, new = actions.revise_drawing(cast.ines, revision="B", **sent)
    assert new
    assert actions.revise_drawing(cast.ines, revision="B", **sent) == (second, False)
    with pytest.raises(Refused, match="has a revision b already"):
        actions.revise_drawing(cast.ines, revision="b", **sent | {"id": new_id()})
    assert actions.standing_of(drawing) == second
    assert noted(cast, second).number == on_first.number + 1
    page = signed_in(cast.clara).get(reverse("drawing_revision", args=[first.pk])).content.decode()
    assert "was replaced by" in page
    actions.withdraw_revision(cast.ines, revision=second, reason="Of another project")
    assert actions.standing_of(drawing) == first
    third, _ = actions.revise_drawing(cast.ines, revision="B", **sent | {"id": new_id()})
    with pytest.raises(Refused, match="has a revision B already"):
        actions.restore_revision(cast.ines, revision=second, reason="It was right")
    actions.withdraw_revision(cast.ines, revision=third, reason="Twice")
    actions.restore_revision(cast.ines, revision=second, reason="It was right")
    with pytest.raises(Conflict, match="not withdrawn"):
        actions.restore_revision(cast.ines, revision=second, reason="Again")
    wanted: dict[str, Any] = {"number": "D-102", "title": "Main deck", "revision": "B1", "section": None}
    kept(cast, "D-103")
    with pytest.raises(Refused, match="another drawing D-103"):
        actions.correct_drawing(cast.ines, drawing=drawing, reason="Misread", **wanted | {"number": "D-103"})
    actions.correct_drawing(cast.ines, drawing=drawing, reason="Misread", **wanted)
    with pytest.raises(Refused, match="Nothing differs"):
        actions.correct_drawing(cast.ines, drawing=drawing, reason="Misread", **wanted)
    assert [verb.partition(".")[2] for verb in verbs(drawing.pk)] == [
        "added", "revised", "revision_withdrawn", "revised", "revision_withdrawn", "revision_restored", "corrected",
    ]  # fmt: skip
    # With every revision withdrawn it is still found, and says so.
    for revision in (first, second):
        actions.withdraw_revision(cast.ines, revision=revision, reason="Not ours")
    assert "was withdrawn" in signed_in(cast.ines).get(reverse("drawing", args=[drawing.pk])).content.decode()


def test_the_areas_of_a_drawing_are_set_together_and_lead_both_ways(cast: Cast) -> None:
    drawing, site = kept(cast).drawing, cast.site
    assert list(queries.areas_on_no_drawing(cast.ines, site.project)) == [site.area, site.other_area]
    client, address = signed_in(cast.ines), reverse("drawing_areas", args=[drawing.pk])
    seen = client.get(address).context["form"]["seen"].value()
    wrong = client.post(address, {"seen": seen, "areas": "A1: 41.5\nB9"})
    assert wrong.status_code == 422
    assert "“41.5” is no place" in wrong.content.decode()
    unknown = client.post(address, {"seen": seen, "areas": "a1: 41.5, 33\nB9"}).content.decode()
    assert "Row 2: the project has no area “B9”" in unknown
    assert not DrawingArea.objects.exists()
    assert client.post(address, {"seen": seen, "areas": "a1: 41,5 33\nA2"}).status_code == 302
    shown = {each.area.code: (each.x, each.y) for each in drawing.areas.all()}
    assert shown == {"A1": (4150, 3300), "A2": (None, None)}
    assert "A1: 41.5, 33\nA2" in client.get(address).content.decode()
    late = client.post(address, {"seen": seen, "areas": "A1"})
    assert "since you looked" in late.content.decode()
    assert not queries.areas_on_no_drawing(cast.ines, site.project).exists()
    assert "D-101 Deck" in client.get(reverse("area", args=[site.area.pk])).content.decode()
    file = UploadedContent("b.png", drawn("B"))
    actions.revise_drawing(cast.ines, drawing=drawing, id=new_id(), revision="B", file=file)
    assert "1 area was" in client.get(reverse("drawing", args=[drawing.pk])).content.decode()
    assert "still fit" in client.post(reverse("drawing_places_fit", args=[drawing.pk]), follow=True).content.decode()
    assert "1 area was" not in client.get(reverse("drawing", args=[drawing.pk])).content.decode()
    with pytest.raises(Conflict, match="No area was placed before"):
        actions.confirm_places(cast.ines, drawing=drawing)
    # Pressed on the picture at three quarters of its width: nothing is kept before it is sent.
    place = reverse("drawing_area_place", args=[drawing.pk, site.other_area.pk])
    pressed = client.post(f"{place}?width=320", {"left": "", "top": "", "at.x": "240", "at.y": "107"})
    assert [pressed.context["form"][name].value() for name in ("left", "top")] == ["75", "50.23"]
    assert client.post(place, {"left": "75", "top": ""}).status_code == 422
    assert client.post(place, {"left": "75", "top": "50.23"}).status_code == 302
    assert drawing.areas.get(ended_at=None, area=site.other_area).x == 7500
    actions.set_areas(cast.quinn, drawing=drawing, areas=[Placed(site.area)])
    assert drawing.areas.filter(ended_at=None).count() == 1
    assert set(verbs(drawing.pk)) == {
        "drawing.added", "drawing.areas_set", "drawing.revised", "drawing.places_confirmed",
    }  # fmt: skip
    with pytest.raises(NotAllowed):
        actions.set_areas(cast.clara, drawing=drawing, areas=[])
    with pytest.raises(Refused, match="named twice"):
        actions.set_areas(cast.ines, drawing=drawing, areas=[Placed(site.area), Placed(site.area)])


@pytest.mark.once
def test_the_codes_of_areas_on_a_picture_lie_over_none_of_each_other() -> None:
    """Far apart they are as large as they may be; close by smaller; where nobody could read them only their places."""

    def row(step: float) -> list[Mark]:
        return [Mark(100 + step * number, 500, f"S1-N{number:02}", "", "") for number in range(20)]

    wide, near, too_near = (letters_of(row(step), 1600) for step in (160, 60, 20))
    assert wide == pytest.approx(1600 / 46, abs=0.1)
    assert 0 < near < wide
    assert near * 6 * 0.6 < 60, "six letters of about 0.6 of their height fit between two places"
    assert too_near == 0
    assert letters_of([Mark(1, 10 * number, "A1", "", "") for number in range(3)], 100) > 0


def test_a_note_is_numbered_shown_corrected_withdrawn_and_kept_once(cast: Cast) -> None:
    revision = kept(cast)
    own, sent = new_id(), NoteSent(text="Rust at the weld", at=MORNING, x=2500, y=7500, area=cast.site.area)
    note, new = noting.write_note(cast.ines, id=own, revision=revision, sent=sent)
    assert (note.number, new) == (1, True)
    assert note.digest == noting.digest_of(cast.ines, revision, note)
    assert noting.write_note(cast.ines, id=own, revision=revision, sent=sent) == (note, False)
    with pytest.raises(Conflict):
        noting.write_note(cast.ines, id=own, revision=revision, sent=NoteSent(text="x", at=MORNING, x=0, y=0))
    faults = {}
    for name, bad in {"x": {"x": None}, "y": {"y": 10_001}, "text": {"text": " "},
                      "at": {"at": MORNING + timedelta(days=2)}}.items():  # fmt: skip
        with pytest.raises(Refused) as refused:
            noted(cast, revision, **bad)
        faults[name] = [fault.field for fault in refused.value.faults]
    assert faults == {"x": ["x"], "y": ["y"], "text": ["text"], "at": ["at"]}
    # The client sees it once it is shown to them, and no more when it is withdrawn.
    assert not queries.notes_seen(cast.clara).exists()
    with pytest.raises(Http404):
        noting.withdraw_note(cast.clara, note=note, reason="x")
    noting.show_note(cast.quinn, note=note, shown=True)
    assert queries.notes_seen(cast.clara).get() == note
    with pytest.raises(NotAllowed):
        noting.withdraw_note(cast.clara, note=note, reason="x")
    right = NoteSent(text="Rust at the weld of frame 12", at=MORNING, x=2600, y=7500)
    later, _ = noting.correct_note(cast.ines, note=note, id=new_id(), sent=right, reason="Another frame")
    assert (later.number, later.version, later.shown, later.replaces) == (1, 2, True, note)
    with pytest.raises(Conflict, match="version 2"):
        noting.withdraw_note(cast.ines, note=note, reason="x")
    noting.withdraw_note(cast.ines, note=later, reason="Of another tank")
    # With what stands the versions before it are out of sight too, and come back with it.
    assert not queries.notes_seen(cast.clara).exists()
    assert queries.notes_of(cast.ines, revision.drawing) == []
    noting.restore_note(cast.ines, note=later, reason="It was right")
    assert set(queries.notes_seen(cast.clara)) == {note, later}
    noting.show_note(cast.ines, note=later, shown=False)
    assert not queries.notes_seen(cast.clara).exists()
    assert [verb.partition(".")[2] for verb in verbs(note.pk, later.pk)] == [
        "written", "shown", "corrected", "withdrawn", "restored", "hidden",
    ]  # fmt: skip
    assert list(drawings.differences()) == []
    rewrite(DrawingNote.objects.filter(pk=later.pk), x=2_601)
    found = list(drawings.differences())
    assert any("does not match its digest" in each for each in found), found
    rewrite(DrawingNote.objects.filter(pk=later.pk), x=2_600)
    # Their own people's they see and put right themselves; the company sees it too.
    theirs = noted(cast, revision, by=cast.clara)
    assert set(queries.notes_of(cast.clara, revision.drawing)) == {theirs}
    also = noted(cast, revision, by=cast.clara, text="Rust too")
    noting.correct_note(cast.ines, note=also, id=new_id(), sent=right, reason="Another frame")
    page = signed_in(cast.clara).get(reverse("drawing_note", args=[also.pk])).content.decode()
    assert "by the inspection company; its version is not shown" in page
    assert "frame 12" not in page
    noting.withdraw_note(cast.clara, note=theirs, reason="Said already")
    with pytest.raises(Http404):
        noted(cast, revision, by=cast.carl)


def test_a_contractor_sees_the_drawings_and_notes_of_the_areas_given_to_them(cast: Cast) -> None:
    firm = Organisation.objects.create(name="Painters", kind=Organisation.Kind.CONTRACTOR)
    pia, site = person("Pia Painter", firm, Role.CONTRACTOR), cast.site
    party = Party.objects.create(project=site.project, organisation=firm, kind=Party.Kind.CONTRACTOR)
    Membership.objects.create(project=site.project, person=pia, organisation=firm, role=Role.CONTRACTOR)
    revision, other = kept(cast), kept(cast, "D-102")
    actions.set_areas(cast.ines, drawing=revision.drawing, areas=[Placed(site.area), Placed(site.other_area)])
    for area in (site.area, site.other_area, None):
        noting.show_note(cast.ines, note=noted(cast, revision, area=area), shown=True)
    # Nothing is given by itself: all of the project is theirs.
    assert set(Drawing.objects.visible_to(pia)) == {revision.drawing, other.drawing}
    assert queries.notes_seen(pia).count() == 3
    Scope.objects.create(party=party, area=site.area)
    assert list(Drawing.objects.visible_to(pia)) == [revision.drawing]
    assert [each.area for each in DrawingArea.objects.visible_to(pia)] == [site.area]
    assert [each.area for each in queries.notes_seen(pia)] == [site.area]
    page = signed_in(pia).get(reverse("drawing", args=[revision.drawing_id])).content.decode()
    assert "A2" not in page
    actions.set_areas(cast.ines, drawing=revision.drawing, areas=[Placed(site.other_area)])
    assert not Drawing.objects.visible_to(pia).exists()


def test_a_place_is_pressed_on_the_picture_or_typed_without_scripts(cast: Cast) -> None:
    revision, client = kept(cast), signed_in(cast.ines)
    address = reverse("drawing_note_new", args=[revision.pk])
    form = client.get(address).context["form"]
    typed = {"id": str(form["id"].value()), "text": "Rust", "at": "2026-03-04T08:00", "area": "", "left": "", "top": ""}
    assert "Give the place on the drawing" in client.post(address, typed).content.decode()
    pressed = client.post(address, typed | {"at.x": "160", "at.y": "320"})
    form = pressed.context["form"]
    assert [form[name].value() for name in ("text", "left", "top")] == ["Rust", "25", "74.94"]
    assert "drawing-cross" in pressed.content.decode()
    # The key Enter on the picture answers with its corner, which nobody pointed at.
    corner = client.post(address, typed | {"at.x": "0", "at.y": "0"})
    assert corner.context["form"]["left"].value() == ""
    assert not DrawingNote.objects.exists()
    for _ in range(2):
        assert client.post(address, typed | {"left": "25", "top": "74,94", "area_typed": "a1"}).status_code == 302
    note = DrawingNote.objects.get()
    assert (note.x, note.y, note.area) == (2500, 7494, cast.site.area)
    page = client.get(reverse("drawing", args=[revision.drawing_id])).content.decode()
    assert 'href="#note-1"' in page
    assert 'cx="300.0" cy="599.5"' in page
    assert 'style="' not in page
    assert signed_in(cast.carl).get(address).status_code == 404
    # A file without a picture has no place that could be pressed, whatever a browser sends.
    blank = kept(cast, "D-102", b"%PDF-1.7 nothing that can be drawn")
    pressed_there = typed | {"id": str(new_id()), "at.x": "1", "at.y": "1"}
    answer = client.post(reverse("drawing_note_new", args=[blank.pk]), pressed_there)
    assert answer.status_code == 302


def test_the_api_takes_a_note_once_and_answers_with_its_digest(cast: Cast) -> None:
    client = signed_in(cast.ines)
    sent = {
        "id": str(new_id()),
        "project": str(cast.site.project.pk),
        "number": "D-7",
        "title": "Deck",
        "revision": "0",
    }
    for status in (201, 200):
        file = SimpleUploadedFile("deck.png", drawn())
        made = client.post("/api/drawings/", sent | {"file": file})
        assert made.status_code == status, made.content
    drawing = made.json()
    assert drawing["standing"] == sent["id"]
    note = {"id": str(new_id()), "revision": sent["id"], "text": "Rust", "x": 10, "y": 9990,
            "area": str(cast.site.area.pk), "at": MORNING.isoformat()}  # fmt: skip
    for status in (201, 200):
        answer = client.post("/api/drawing-notes/", json.dumps(note), content_type="application/json")
        assert answer.status_code == status, answer.content
    told = answer.json()
    assert told["digest"] == DrawingNote.objects.get().digest
    other = client.post("/api/drawing-notes/", json.dumps(note | {"x": 11}), content_type="application/json")
    assert other.status_code == 409
    foreign = note | {"id": str(new_id()), "area": str(cast.foreign.area.pk)}
    refused = client.post("/api/drawing-notes/", json.dumps(foreign), content_type="application/json")
    assert (refused.status_code, refused.json()["errors"][0]["field"]) == (404, "area")
    assert client.get("/api/drawing-notes/", {"drawing": drawing["id"]}).json()["results"] == [told]
    assert signed_in(cast.clara).get("/api/drawing-notes/").json()["results"] == []
    assert signed_in(cast.carl).get(f"/api/drawings/{drawing['id']}/").status_code == 404


def test_pages_ask_no_more_of_the_database_with_more_drawings_and_notes(cast: Cast) -> None:
    revision, client = kept(cast), signed_in(cast.ines)
    noted(cast, revision)
    actions.set_areas(cast.ines, drawing=revision.drawing, areas=[Placed(cast.site.area, 1, 1)])
    addresses = [reverse("drawing", args=[revision.drawing_id]), f"/projects/{cast.site.project.pk}/drawings/",
                 "/api/drawings/", "/api/drawing-notes/", reverse("area", args=[cast.site.area.pk])]  # fmt: skip

    def asked() -> list[int]:
        counts = []
        for address in addresses:
            with CaptureQueriesContext(connection) as queries_:
                assert client.get(address).status_code == 200
            counts.append(len(queries_))
        return counts

    before = asked()
    for number in range(3):
        noted(cast, revision, text=f"Rust {number}", area=cast.site.area)
        more = kept(cast, f"D-2{number}")
        actions.set_areas(cast.ines, drawing=more.drawing, areas=[Placed(cast.site.area, 1, 1)])
        noted(cast, more)
    actions.set_areas(cast.ines, drawing=revision.drawing, areas=[Placed(cast.site.area), Placed(cast.site.other_area)])
    assert asked() == before
