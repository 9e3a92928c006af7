"""Setting up a project: what is stored, what is refused and in which words, and who may do it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from accounts.models import JournalEntry
from inspection.foundation.refusals import Conflict, NotAllowed, Refused
from inspection.projects import actions, areas
from inspection.projects.actions import CoatSpec
from inspection.projects.models import CoatingSystem, InspectionArea, Membership, Project
from tests.cast import Cast

PRIMER = CoatSpec(
    order=1, name="Primer", product="Zinc epoxy", minimum_nm=60_000, nominal_nm=75_000, maximum_nm=120_000,
    volume_solids_pct=Decimal(65), rule="dft-pa2", pa2_level=3,
)  # fmt: skip
FINISH = CoatSpec(
    order=2, name="Finish", product="Polyurethane", minimum_nm=40_000, nominal_nm=50_000, volume_solids_pct=Decimal(58),
    rule="dft-iso19840",
)  # fmt: skip


def opened(cast: Cast, **changed: Any) -> Project:
    given = {
        "code": "P-9", "name": "Jetty", "client": cast.owner, "time_zone": "Europe/Oslo", "unit": "um",
        "shift_starts": "18.00; 6:00",
    }  # fmt: skip
    return actions.open_project(cast.quinn, **(given | changed))


def faults_of(refusal: pytest.ExceptionInfo[Refused]) -> dict[str, str]:
    return {fault.field: fault.message for fault in refusal.value.faults}


def test_an_opened_project_keeps_its_shifts_in_order_and_is_journalled(cast: Cast) -> None:
    project = opened(cast)
    assert Project.objects.get(pk=project.pk).shift_starts == "06:00, 18:00"
    entry = JournalEntry.objects.get(verb="project.opened")
    assert (entry.actor, entry.project_id, entry.after["code"]) == (cast.quinn, project.pk, "P-9")


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"time_zone": "Oslo"}, "time_zone", "“Oslo” is not a time zone; write it as Europe/Oslo or UTC."),
        ({"shift_starts": "25:00"}, "shift_starts", "“25:00” is not a time of day; write 06:00 or 06:00, 18:00."),
        ({"shift_starts": " "}, "shift_starts", "Give the time at which the first shift begins, such as 06:00."),
        ({"unit": "inch"}, "unit", "Choose µm or mil."),
        ({"code": "p-1"}, "code", "There is already a project p-1; choose another code."),
        ({"code": "X" * 61}, "code", "Ensure this value has at most 60 characters (it has 61)."),
    ],
)
def test_a_project_that_cannot_be_is_refused_by_field(cast: Cast, changed: dict, field: str, words: str) -> None:
    with pytest.raises(Refused) as refusal:
        opened(cast, **changed)
    assert faults_of(refusal)[field] == words
    assert Project.objects.count() == 2


def test_the_client_of_a_project_is_a_client_and_its_contractor_a_contractor(cast: Cast) -> None:
    with pytest.raises(Refused) as refusal:
        opened(cast, client=cast.company, contractor=cast.owner)
    assert set(faults_of(refusal)) == {"client", "contractor"}


def test_a_person_takes_part_only_in_a_role_they_hold(cast: Cast) -> None:
    with pytest.raises(Refused, match="does not hold the role of auditor"):
        actions.add_member(cast.quinn, project=cast.site.project, person=cast.igor, role="auditor")
    membership = actions.add_member(cast.quinn, project=cast.site.project, person=cast.igor, role="inspector")
    assert cast.site.project in Project.objects.visible_to(cast.igor)
    with pytest.raises(Refused, match="already takes part in P-1"):
        actions.add_member(cast.quinn, project=cast.site.project, person=cast.igor, role="inspector")
    actions.end_membership(cast.quinn, membership=membership)
    assert cast.site.project not in Project.objects.visible_to(cast.igor)
    with pytest.raises(Conflict, match="already ended"):
        actions.end_membership(cast.quinn, membership=membership)


def test_a_client_cannot_be_let_into_another_clients_project(cast: Cast) -> None:
    with pytest.raises(Refused, match=r"Carl Client belongs to Owner Two; the parties of P-1 .* as client: Owner One"):
        actions.add_member(cast.quinn, project=cast.site.project, person=cast.carl, role="client")
    assert not Membership.objects.filter(project=cast.site.project, person=cast.carl).exists()


def test_a_system_is_stored_with_its_coats_and_their_sums(cast: Cast) -> None:
    system = actions.add_system(
        cast.quinn, project=cast.site.project, name="C5", preparation_grade="Sa 2½", profile_min_nm=50_000,
        profile_max_nm=85_000, salts_max_mg_m2=Decimal(50), coats=[PRIMER, FINISH],
    )  # fmt: skip
    primer, finish = system.coats.all()
    assert primer.through == (60_000, 75_000, 120_000)
    assert finish.through == (100_000, 125_000, None)
    assert len(JournalEntry.objects.get(verb="system.added").after["coats"]) == 2


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"minimum_nm": 0}, "minimum_nm"),
        ({"nominal_nm": 59_999}, "nominal_nm"),
        ({"maximum_nm": 74_999}, "maximum_nm"),
        ({"pa2_level": None}, "pa2_level"),
        ({"rule": "dft-iso19840"}, "pa2_level"),
        ({"rule": "guess", "pa2_level": None}, "rule"),
        ({"volume_solids_pct": Decimal(101)}, "volume_solids_pct"),
        ({"recoat_min_hours": Decimal(10), "recoat_max_hours": Decimal(6)}, "recoat_max_hours"),
        ({"humidity_max_pct": Decimal(0)}, "humidity_max_pct"),
        ({"name": ""}, "name"),
    ],
)
def test_a_coat_that_contradicts_itself_is_refused_by_field_and_row(cast: Cast, changed: dict, field: str) -> None:
    before = CoatingSystem.objects.count()
    with pytest.raises(Refused) as refusal:
        actions.add_system(
            cast.quinn, project=cast.site.project, name="C5", preparation_grade="Sa 2½",
            coats=[replace(PRIMER, **changed), FINISH],
        )  # fmt: skip
    assert [(fault.field, fault.row) for fault in refusal.value.faults] == [(field, 1)]
    assert CoatingSystem.objects.count() == before


def test_coats_are_numbered_in_the_order_they_go_on(cast: Cast) -> None:
    with pytest.raises(Refused, match="Number the coats"):
        actions.add_system(
            cast.quinn, project=cast.site.project, name="C5", preparation_grade="Sa 2½", coats=[FINISH, PRIMER]
        )


@pytest.mark.parametrize(
    ("size", "words"),
    [
        ("0", "more than 0 m²"),
        ("-4", "more than 0 m²"),
        ("NaN", "more than 0 m²"),
        ("12.345", "may be meant as thousands"),
        ("1e9", "more than any inspection area"),
    ],
)
def test_an_impossible_area_is_refused(cast: Cast, size: str, words: str) -> None:
    with pytest.raises(Refused, match=words):
        areas.add_area(
            cast.quinn, structure=cast.site.structure, system=cast.site.system, code="A9", name="Roof",
            area_m2=Decimal(size),
        )  # fmt: skip
    assert not InspectionArea.objects.filter(code="A9").exists()


def test_an_area_takes_a_system_of_its_own_project(cast: Cast) -> None:
    given = {"structure": cast.site.structure, "code": "A9", "name": "Roof", "area_m2": Decimal("12.5")}
    with pytest.raises(Refused, match="another project"):
        areas.add_area(cast.quinn, system=cast.foreign.system, **given)
    assert areas.add_area(cast.quinn, system=cast.site.system, **given).area_m2 == Decimal("12.5")
    with pytest.raises(Refused, match="already has an area A9"):
        areas.add_area(cast.quinn, system=cast.site.system, **given)


def test_only_quality_managers_set_up_projects(cast: Cast) -> None:
    for someone in (cast.ines, cast.clara, cast.audrey, cast.admin):
        with pytest.raises(NotAllowed):
            actions.add_structure(someone, project=cast.site.project, name="Roof")
        with pytest.raises(NotAllowed):
            actions.open_project(
                someone, code="X", name="X", client=cast.owner, time_zone="UTC", unit="um", shift_starts="06:00"
            )
