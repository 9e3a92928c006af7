"""Photos: each format as a camera writes it, what is refused and told, who sees them, what is drawn over them."""

from __future__ import annotations

import io
import json
import os
import zipfile
import zlib
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pillow_heif
import pytest
import time_machine
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import ExifTags, Image
from pypdf import PdfReader

from accounts import vault
from accounts.models import JournalEntry, Person
from inspection.fieldwork.defects.recording import DEFECTS
from inspection.foundation.attachments import UploadedContent
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.nonconformance.models import Nonconformance, ReworkItem
from inspection.photos import actions, layers, picture, queries, subjects
from inspection.photos.models import Photo
from inspection.photos.shown import path_of, shown_of
from reports.daily.gathering import gather
from reports.daily.pdf.document import draw
from tests.cast import DAY, MORNING, Cast
from tests.fieldwork.after_paint import stored

SHAPES: list[dict[str, Any]] = [
    {"shape": "arrow", "from": [0.1, 0.1], "to": [0.5, 0.5], "text": "rust"},
    {"shape": "circle", "from": [0.5, 0.5], "to": [0.6, 0.6], "text": ""},
    {"shape": "text", "from": [0.2, 0.9], "to": None, "text": "frame 12"},
]


def photo_bytes(kind: str = "JPEG", *, size: tuple[int, int] = (64, 48), **save: Any) -> bytes:
    """Red on the left half, blue on the right, with a camera's time, position and maker written into it."""
    image = Image.new("RGB", size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "Invented camera"
    exif[ExifTags.Base.Orientation] = save.pop("orientation", 1)
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal] = save.pop("taken", "2026:03:04 07:30:00")
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.OffsetTimeOriginal] = "+00:00"
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps |= {1: "S", 2: (59.0, 30.0, 0.0), 3: "E", 4: (10.0, 15.0, 0.0)}
    out = io.BytesIO()
    if kind == "HEIC":
        pillow_heif.from_pillow(image).save(out, exif=exif.tobytes(), **save)
    else:
        image.save(out, kind, exif=exif.tobytes(), **save)
    return out.getvalue()


def record(cast: Cast, **more: Any) -> Any:
    found = {"defects": [{"kind": "runs", "extent": "3", "place": "web", "acceptable": False}]}
    return stored(cast, DEFECTS, found, **more)


def add(
    cast: Cast, of: Any, content: bytes | None = None, name: str = "a.jpg", by: Person | None = None, **more: Any
) -> Photo:
    file = UploadedContent(name, content or photo_bytes())
    return actions.add_photo(by or cast.ines, id=new_id(), of=of, file=file, **more)[0]


# --- reading ----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("kind", "name"), [("JPEG", "a.jpg"), ("PNG", "a.PNG"), ("WEBP", "a.webp"), ("HEIC", "a.heic")]
)
def test_each_format_is_kept_as_it_came_and_shown_without_what_the_camera_wrote(
    cast: Cast, kind: str, name: str
) -> None:
    content = photo_bytes(kind)
    photo = add(cast, record(cast), content, name)
    assert vault.content_of(photo.file) == content
    assert (photo.width, photo.height) == (64, 48)
    assert photo.taken_at == MORNING + timedelta(minutes=30)
    for size in ("page", "small"):
        shown = shown_of(photo, size)
        assert b"Invented" not in shown
        with Image.open(io.BytesIO(shown)) as image:
            assert image.format == "JPEG"
            assert not image.getexif()
            left, right = (image.crop((x, 24, x + 1, 25)).tobytes() for x in (8, 56))
        assert left[0] > 200 > left[2]
        assert right[2] > 200 > right[0]
    assert actions.position_of(cast.quinn, photo=photo) == pytest.approx((-59.5, 10.25))
    assert JournalEntry.objects.filter(verb="photo.position_asked", actor=cast.quinn).exists()
    with pytest.raises(NotAllowed):
        actions.position_of(cast.ines, photo=photo)


@pytest.mark.once
def test_a_picture_is_turned_as_its_camera_was_held() -> None:
    """Orientation 6 of Exif 2.3: the row 0 is the right-hand side, so what was left in the file is on top."""
    read = picture.read(photo_bytes(orientation=6), name="a.jpg", zone=None)  # type: ignore[arg-type]  # its time has an offset
    assert (read.width, read.height) == (48, 64)
    with Image.open(io.BytesIO(read.page)) as image:
        assert image.size == (48, 64)
        assert image.getpixel((24, 8))[0] > 200  # type: ignore[index]  # RGB


def bomb() -> bytes:
    """A PNG of a few hundred bytes whose head promises 30,000 × 30,000 pixels."""
    content = bytearray(photo_bytes("PNG"))
    content[16:24] = (30_000).to_bytes(4, "big") * 2

    content[29:33] = zlib.crc32(bytes(content[12:29])).to_bytes(4, "big")
    return bytes(content)


@pytest.mark.once
@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.png", photo_bytes(), "ends in .png, but the file is a JPEG"),
        ("a.jpg", b"MZ" + bytes(400), "no photo that can be shown. Send JPEG, PNG, HEIC or WebP"),
        ("a.jpg", b"", "the file is empty"),
        ("a.jpg", photo_bytes()[:-200], "damaged or cut short"),
        ("a.heic", photo_bytes("HEIC")[:300], "damaged or cut short"),
        ("a.png", bomb(), "megapixels"),
        ("a.jpg", b"\xff\xd8\xff" + bytes(picture.MOST_BYTES), "more than 25 MB"),
    ],
    ids=["another format", "no photo", "empty", "cut", "cut HEIC", "bomb", "too large"],
)  # fmt: skip
def test_what_is_no_photo_is_refused_by_name_and_row(name: str, content: bytes, words: str) -> None:
    with pytest.raises(Refused, match=words) as refused:
        picture.read(content, name=name, zone=None, row=3)  # type: ignore[arg-type]  # its time has an offset
    (fault,) = refused.value.faults
    assert (fault.field, fault.row) == ("files", 3)
    assert fault.message.startswith(name)


def test_a_photo_of_24_mb_is_taken(cast: Cast) -> None:
    """A real picture of 12 megapixels, with what a maker of cameras may append behind its end."""
    content = photo_bytes(size=(4000, 3000))
    content += os.urandom(24 * 2**20 - len(content))
    photo = add(cast, record(cast), content)
    assert photo.file.size == 24 * 2**20
    with Image.open(io.BytesIO(shown_of(photo, "page"))) as image:
        assert max(image.size) == 1600
    assert len(shown_of(photo, "small")) < 20_000


def test_what_is_shown_is_made_again_where_it_is_gone(cast: Cast) -> None:
    photo = add(cast, record(cast))
    before = shown_of(photo, "small")
    default_storage.delete(path_of(photo.file_id, "small"))
    assert shown_of(photo, "small") == before


# --- told -------------------------------------------------------------------------------------------------------------
def test_a_wrong_clock_an_older_photo_and_the_same_bytes_are_told(cast: Cast) -> None:
    of = record(cast)
    content = photo_bytes(taken="2026:03:01 06:00:00")
    at = MORNING + timedelta(minutes=40)
    first = add(cast, of, content, at=at, at_once=True)
    clock, older = queries.told_of(cast.ines, first)
    assert "days behind the site's" in clock
    assert "3 days older than its record" in older
    item = ReworkItem.objects.create(
        project=cast.site.project, area=cast.site.area, what="Runs", place="web", opened_by=cast.ines
    )
    second = add(cast, item, content)
    assert [words for words in queries.told_of(cast.ines, second) if "same picture" in words] == [
        f"The same picture is also kept with {subjects.told(first)}."
    ]
    # A stranger to the first is told nothing of it.
    foreign = Nonconformance.objects.create(
        project=cast.foreign.project, number=1, area=cast.foreign.area, coat=cast.foreign.coats[0], title="Runs"
    )
    third = add(cast, foreign, content, by=cast.igor)
    assert queries.told_of(cast.igor, third) == []
    right = add(cast, of, photo_bytes(size=(66, 48)), at=MORNING + timedelta(minutes=36), at_once=True)
    assert not [words for words in queries.told_of(cast.ines, right) if "clock was" in words]


def test_the_same_sent_again_changes_nothing_and_others_under_its_id_are_refused(cast: Cast) -> None:
    of = record(cast)
    sent: dict[str, Any] = {"id": new_id(), "file": UploadedContent("a.jpg", photo_bytes())}
    photo, new = actions.add_photo(cast.ines, of=of, **sent)
    assert new
    assert actions.add_photo(cast.ines, of=of, **sent) == (photo, False)
    with pytest.raises(Conflict):
        actions.add_photo(cast.ines, of=of, **sent | {"file": UploadedContent("a.png", photo_bytes("PNG"))})
    assert Photo.objects.count() == 1


# --- shown, withdrawn -------------------------------------------------------------------------------------------------
def test_the_client_sees_what_is_shown_to_them_and_each_change_has_its_way_back(cast: Cast) -> None:
    photo = add(cast, record(cast))
    assert not queries.photos_seen(cast.clara).exists()
    with pytest.raises(Refused, match="goes to the client"):
        actions.change_photo(cast.ines, photo=photo, caption="", in_report=True)
    actions.change_photo(cast.ines, photo=photo, caption="Runs at the web", shown=True, in_report=True)
    assert queries.photos_seen(cast.clara).get() == photo
    assert not queries.photos_seen(cast.carl).exists()
    with pytest.raises(NotAllowed):
        actions.change_photo(cast.clara, photo=photo, caption="x")
    actions.withdraw_photo(cast.ines, photo=photo, reason="A face can be seen")
    assert not queries.photos_seen(cast.clara).exists()
    assert vault.content_of(photo.file) == photo_bytes()
    with pytest.raises(Conflict, match="withdrawn"):
        actions.change_photo(cast.ines, photo=photo, caption="y")
    actions.restore_photo(cast.ines, photo=photo, reason="It is a hand")
    actions.change_photo(cast.quinn, photo=photo, caption="Runs", shown=False, in_report=False)
    verbs = JournalEntry.objects.filter(object_id=str(photo.pk)).order_by("pk").values_list("verb", flat=True)
    assert [verb.removeprefix("photo.") for verb in verbs] == ["added", "changed", "withdrawn", "restored", "changed"]


# --- drawn over -------------------------------------------------------------------------------------------------------
def test_layers_are_versions_over_the_untouched_original(cast: Cast) -> None:
    photo = add(cast, record(cast))
    first = actions.draw_over(cast.ines, photo=photo, shapes=SHAPES, after=0)
    assert actions.draw_over(cast.ines, photo=photo, shapes=SHAPES, after=0) == first
    with pytest.raises(Conflict, match="since you looked"):
        actions.draw_over(cast.quinn, photo=photo, shapes=SHAPES[:1], after=0)
    actions.draw_over(cast.quinn, photo=photo, shapes=[], after=1)
    again = actions.use_layer_again(cast.ines, layer=first)
    assert (again.number, again.shapes) == (3, first.shapes)
    assert layers.in_words(again.shapes) == [
        "Arrow from B2 to G7: rust",
        "Circle around G7 to H8",
        "Text at C11: frame 12",
    ]
    assert vault.content_of(photo.file) == photo_bytes()


@pytest.mark.once
def test_shapes_that_cannot_be_drawn_are_named_by_row_and_field() -> None:
    wrong: list[dict[str, Any]] = [
        {"shape": "square", "from": [0, 0]}, {"shape": "arrow", "from": [0.1, 0.1]},
        {"shape": "circle", "from": [2, 0], "to": [1, 1]}, {"shape": "text", "from": [0, 0], "text": " "},
        {"shape": "arrow", "from": [0, 0], "to": [0, 0]},
    ]  # fmt: skip
    with pytest.raises(Refused) as refused:
        layers.checked(wrong)
    assert [(fault.row, fault.field) for fault in refused.value.faults] == [
        (1, "shape"), (2, "to"), (3, "from"), (4, "text"), (5, "to"),
    ]  # fmt: skip


# --- pages ------------------------------------------------------------------------------------------------------------
def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def upload(name: str = "a.jpg", content: bytes | None = None) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content or photo_bytes())


def test_several_are_sent_at_once_all_or_none_and_stand_on_the_page_of_their_record(cast: Cast) -> None:
    of, client = record(cast), signed_in(cast.ines)
    address = reverse("photo_new", args=["record", of.pk])
    asked = client.get(address).content.decode()
    assert 'capture="environment"' in asked
    assert "multiple" in asked
    sent = {"id": str(new_id()), "caption": "Runs"}
    bad = [upload(), upload("b.jpg", b"no photo")]
    refused = client.post(address, sent | {"files": bad})
    assert refused.status_code == 422
    assert "b.jpg: this is no photo" in refused.content.decode()
    assert not Photo.objects.exists()
    for _ in range(2):
        files = [upload(), upload("b.png", photo_bytes("PNG"))]
        assert client.post(address, sent | {"files": files}).status_code == 302
    assert Photo.objects.count() == 2
    page = client.get(reverse("defects", args=[of.pk])).content.decode()
    assert page.count("small.jpg") == 2
    too_many = client.post(address, {"files": [upload(f"{n}.jpg") for n in range(13)]})
    assert "at most 12" in too_many.content.decode()
    assert signed_in(cast.carl).get(address).status_code == 404


def test_a_corrected_record_takes_over_the_photos_of_its_former_versions(cast: Cast) -> None:
    first = record(cast)
    photo, _ = actions.add_photo(cast.ines, id=new_id(), of=first, file=UploadedContent("a.jpg", photo_bytes()))
    gone, _ = actions.add_photo(cast.ines, id=new_id(), of=first, file=UploadedContent("b.png", photo_bytes("PNG")))
    actions.withdraw_photo(cast.ines, photo=gone, reason="Blurred")
    wanted = {"replacement_reason": "Another area", "area": cast.site.other_area}
    second = record(cast, replaces=first, **wanted)
    photo.refresh_from_db()
    assert (photo.record, photo.area, photo.came_with) == (second, cast.site.other_area, first)
    entry = JournalEntry.objects.get(verb="photo.taken_over", object_id=str(photo.pk))
    assert (entry.before, entry.after) == ({"record": str(first.pk)}, {"record": str(second.pk)})
    # What was sent to a version corrected meanwhile goes to the one that stands, and sent again changes nothing.
    own, content = new_id(), UploadedContent("c.jpg", photo_bytes(size=(32, 24)))
    late, new = actions.add_photo(cast.ines, id=own, of=first, file=content)
    assert (late.record, late.came_with, new) == (second, first, True)
    assert actions.add_photo(cast.ines, id=own, of=first, file=content) == (late, False)
    third = record(cast, replaces=second, **wanted | {"area": cast.site.area})
    rows = Photo.objects.values_list("record", "came_with")
    assert set(rows) == {(third.pk, first.pk)}, "the withdrawn one too, so that it can be brought back"
    page = signed_in(cast.ines).get(reverse("defects", args=[third.pk])).content.decode()
    assert page.count("from the former version") == 2


def test_it_is_drawn_over_by_cells_of_the_grid_without_scripts(cast: Cast) -> None:
    photo, client = add(cast, record(cast)), signed_in(cast.ines)
    address = reverse("photo_mark", args=[photo.pk])
    assert ">L</text>" in client.get(address).content.decode()
    wrong = {"after": "0", "shape_2": "arrow", "from_2": "Z9", "to_2": "C4"}
    refused = client.post(address, wrong).content.decode()
    assert "Shape 2, From cell: “Z9” is no cell of the grid" in refused
    right = {"after": "0", "shape_1": "arrow", "from_1": "a1", "to_1": "C4", "text_1": "run & sag"}
    assert client.post(address, right).status_code == 302
    page = client.get(reverse("photo", args=[photo.pk])).content.decode()
    assert "<polygon" in page
    assert "Arrow from A1 to C4: run &amp; sag" in page
    (first,) = photo.layers.all()
    assert first.shapes[0]["to"] == pytest.approx([2.5 / 12, 3.5 / 12], abs=1e-4)
    assert client.post(address, {"after": "1"}).status_code == 302
    assert client.post(reverse("photo_layer_again", args=[first.pk])).status_code == 302
    assert photo.layers.count() == 3
    assert signed_in(cast.clara).get(address).status_code == 404


def test_the_gallery_and_a_record_ask_no_more_for_many_photos(cast: Cast) -> None:
    of, client = record(cast), signed_in(cast.quinn)
    photo = add(cast, of)
    counts: dict[str, list[int]] = {}
    for many in (3, 60):
        rows = range(Photo.objects.count(), many)
        copied = {field.attname: getattr(photo, field.attname) for field in Photo._meta.concrete_fields}
        Photo.objects.bulk_create(Photo(**copied | {"id": new_id(), "caption": f"No. {n}"}) for n in rows)
        for address in (reverse("photo_list"), reverse("defects", args=[of.pk]), reverse("api_photo_list")):
            with CaptureQueriesContext(
                connection,
            ) as asked:
                shown = client.get(address)
            assert shown.status_code == 200
            counts.setdefault(address, []).append(len(asked))
    assert all(few == many for few, many in counts.values()), counts
    assert client.get(reverse("photo_list"), {"page": 3}).content.decode().count("small.jpg") == 12


# --- API --------------------------------------------------------------------------------------------------------------
def test_the_api_takes_a_photo_once_and_shows_it_without_its_camera(cast: Cast) -> None:
    of, client, pk = record(cast), signed_in(cast.ines), str(new_id())
    told = {"id": pk, "of": "record", "thing": str(of.pk), "caption": "Runs", "at_once": "true"}
    for status in (201, 200):
        answer = client.post("/api/photos/", told | {"file": upload()})
        assert answer.status_code == status, answer.content
    assert answer.json()["digest"] == Photo.objects.get().file_id
    assert "clock was" in answer.json()["told"][0]
    assert client.post("/api/photos/", told | {"file": upload("b.png", photo_bytes("PNG"))}).status_code == 409
    lying = client.post("/api/photos/", told | {"id": str(new_id()), "file": upload("a.gif")})
    assert lying.status_code == 422
    assert "ends in .gif" in lying.content.decode()
    assert b"Invented" not in client.get(answer.json()["image"]).content
    drawn = client.post(f"/api/photos/{pk}/mark/", {"after": 0, "shapes": SHAPES}, content_type="application/json")
    assert drawn.json()["layers"][0]["shapes"] == SHAPES
    assert signed_in(cast.igor).get(f"/api/photos/{pk}/").status_code == 404


# --- the daily report -------------------------------------------------------------------------------------------------
def test_the_daily_report_prints_what_was_chosen_beside_its_record_and_stays_small(cast: Cast) -> None:
    of = record(cast)
    before = gather(cast.site.project, DAY)
    photo = add(cast, of, photo_bytes(size=(2000, 1500)), caption="Runs at the web")
    add(cast, of, photo_bytes("PNG"), "not chosen.png")
    assert gather(cast.site.project, DAY).digest == before.digest
    actions.change_photo(cast.ines, photo=photo, caption="Runs at the web", shown=True, in_report=True)
    actions.draw_over(cast.ines, photo=photo, shapes=SHAPES, after=0)
    facts = gather(cast.site.project, DAY)
    (told,) = facts.photos
    assert (told.record, told.digest, len(told.shapes)) == (str(of.pk), photo.file_id, 3)
    drawn = draw(facts)
    assert drawn == draw(facts)
    if kept := os.environ.get("PHOTO_PICTURES"):
        Path(kept, "report.pdf").write_bytes(drawn)
    reader = PdfReader(io.BytesIO(drawn))
    (page,) = [page for page in reader.pages if "Runs at the web" in page.extract_text()]
    assert "frame 12" in page.extract_text()
    many = replace(facts, photos=tuple(replace(told, id=str(n)) for n in range(60)))
    with CaptureQueriesContext(connection) as few:
        gather(cast.site.project, DAY)
    assert not [asked for asked in few if "photos_photolayer" in asked["sql"]][1:]
    assert len(draw(many)) < 3 * 2**20
    actions.withdraw_photo(cast.ines, photo=photo, reason="Another plate")
    assert gather(cast.site.project, DAY).digest == before.digest


def test_an_evidence_bundle_carries_the_photos_of_its_records_without_their_position(cast: Cast) -> None:
    of = record(cast)
    photo, withdrawn = add(cast, of), add(cast, of, photo_bytes("PNG"), "b.png")
    actions.draw_over(cast.ines, photo=photo, shapes=SHAPES, after=0)
    actions.withdraw_photo(cast.ines, photo=withdrawn, reason="Of another plate")
    answer = signed_in(cast.audrey).get(reverse("trace_bundle", args=["defects", of.pk]))
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        names = {name for name in archive.namelist() if name.startswith("photos/")}
        assert names == {"photos/photos.json", f"photos/{photo.pk}.jpg"}
        (told,) = json.loads(archive.read("photos/photos.json"))["photos"]
        assert (told["sha256_of_original"], told["drawn"]) == (photo.file_id, SHAPES)
        assert b"Invented" not in archive.read(f"photos/{photo.pk}.jpg")
        assert f"photos/{photo.pk}.jpg" in archive.read("SHA256SUMS").decode()


pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_work")]


@pytest.fixture
def at_work() -> Any:
    with time_machine.travel(MORNING + timedelta(hours=3), tick=True):
        yield
