"""Questions about readings: found by the platform, answered by the quality manager, and not there for anybody else."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry, Letter, Tiding
from inspection.fieldwork.models import ThicknessRecord
from inspection.instruments.models import VerificationPoint
from reports.questions.finding import examine_new, waiting
from reports.questions.models import ReadingQuestion
from reports.questions.words import told
from tests.cast import MORNING, Cast
from tests.fieldwork.test_sheet_pages import words
from tests.past_triggers import rewrite
from tests.standing.scene import measure, verify

FILM = [round(float(value), 1) for value in np.random.default_rng(5).normal(250, 12, 40)]
OTHER = [round(float(value), 1) for value in np.random.default_rng(6).normal(250, 12, 40)]


@pytest.fixture
def quinn(client: Client, cast: Cast) -> Client:
    client.force_login(cast.quinn)
    return client


def signed_in(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


def repeated(cast: Cast) -> ReadingQuestion:
    """Twenty readings of the hatch stand again in the middle of the shell's, a day later."""
    measure(cast, "07:00", "08:00", values_um=FILM)
    measure(cast, "", "", at=MORNING + timedelta(days=1), area=cast.site.other_area, values_um=OTHER[:10] + FILM[5:25])
    assert examine_new() == 2
    return ReadingQuestion.objects.get()


def test_a_run_that_stands_in_another_record_is_asked_about_once_with_both_places(cast: Cast) -> None:
    question = repeated(cast)
    assert question.kind == "repeated"
    assert question.figures["length"] == 20
    assert (question.figures["first"], question.figures["other_first"]) == (11, 6)
    assert (
        "Why do 20 readings in a row, from the 11th on, stand in the same order in P-1 A1 after Primer"
        in told(question)[0]
    )
    assert examine_new() == 0
    assert ReadingQuestion.objects.count() == 1


def test_a_correction_is_no_repetition_and_what_it_replaced_is_not_looked_through(cast: Cast) -> None:
    old = measure(cast, "07:00", "08:00", values_um=FILM)
    assert examine_new() == 1
    measure(cast, "07:00", "08:00", values_um=FILM, replaces=old)
    assert examine_new() == 1
    assert not ReadingQuestion.objects.exists()


def test_less_scatter_than_the_gauge_showed_on_its_standards_is_asked_about(cast: Cast) -> None:
    check = verify(cast, "06:30")
    noisy = [
        [50_200 + wobble for wobble in (-2_100, 300, 1_900)],
        [249_800 + wobble for wobble in (-1_800, -100, 2_200)],
    ]
    for order, readings in enumerate(noisy, start=1):
        rewrite(VerificationPoint.objects.filter(verification=check, order=order), readings_nm=readings)
    measure(cast, "07:00", "08:00", values_um=[250, 250.1] * 15)
    examine_new()
    question = ReadingQuestion.objects.get()
    assert question.kind == "scatter"
    assert "scatter by 0.05 µm only, where the same gauge scatters by 2.01 µm" in told(question)[0]


def test_one_person_on_two_structures_at_once_is_asked_about_and_on_one_is_not(cast: Cast) -> None:
    measure(cast, "07:00", "08:00", values_um=FILM)
    measure(cast, "07:20", "07:50", values_um=OTHER, area=cast.site.other_area)
    measure(cast, "09:00", "09:30", values_um=FILM[::-1])
    examine_new()
    assert not ReadingQuestion.objects.exists()
    measure(cast, "07:10", "07:40", values_um=OTHER[::-1], site=cast.foreign)
    examine_new()
    question = ReadingQuestion.objects.get()
    assert question.kind == "places"
    assert "the same person and the same gauge" in told(question)[0]


def test_last_digits_are_asked_about(cast: Cast) -> None:
    values = [value // 10 * 10 + (5 if at % 4 else 0) + (at == 3) for at, value in enumerate(
        int(value) for value in np.random.default_rng(8).normal(250, 25, 150))]  # fmt: skip
    measure(cast, "07:00", "08:00", values_um=values)
    examine_new()
    assert ReadingQuestion.objects.get().kind == "digits"


def test_the_quality_manager_answers_and_opens_again_and_each_stays(quinn: Client, cast: Cast) -> None:
    question = repeated(cast)
    page = reverse("question", args=[question.pk])
    assert "A question, not a verdict" in words(quinn.get(page))
    refused = quinn.post(page, {"outcome": "explained", "text": " "})
    assert refused.status_code == 422
    assert quinn.post(page, {"outcome": "explained", "text": "The file was sent under two areas."}).status_code == 302
    sent = {"outcome": "open", "text": "It was another file."}
    answer = quinn.post(reverse("api_question_answer", args=[question.pk]), sent, content_type="application/json")
    assert answer.status_code == 201
    again = quinn.post(reverse("api_question_answer", args=[question.pk]), sent, content_type="application/json")
    assert again.status_code == 422
    told_there = words(quinn.get(page))
    assert "The file was sent under two areas." in told_there
    assert "It was another file." in told_there
    states = JournalEntry.objects.filter(verb="reading_question.answered").values_list("after__state", flat=True)
    assert sorted(states) == ["explained", "open"]


def test_nobody_else_learns_that_it_was_asked(cast: Cast) -> None:
    letters, tidings = Letter.objects.count(), Tiding.objects.count()
    question = repeated(cast)
    assert (Letter.objects.count(), Tiding.objects.count()) == (letters, tidings)
    for person in (cast.ines, cast.igor, cast.clara, cast.audrey, cast.admin):
        client = signed_in(person)
        for name, args in (("question_list", []), ("question", [question.pk]), ("api_question_list", []),
                           ("api_question", [question.pk])):  # fmt: skip
            assert client.get(reverse(name, args=args)).status_code == 404, (person, name)
        record = client.get(reverse("thickness", args=[question.record_id]))
        assert b"uestion about readings" not in record.content
    signed_in(cast.quinn).post(reverse("question", args=[question.pk]), {"outcome": "taken_up", "text": "Asked"})
    journal = signed_in(cast.audrey).get(reverse("journal"))
    assert b"uestion" not in journal.content


def test_who_took_the_readings_is_not_told_of_the_question_as_quality_manager_either(cast: Cast) -> None:
    measure(cast, "07:00", "08:00", values_um=FILM, by=cast.quinn)
    measure(cast, "", "", at=MORNING + timedelta(days=1), area=cast.site.other_area, values_um=FILM[5:25])
    examine_new()
    question = ReadingQuestion.objects.get()
    manager = signed_in(cast.quinn)
    assert manager.get(reverse("question", args=[question.pk])).status_code == 404
    assert "Questions about readings" not in words(manager.get(reverse("decisions")))


def test_the_list_asks_as_many_queries_of_thirty_as_of_three_and_decisions_lead_to_it(
    quinn: Client, cast: Cast
) -> None:
    record = measure(cast, "07:00", "08:00", values_um=FILM)
    figures = {"scatter_nm": 50, "freedom": 20, "gauge_nm": 2_000, "gauge_freedom": 8, "chance": 1e-5}
    counted = []
    for many in (3, 27):
        for at in range(many):
            each = measure(cast, "", "", at=MORNING + timedelta(days=at + many), values_um=[250 + at, 260], tell=False)
            ReadingQuestion.objects.create(project=record.project, record=each, kind="scatter", figures=figures)
        quinn.get(reverse("question_list"))
        with CaptureQueriesContext(connection) as asked:
            quinn.get(reverse("question_list"))
        counted.append(len(asked))
    assert counted[0] == counted[1]
    assert "Questions about readings" in words(quinn.get(reverse("decisions")))


def test_what_waits_is_looked_through_in_bounded_bites(cast: Cast) -> None:
    for at in range(5):
        measure(cast, "", "", at=MORNING + timedelta(days=at), values_um=[250 + at, 251, 252])
    assert waiting().count() == 5
    assert (examine_new(2), examine_new(2), examine_new(2)) == (2, 2, 1)
    assert ThicknessRecord.objects.filter(examined=None).count() == 0
