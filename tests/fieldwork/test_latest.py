"""What stands now at each place follows from the records alone, in whatever order they came."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any
from uuid import UUID

import pytest
from django.core.management import call_command
from django.db import DatabaseError, transaction
from django.db.models import QuerySet
from django.test import Client
from django.urls import reverse

from inspection.fieldwork import latest
from inspection.fieldwork.models import Latest, Record, ThicknessRecord
from inspection.fieldwork.storing import store
from tests.cast import MORNING, Cast
from tests.fieldwork.build import sent
from tests.fieldwork.test_api import climate
from tests.standing.scene import told
from tests.standing.test_any_order import every_order

IDS = [UUID(int=number << 100) for number in range(1, 8)]


def measured(cast: Cast, pk: UUID, *, hours: int, coat: int = 0, replaces: UUID | None = None, **more: Any) -> Record:
    """Stored as any action stores it; sent again it is answered with what is stored."""
    began = MORNING + timedelta(hours=hours)
    record = ThicknessRecord(
        id=pk, project=cast.site.project, area=cast.site.area, coat=cast.site.coats[coat], taken_by=cast.ines,
        taken_at=began, ended_at=began, source="page", digest="0" * 64, gauge=cast.gauge, profile_way="adjusted",
        unit="um", calculation="dft-pa2", inputs={}, result={}, readings_wanted=1, mean_nm=1, lowest_nm=1, highest_nm=1,
        replaces=Record.objects.get(pk=replaces) if replaces else None, **{"verdict": "pass", **more},
    )  # fmt: skip
    return store(record)[0]


def from_records() -> dict[tuple[UUID, UUID | None, str], UUID]:
    """As a person would find it with the list of records in hand."""
    rows = list(Record.objects.order_by())
    replaced = {row.replaces_id for row in rows}
    found: dict[tuple[UUID, UUID | None, str], Record] = {}
    for row in rows:
        place = (row.area_id, row.coat_id, row.kind)
        if row.pk in replaced or row.purpose == "investigation":
            continue
        if place not in found or (row.taken_at, row.pk.hex) > (found[place].taken_at, found[place].pk.hex):
            found[place] = row
    return {place: row.pk for place, row in found.items()}


def kept() -> dict[tuple[UUID, UUID | None, str], UUID]:
    return {(row.area_id, row.coat_id, row.kind): row.record_id for row in Latest.objects.all()}


def test_every_order_of_arrival_ends_with_the_same_record_standing(cast: Cast) -> None:
    first, same_moment, moved, later, looked = IDS[:5]
    wrong = partial(measured, cast, first, hours=2)

    def correction() -> None:
        wrong()
        measured(cast, moved, hours=2, coat=1, replaces=first, replacement_reason="the other coat")

    events: list[Callable[[], Any]] = [
        # Sent again when its correction came before, or for the second time.
        wrong,
        correction,
        partial(measured, cast, same_moment, hours=2),
        partial(measured, cast, looked, hours=9, purpose="investigation", verdict="fail"),
        partial(measured, cast, later, hours=1, coat=1),
    ]
    ends = []
    for _ in every_order(events, lambda depth: MORNING + timedelta(days=1 + depth)):
        assert kept() == from_records()
        assert not list(latest.differences())
        ends.append(kept())
    area, coats = cast.site.area.pk, cast.site.coats
    assert len(ends) == 120
    assert all(
        end == {(area, coats[0].pk, "thickness"): same_moment, (area, coats[1].pk, "thickness"): moved} for end in ends
    )


def test_a_place_whose_only_record_was_corrected_away_has_none(cast: Cast) -> None:
    measured(cast, IDS[0], hours=2)
    measured(cast, IDS[1], hours=2, coat=1, replaces=IDS[0])
    assert {coat: pk for (_, coat, _), pk in kept().items()} == {cast.site.coats[1].pk: IDS[1]}


def test_what_only_investigates_neither_fails_a_place_nor_stands_for_it(cast: Cast, client: Client) -> None:
    measured(cast, IDS[0], hours=2)
    measured(cast, IDS[1], hours=3, purpose="investigation", verdict="fail")
    told(records=IDS[:2])
    assert not cast.site.area.nonconformances.exists()
    client.force_login(cast.quinn)
    assert str(IDS[1]) not in client.get(reverse("decisions")).content.decode()


ALTERED: list[Callable[[QuerySet[Latest]], Any]] = [
    lambda rows: rows.delete(),
    lambda rows: rows.update(record=IDS[0]),
    lambda rows: rows.update(kind="climate"),
]


@pytest.mark.parametrize("alter", ALTERED, ids=["gone", "another", "another kind"])
def test_the_command_finds_what_stands_otherwise_and_puts_it_right(
    cast: Cast, alter: Callable[[QuerySet[Latest]], Any], capsys: pytest.CaptureFixture[str]
) -> None:
    measured(cast, IDS[0], hours=2)
    measured(cast, IDS[1], hours=3)
    told(records=IDS[:2])
    call_command("standing")
    call_command("standing", "--check")
    alter(Latest.objects.all())
    with pytest.raises(SystemExit):
        call_command("standing", "--check")
    assert f"{IDS[1]}" in capsys.readouterr().out
    call_command("standing")
    assert kept() == from_records()
    call_command("standing", "--check")


def test_an_id_borne_by_another_kind_of_record_is_refused_as_any_used_one(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    asked = sent(cast)
    measured(cast, asked["id"], hours=2)
    answer = client.post(
        reverse("api_climate_list"), climate(cast, id=str(asked["id"])), content_type="application/json"
    )
    assert answer.status_code == 409
    assert "with other content" in answer.content.decode()
    assert Record.objects.count() == 1


def test_both_rows_of_a_record_are_fixed(cast: Cast) -> None:
    record = measured(cast, IDS[0], hours=2)
    for row in (record, Record.objects.get(pk=record.pk)):
        for change in (lambda row=row: type(row).objects.filter(pk=row.pk).update(verdict="fail"), row.delete):
            with pytest.raises(DatabaseError), transaction.atomic():
                change()
    assert ThicknessRecord.objects.get().verdict == "pass"
