"""The invented history, against which speed is measured: of any length, beside whatever is there already."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command

from accounts.models import Organisation
from inspection.fieldwork.models import Reading
from reports.demo import history
from tests.cast import Cast


def test_a_history_is_added_to_a_site_that_has_its_company_set_by_set(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(history, "SHIFTS_A_SET", 1)
    said = StringIO()
    call_command("generate_history", readings=2_000, seed=1, stdout=said)
    call_command("generate_history", readings=1_000, seed=2, stdout=said)
    assert Reading.objects.count() == 3_000
    assert Organisation.objects.filter(kind=Organisation.Kind.COMPANY).get() == cast.company
    call_command("standing", "--check", stdout=said)
    assert "60 records, 0 stored otherwise" in said.getvalue()
