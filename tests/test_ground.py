"""The ground everything else stands on: the database refuses what must never happen."""

import pytest
from django.db import DatabaseError, transaction

from accounts import journal
from accounts.models import JournalEntry
from inspection.projects.models import Project
from tests.cast import Cast


def test_each_person_sees_exactly_their_projects(cast: Cast) -> None:
    sight = {
        someone.name: {project.code for project in Project.objects.visible_to(someone)}
        for someone in (cast.quinn, cast.admin, cast.ines, cast.igor, cast.clara, cast.carl, cast.audrey)
    }
    assert sight == {
        "Quinn Quality": {"P-1", "P-2"},
        "Adam Admin": {"P-1", "P-2"},
        "Ines Inspector": {"P-1"},
        "Igor Inspector": {"P-2"},
        "Clara Client": {"P-1"},
        "Carl Client": {"P-2"},
        "Audrey Auditor": {"P-1"},
    }


@pytest.mark.parametrize("change", ["update", "delete"])
def test_the_database_refuses_to_change_a_journal_entry(cast: Cast, change: str) -> None:
    with transaction.atomic():
        entry = journal.record("project.opened", cast.site.project, by=cast.quinn)
    rows = JournalEntry.objects.filter(pk=entry.pk)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        rows.update(verb="nothing") if change == "update" else rows.delete()
    assert JournalEntry.objects.get(pk=entry.pk).verb == "project.opened"
