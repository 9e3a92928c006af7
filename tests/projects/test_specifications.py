"""Specifications: revisions as they came, deviations asked for and answered, and the way back of each."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.projects.models import Deviation, DeviationAnswer, Specification, SpecificationRevision
from inspection.projects.specifications import add_specification
from tests.cast import DAY, Cast
from tests.projects.test_pages import as_person, text_of
from tests.projects.test_revisions import issue

PDF = b"%PDF-1.4\n%%EOF\n"


@pytest.fixture
def painting(cast: Cast) -> Specification:
    return add_specification(cast.quinn, project=cast.site.project, number="S-1", title="Painting")


def send(cast: Cast, name: str, pk: Any, by: Any = None, **sent: Any) -> Any:
    return as_person(by or cast.quinn).post(reverse(name, args=[pk]), sent, follow=True)


def a_revision(cast: Cast, of: Specification, revision: str = "C2", **more: Any) -> SpecificationRevision:
    send(cast, "specification_revise", of.pk, revision=revision, dated=str(DAY), **more)
    return SpecificationRevision.objects.get(specification=of, revision=revision)


def test_a_revision_is_recorded_with_its_paper_and_read_by_the_client(cast: Cast, painting: Specification) -> None:
    file = SimpleUploadedFile("S-1 C2.pdf", PDF, content_type="text/plain")
    found = a_revision(cast, painting, file=file, clauses="7.2 and 7.3", reviewer="Quinn")
    shown = text_of(as_person(cast.clara).get(reverse("specification", args=[painting.pk])))
    assert "Revision C2" in shown
    assert "7.2 and 7.3" in shown
    assert "Add a revision" not in shown
    paper = as_person(cast.clara).get(reverse("specification_file", args=[found.pk]))
    assert (b"".join(paper.streaming_content), paper["Content-Type"]) == (PDF, "application/pdf")
    assert as_person(cast.carl).get(reverse("specification", args=[painting.pk])).status_code == 404
    wrong = send(cast, "specification_revise", painting.pk, revision="c2", dated="2226-03-03",
                 file=SimpleUploadedFile("x.pdf", b"text"))  # fmt: skip
    for words in ("already has a revision c2", "lies in the future", "neither PDF nor PNG nor JPEG"):
        assert words in text_of(wrong)


def test_a_revision_recorded_by_mistake_is_taken_back_unless_a_system_stands_on_it(
    cast: Cast, painting: Specification
) -> None:
    found = a_revision(cast, painting)
    system = issue(cast, specification_revision=found)
    assert "S-1 revision C2" in text_of(as_person(cast.quinn).get(reverse("system", args=[system.pk])))
    assert "stands on it" in text_of(send(cast, "revision_withdraw", found.pk, reason="A slip"))
    system.taken_back_at = found.added_at
    system.save()
    assert "is taken back; it stays readable" in text_of(send(cast, "revision_withdraw", found.pk, reason="A slip"))
    assert "It was taken back already" in text_of(send(cast, "revision_withdraw", found.pk, reason="A slip"))
    assert JournalEntry.objects.get(verb="specification.revision_withdrawn").reason == "A slip"
    send(cast, "specification_revise", painting.pk, revision="C2", dated=str(DAY))
    assert SpecificationRevision.objects.filter(revision="C2").count() == 2


def test_a_deviation_is_asked_answered_by_the_client_and_each_taken_back(cast: Cast, painting: Specification) -> None:
    asked = {"asked": "Roller", "asked_for": "Foreman, Painters", "asked_on": str(DAY), "clause": "7.2"}
    send(cast, "deviation_ask", painting.pk, **asked)
    deviation = Deviation.objects.get()
    answer = {"outcome": "declined", "answer": "Spray", "answered_by": "Clara", "answered_on": str(DAY)}
    early = send(cast, "deviation_answer", deviation.pk, cast.clara, **answer | {"answered_on": "2026-01-01"})
    assert "the answer came after" in text_of(early)
    assert "The answer is recorded" in text_of(send(cast, "deviation_answer", deviation.pk, cast.clara, **answer))
    assert "It is answered already" in text_of(send(cast, "deviation_answer", deviation.pk, cast.clara, **answer))
    given = DeviationAnswer.objects.get()
    page = Client()
    page.force_login(cast.clara)
    assert "Answer it" not in text_of(page.get(reverse("specification", args=[painting.pk])))
    assert send(cast, "answer_withdraw", given.pk, cast.ines, reason="no").status_code == 403
    send(cast, "answer_withdraw", given.pk, cast.clara, reason="Misread")
    assert "Answer it" in text_of(page.get(reverse("specification", args=[painting.pk])))
    send(cast, "deviation_answer", deviation.pk, **answer | {"outcome": "accepted"})
    assert [each.outcome for each in deviation.answers.filter(withdrawn_at=None)] == ["accepted"]
    send(cast, "deviation_withdraw", deviation.pk, reason="Not needed")
    shown = text_of(as_person(cast.clara).get(reverse("specification", args=[painting.pk])))
    for words in ("Misread", "Not needed", "Foreman, Painters"):
        assert words in shown
    verbs = set(JournalEntry.objects.filter(verb__startswith="deviation.").values_list("verb", flat=True))
    assert verbs == {"deviation.asked", "deviation.answered", "deviation.withdrawn", "deviation.answer_withdrawn"}


def test_a_specification_is_corrected_and_removed_while_nothing_hangs_on_it(
    cast: Cast, painting: Specification
) -> None:
    send(cast, "specification_correct", painting.pk, number="S-2", title="Painting", reason="As printed")
    painting.refresh_from_db()
    assert painting.number == "S-2"
    other = add_specification(cast.quinn, project=cast.site.project, number="S-3", title="Twice")
    assert "already has a specification s-2" in text_of(
        send(cast, "specification_correct", other.pk, number="s-2", title="Twice", reason="As printed")
    )
    a_revision(cast, painting)
    assert "so it stays" in text_of(send(cast, "specification_remove", painting.pk, reason="A slip"))
    send(cast, "specification_remove", other.pk, reason="A slip")
    assert list(Specification.objects.filter(project=cast.site.project)) == [painting]
