"""Batches of paint and what was mixed of them, by page and API: what is kept, asked about, refused and taken back."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry, Organisation, Person, Role
from inspection.foundation.ids import new_id
from inspection.projects.models import Coat, DataSheet, DataSheetRow, Membership
from inspection.works.models import BatchStep, Mix, MixPart, PaintBatch
from tests import cast as casting
from tests.cast import MORNING, Cast

HOUR = timedelta(hours=1)
AT = "2026-03-04T07:00:00Z"


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def ines(cast: Cast) -> Client:
    """Who records; the primer's sheet: 4:1 by volume to within 5 %, 15 min, and 6 h, 4 h, 2 h at 10, 20, 30 °C."""
    sheet = DataSheet.objects.create(
        project=cast.site.project, product="Paint", revision="2026-01", mixing_by_volume="4:1", mixing_tolerance_pct=5,
        induction_minutes=15, thinner="Thinner 7", thinner_max_pct=5,
    )  # fmt: skip
    for at, hours in ((10, 6), (20, 4), (30, 2)):
        DataSheetRow.objects.create(sheet=sheet, temperature_c=at, pot_life_hours=hours)
    Coat.objects.filter(pk=cast.site.coats[0].pk).update(data_sheet=sheet)
    return signed_in(cast.ines)


def post(client: Client, name: str, sent: dict[str, Any], *args: Any) -> Any:
    return client.post(reverse(name, args=args), sent, "application/json")


def a_batch(cast: Cast, **more: Any) -> dict[str, Any]:
    return {
        "id": str(new_id()), "project": str(cast.site.project.pk), "product": "Paint", "component": "base",
        "number": "K-1", "expires_on": "2027-01-31", "received": 160, "unit": "l", "containers": 10,
        "received_at": "2026-03-02T08:30:00Z", **more,
    }  # fmt: skip


def entered(client: Client, cast: Cast, **more: Any) -> str:
    answer = post(client, "api_batch_list", a_batch(cast, **more))
    assert answer.status_code == 201, answer.content
    return str(answer.json()["id"])


def both(client: Client, cast: Cast) -> tuple[str, str]:
    """A base of ten containers of 16 l and its hardener, ten of 4 l."""
    return entered(client, cast), entered(client, cast, component="hardener", number="H-1", received=40)


def a_mix(cast: Cast, *parts: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {
        "id": str(new_id()), "project": str(cast.site.project.pk), "coat": str(cast.site.coats[0].pk), "mixed_at": AT,
        "stirred": "power", "paint_c": 20, "parts": list(parts), **more,
    }  # fmt: skip


def faults(answer: Any) -> list[tuple[str, Any, str]]:
    return [(fault["field"], fault["row"], fault["message"]) for fault in answer.json()["errors"]]


# --- batches ----------------------------------------------------------------------------------------------------------


def test_a_batch_sent_twice_is_one_and_other_content_under_its_id_is_refused(ines: Client, cast: Cast) -> None:
    sent = a_batch(cast)
    assert [post(ines, "api_batch_list", sent).status_code for _ in range(2)] == [201, 200]
    assert post(ines, "api_batch_list", sent | {"received": 170}).status_code == 409
    assert post(ines, "api_batch_list", sent | {"id": str(new_id())}).status_code == 409
    assert PaintBatch.objects.get().received == 160


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"received": 0}, "received", "more than 0"),
        ({"made_on": "2026-03-03"}, "made_on", "before it was made"),
        ({"made_on": "2026-02-01", "expires_on": "2026-01-01"}, "expires_on", "expires before it was made"),
        ({"storage_min_c": 30, "storage_max_c": 5}, "storage_max_c", "the greater one"),
        ({"received_at": "2999-01-01T00:00:00Z"}, "received_at", "lies in the future"),
        ({"number": "A\u202eB"}, "number", "unseen character"),
    ],
)
def test_what_is_wrong_with_a_batch_names_its_field(
    ines: Client, cast: Cast, wrong: dict[str, Any], field: str, words: str
) -> None:
    answer = post(ines, "api_batch_list", a_batch(cast, **wrong))
    assert answer.status_code == 422
    assert [(name, words in told) for name, _, told in faults(answer)] == [(field, True)]
    assert not PaintBatch.objects.exists()


def test_an_unknown_product_and_one_expired_on_receipt_are_asked_about_and_then_kept(ines: Client, cast: Cast) -> None:
    sent = a_batch(cast, product="Pant", expires_on="2026-03-01")
    answer = post(ines, "api_batch_list", sent)
    assert answer.status_code == 428
    assert {field for field, _, _ in faults(answer)} == {"product", "expires_on"}
    assert not PaintBatch.objects.exists()
    assert post(ines, "api_batch_list", sent | {"confirmed": True}).status_code == 201


def test_the_fitness_of_a_batch_follows_its_steps_and_each_is_taken_back(ines: Client, cast: Cast) -> None:
    batch = entered(ines, cast, expires_on="2026-03-03")
    now = post(ines, "api_batch_quarantine", {"id": str(new_id()), "why": "Frost in the store"}, batch).json()["now"]
    assert (now["words"], now["in_quarantine"]) == ("In quarantine", True)
    again = post(ines, "api_batch_quarantine", {"id": str(new_id()), "why": "Twice"}, batch)
    assert again.status_code == 409
    now = post(ines, "api_batch_release", {"id": str(new_id()), "why": "Tested, in order"}, batch).json()["now"]
    assert now["words"] == "Expired 2026-03-03"
    letter = {"id": str(new_id()), "dated": "2026-03-02", "expires_on": "2099-01-01", "reference": "L-7"}
    answer = post(ines, "api_batch_extend", letter, batch)
    assert (answer.json()["now"]["words"], answer.json()["now"]["doubts"]) == ("Extended until 2099-01-01", [])
    assert post(ines, "api_batch_extend", letter, batch).status_code == 200
    assert BatchStep.objects.count() == 3
    earlier = post(ines, "api_batch_extend", letter | {"id": str(new_id()), "expires_on": "2098-01-01"}, batch)
    assert [field for field, _, _ in faults(earlier)] == ["expires_on"]
    back = post(ines, "api_batch_step_withdraw", {"reason": "Another batch"}, letter["id"])
    assert back.json()["now"]["words"] == "Expired 2026-03-03"
    assert JournalEntry.objects.filter(verb="batch.step_withdrawn", reason="Another batch").exists()


def test_a_batch_is_corrected_withdrawn_and_brought_back_with_a_reason_the_journal_keeps(
    ines: Client, cast: Cast
) -> None:
    batch = entered(ines, cast)
    sent = {name: value for name, value in a_batch(cast, number="K-11").items() if name not in ("id", "project")}
    answer = post(ines, "api_batch_correct", sent | {"reason": "Misread"}, batch)
    assert (answer.status_code, answer.json()["number"]) == (200, "K-11")
    [entry] = JournalEntry.objects.filter(verb="batch.corrected")
    assert (entry.before, entry.after, entry.reason) == ({"number": "K-1"}, {"number": "K-11"}, "Misread")
    assert post(ines, "api_batch_withdraw", {"reason": "Not ours"}, batch).json()["now"]["words"] == "Withdrawn"
    assert post(ines, "api_batch_restore", {"reason": "It is"}, batch).json()["now"]["words"].startswith("In date")


# --- a delivery -------------------------------------------------------------------------------------------------------

TABLE = (
    "product;component;number;received;unit;containers;received_at;expires_on\n"
    "Paint;A;K-1;160;l;10;2026-03-02 08:30;31.01.2027\n"
    "Paint;hardener;H-1;40,5;l;10;2026-03-02;2027-01-31\n"
)


def upload(client: Client, cast: Cast, rows: str, **more: str) -> Any:
    return client.post(reverse("batch_upload", args=[cast.site.project.pk]), {"rows": rows, **more}, follow=True)


def test_a_delivery_is_shown_first_and_stored_whole_and_the_same_table_again_changes_nothing(
    ines: Client, cast: Cast
) -> None:
    assert "2 batches" in upload(ines, cast, TABLE, look="1").content.decode()
    assert not PaintBatch.objects.exists()
    assert "2 batches are entered." in upload(ines, cast, TABLE, store="1").content.decode()
    assert list(PaintBatch.objects.order_by("number").values_list("number", "received")) == [
        ("H-1", Decimal("40.5")), ("K-1", 160),
    ]  # fmt: skip
    assert "Nothing was changed." in upload(ines, cast, TABLE, store="1").content.decode()
    assert PaintBatch.objects.count() == 2


def test_one_wrong_row_of_a_delivery_keeps_all_of_it_back_and_is_named_with_its_column(
    ines: Client, cast: Cast
) -> None:
    wrong = TABLE + "Paint;C;K-2;much;l;;2026-13-02;\nPaint;A;K-1;1;l;;2026-03-02;\n"
    answer = upload(ines, cast, wrong, store="1")
    page = answer.content.decode()
    assert answer.status_code == 422
    for told in ("“C” is not known", "“much” is not a number", "“2026-13-02” is not a date", "row 2 already"):
        assert told in page
    assert not PaintBatch.objects.exists()


def test_a_row_that_differs_from_what_is_stored_is_refused_with_what_stands(ines: Client, cast: Cast) -> None:
    upload(ines, cast, TABLE, store="1")
    page = upload(ines, cast, TABLE.replace(";160;", ";170;"), store="1").content.decode()
    assert "is stored otherwise, 160; correct the batch on its page." in page


def test_labels_lead_to_the_batch(ines: Client, cast: Cast) -> None:
    batch = entered(ines, cast)
    asked = {"sheet": "large", "start": "1", "copies": "2", "batch": batch}
    answer = ines.get(reverse("batch_labels", args=[cast.site.project.pk]), asked)
    assert (answer["Content-Type"], answer.content[:5]) == ("application/pdf", b"%PDF-")


# --- mixes ------------------------------------------------------------------------------------------------------------


def test_a_mix_of_whole_kits_has_its_ratio_and_is_usable_from_induction_to_pot_life(ines: Client, cast: Cast) -> None:
    base, hardener = both(ines, cast)
    sent = a_mix(cast, {"batch": base, "containers": 2}, {"batch": hardener, "containers": 2, "component": "hardener"})
    answer = post(ines, "api_mix_list", sent)
    told = answer.json()
    assert answer.status_code == 201, told
    assert (told["ratio_mixed"], told["deviation_pct"], told["gone_over"]) == ("4:1", 0, [])
    assert (told["usable_from"], told["usable_until"]) == ("2026-03-04T07:15:00Z", "2026-03-04T11:00:00Z")
    assert [(part["number"], part["amount"]) for part in told["parts"]] == [("K-1", 32), ("H-1", 8)]
    assert ines.get(reverse("api_batch", args=[base])).json()["left"] == 128
    assert post(ines, "api_mix_list", sent).status_code == 200
    assert Mix.objects.count() == 1


@pytest.mark.parametrize(
    ("paint_c", "until", "words"),
    [
        (25, "2026-03-04T09:00:00Z", "the shorter of the two"),
        (35, None, "from 10 to 30 °C, not for 35 °C; nothing is guessed"),
        (None, None, "was not measured"),
    ],
)
def test_pot_life_between_two_temperatures_is_the_shorter_and_beyond_them_not_stated(
    ines: Client, cast: Cast, paint_c: int | None, until: str | None, words: str
) -> None:
    base, hardener = both(ines, cast)
    parts = {"batch": base, "containers": 1}, {"batch": hardener, "containers": 1}
    told = post(ines, "api_mix_list", a_mix(cast, *parts, paint_c=paint_c)).json()
    assert (told["usable_until"], words in told["pot_life_told"]) == (until, True)


def test_bad_input_of_a_mix_names_field_and_row(ines: Client, cast: Cast) -> None:
    base, hardener = both(ines, cast)
    half = {"batch": hardener, "containers": 1}
    for parts, more, field, row, words in (
        (({"batch": hardener, "containers": 1, "component": "base"},), {}, "component", 1, "it is given as A, base"),
        (({"batch": base, "containers": 1, "amount": 40}, half), {}, "amount", 1, "hold"),
        (({"batch": base}, half), {}, "amount", 1, "how many whole containers"),
        (({"batch": base, "amount": 4}, half, half), {}, "batch", 3, "named twice"),
        (
            ({"batch": base, "containers": 1}, half), {"used_from": "2026-03-04T06:00:00Z"},
            "used_from", None, "before it",
        ),
        (
            ({"batch": base, "containers": 1}, half),
            {"used_from": "2026-03-04T08:00:00Z", "used_until": "2026-03-04T07:30:00Z"},
            "used_until", None, "ended before it began",
        ),
        (({"batch": base, "containers": 1}, half), {"mixed_at": "2999-01-01T00:00:00Z"}, "mixed_at", None, "future"),
    ):  # fmt: skip
        answer = post(ines, "api_mix_list", a_mix(cast, *parts, **more))
        assert answer.status_code == 422, answer.content
        assert (field, row, True) in [(name, at, words in told) for name, at, told in faults(answer)], answer.content
    foreign = PaintBatch.objects.create(
        project=cast.foreign.project, party=cast.foreign.project.parties.first(), product="Paint", component="base",
        number="F-1", received=1, unit="l", received_at=MORNING, entered_by=cast.igor, digest="0" * 64,
    )  # fmt: skip
    assert post(ines, "api_mix_list", a_mix(cast, {"batch": str(foreign.pk), "amount": 1})).status_code == 404
    assert not Mix.objects.exists()


def test_what_is_doubtful_of_a_mix_is_asked_about_kept_and_shown(ines: Client, cast: Cast) -> None:
    base, hardener = both(ines, cast)
    sent = a_mix(
        cast, {"batch": base, "amount": 200}, {"batch": hardener, "amount": 8},
        used_from="2026-03-04T07:05:00Z", used_until="2026-03-04T12:00:00Z",
    )  # fmt: skip
    answer = post(ines, "api_mix_list", sent)
    asked = " ".join(told for _, _, told in faults(answer))
    assert answer.status_code == 428
    for words in (
        "160 l are left",
        "a ratio by mass is not one by volume",
        "before the induction",
        "pot life had ended",
    ):
        assert words in asked
    told = post(ines, "api_mix_list", sent | {"confirmed": True}).json()
    assert len(told["gone_over"]) == 4
    assert ines.get(reverse("api_batch", args=[base])).json()["left"] == -40
    page = ines.get(reverse("mix", args=[told["id"]])).content.decode()
    assert "Stored although" in page
    assert "40 l more taken than received" in ines.get(reverse("batch", args=[base])).content.decode()


def test_a_mix_of_an_expired_batch_is_kept_with_a_reason_only_and_says_so(ines: Client, cast: Cast) -> None:
    base = entered(ines, cast, expires_on="2026-03-03")
    hardener = entered(ines, cast, component="hardener", number="H-1", received=40)
    sent = a_mix(cast, {"batch": base, "containers": 1}, {"batch": hardener, "containers": 1})
    assert "Do not begin" in str(faults(post(ines, "api_mix_list", sent)))
    without = post(ines, "api_mix_list", sent | {"confirmed": True})
    assert (without.status_code, faults(without)[0][0]) == (422, "reason")
    assert not Mix.objects.exists()
    kept = post(ines, "api_mix_list", sent | {"confirmed": True, "reason": "Found after spraying"})
    assert kept.status_code == 201
    page = ines.get(reverse("mix_list", args=[cast.site.project.pk])).content.decode()
    assert "Made of an expired batch" in page


def test_a_mix_says_so_when_its_batch_is_withdrawn_later(ines: Client, cast: Cast) -> None:
    base, hardener = both(ines, cast)
    parts = {"batch": base, "containers": 1}, {"batch": hardener, "containers": 1}
    mix = post(ines, "api_mix_list", a_mix(cast, *parts)).json()["id"]
    post(ines, "api_batch_withdraw", {"reason": "The maker calls it back"}, base)
    assert "The maker calls it back" in str(ines.get(reverse("api_mix", args=[mix])).json()["doubts"])
    assert "Made of a withdrawn batch" in ines.get(reverse("mix", args=[mix])).content.decode()


def test_a_mix_is_corrected_told_as_used_withdrawn_and_brought_back(ines: Client, cast: Cast) -> None:
    base, hardener = both(ines, cast)
    part = {"batch": hardener, "containers": 1}
    sent = a_mix(cast, {"batch": base, "containers": 1}, part)
    mix = post(ines, "api_mix_list", sent).json()["id"]
    right = {name: value for name, value in sent.items() if name not in ("id", "project")}
    right["parts"] = [{"batch": base, "amount": 15.5}, part]
    told = post(ines, "api_mix_correct", right | {"why": "Weighed again"}, mix).json()
    assert (told["deviation_pct"], [each["amount"] for each in told["parts"]]) == (3.2, [15.5, 4])
    assert MixPart.objects.exclude(taken_out_at=None).get().amount == 16
    assert post(ines, "api_mix_correct", right | {"why": "Again"}, mix).status_code == 422
    use = {"used_from": "2026-03-04T07:20:00Z", "used_until": "2026-03-04T09:00:00Z"}
    assert post(ines, "api_mix_use", use, mix).status_code == 200
    assert post(ines, "api_mix_use", use | {"used_until": "2026-03-04T09:30:00Z"}, mix).status_code == 409
    assert post(ines, "api_mix_withdraw", {"reason": "Twice"}, mix).status_code == 200
    assert ines.get(reverse("api_batch", args=[base])).json()["left"] == 160
    assert post(ines, "api_mix_restore", {"reason": "It was not"}, mix).json()["withdrawn_at"] is None
    verbs = JournalEntry.objects.filter(object_id=mix).order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["mix.recorded", "mix.corrected", "mix.used", "mix.withdrawn", "mix.restored"]


def test_the_page_of_a_mix_asks_once_and_stores_what_was_meant(ines: Client, cast: Cast) -> None:
    base = entered(ines, cast, expires_on="2026-03-03")
    address = reverse("mix_new", args=[cast.site.project.pk])
    page = ines.get(address)
    sent = {
        "id": str(page.context["form"]["id"].value()), "coat": str(cast.site.coats[0].pk), "stirred": "hand",
        "mixed_at": "2026-03-04T07:00", "paint_c": "20", "lines": "4", "part1-batch": base, "part1-containers": "1",
    }  # fmt: skip
    asked = ines.post(address, sent)
    assert "No hardener is named" in asked.content.decode()
    sent["confirmed"] = asked.context["confirmed"]
    refused = ines.post(address, sent)
    assert (refused.status_code, "say why" in refused.content.decode()) == (422, True)
    stored = ines.post(address, sent | {"confirmed": refused.context["confirmed"], "reason": "Told by the foreman"})
    assert stored.status_code == 302
    assert Mix.objects.get().reason == "Told by the foreman"


def test_paint_that_is_running_stands_on_the_page_of_the_day(ines: Client, cast: Cast, in_date: None) -> None:
    far = {"expires_on": "2099-01-01"}
    base = entered(ines, cast, **far)
    hardener = entered(ines, cast, component="hardener", number="H-1", received=40, **far)
    parts = {"batch": base, "containers": 1}, {"batch": hardener, "containers": 1}
    now = timezone.now().replace(microsecond=0)
    answer = post(ines, "api_mix_list", a_mix(cast, *parts, mixed_at=(now - HOUR).isoformat()))
    assert answer.status_code == 201
    assert "Usable until" in ines.get(reverse("today")).content.decode()


def test_a_file_that_was_chosen_is_held_through_a_question_and_a_fault(ines: Client, cast: Cast) -> None:
    address = reverse("batch_new", args=[cast.site.project.pk])
    typed = {
        "id": str(new_id()), "product": "Unknown", "component": "base", "number": "K-7", "received": "much",
        "unit": "l", "received_at": "2026-03-02T08:30",
    }  # fmt: skip
    paper = SimpleUploadedFile("receipt.pdf", b"%PDF-1.4 receipt")
    wrong = ines.post(address, typed | {"file": paper})
    assert wrong.status_code == 422
    held = wrong.context["held"]
    assert "receipt.pdf is held with what you typed" in wrong.content.decode()
    typed |= {"received": "160", "held": held.digest}
    asked = ines.post(address, typed)
    assert "is no product of the project" in asked.content.decode()
    # Another session holds nothing of it, whatever digest is named.
    other = signed_in(cast.quinn).post(address, typed | {"id": str(new_id()), "number": "K-8"})
    assert other.context["held"] is None
    confirmed = typed | {"confirmed": asked.context["confirmed"], "held": asked.context["held"].digest}
    assert ines.post(address, confirmed).status_code == 302
    batch = PaintBatch.objects.get()
    assert (batch.file_id, batch.file_name) == (held.digest, "receipt.pdf")
    # A file chosen anew takes its place.
    newer = SimpleUploadedFile("newer.pdf", b"%PDF-1.4 newer")
    correct = reverse("batch_correct", args=[batch.pk])
    sent = confirmed | {"reason": "Another paper", "product": "Paint", "file": newer}
    assert ines.post(correct, sent).status_code == 302
    batch.refresh_from_db()
    assert batch.file_name == "newer.pdf"


# --- sight ------------------------------------------------------------------------------------------------------------


def test_a_contractor_keeps_its_own_paint_and_sees_no_other(ines: Client, cast: Cast) -> None:
    painters = Organisation.objects.create(name="Painters", kind=Organisation.Kind.CONTRACTOR)
    paula = casting.person("Paula Painter", painters, Role.CONTRACTOR)
    project = cast.site.project
    project.contractor = painters
    project.save()
    Membership.objects.create(project=project, person=paula, organisation=painters, role=Role.CONTRACTOR)
    company = PaintBatch.objects.create(
        project=project, party=project.parties.get(organisation=cast.company), product="Paint", component="single",
        number="C-1", received=5, unit="l", received_at=MORNING, entered_by=cast.quinn, digest="0" * 64,
    )  # fmt: skip
    theirs = signed_in(paula)
    own = entered(theirs, cast, number="P-1")
    assert PaintBatch.objects.get(pk=own).party.organisation == painters
    assert {each["id"] for each in theirs.get(reverse("api_batch_list")).json()["results"]} == {own}
    assert theirs.get(reverse("batch", args=[company.pk])).status_code == 404
    assert (
        post(theirs, "api_mix_list", a_mix(cast, {"batch": str(company.pk), "amount": 1}, coat=None)).status_code == 404
    )
    for reader in (cast.clara, cast.audrey):
        client = signed_in(reader)
        assert client.get(reverse("batch", args=[own])).status_code == 200
        assert post(client, "api_batch_withdraw", {"reason": "No"}, own).status_code == 403
    stranger = signed_in(cast.carl)
    assert stranger.get(reverse("batch", args=[own])).status_code == 404
    assert post(stranger, "api_batch_withdraw", {"reason": "No"}, own).status_code == 404


def test_no_number_of_queries_grows_with_batches_and_mixes(ines: Client, cast: Cast) -> None:
    project = cast.site.project
    party = project.parties.first()
    common = {"project": project, "party": party, "entered_by": cast.ines, "digest": "0" * 64}
    pages = [reverse("batch_list", args=[project.pk]), reverse("mix_list", args=[project.pk]),
             reverse("mix_new", args=[project.pk]), reverse("api_batch_list"), reverse("api_mix_list")]  # fmt: skip
    counts: list[list[int]] = []
    for size in (3, 30):
        for number in range(PaintBatch.objects.count(), size):
            batch = PaintBatch.objects.create(
                product="Paint", component="single", number=f"B-{number}", received=9, unit="l", received_at=MORNING,
                **common,
            )  # fmt: skip
            BatchStep.objects.create(batch=batch, what="quarantined", at=MORNING, why="Frost", entered_by=cast.ines)
            mix = Mix.objects.create(number=number + 1, mixed_at=MORNING + HOUR, stirred="hand", **common)
            MixPart.objects.create(mix=mix, batch=batch, amount=1, unit="l")
        found = []
        for address in pages:
            ines.get(address)
            with CaptureQueriesContext(connection) as queries:
                assert ines.get(address).status_code == 200
            found.append(len(queries))
        counts.append(found)
    assert counts[0] == counts[1]
