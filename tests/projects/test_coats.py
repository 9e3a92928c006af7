"""Coats with the limits their rule needs, totals of the system, a declared rule, data sheets and stripe coats."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from accounts.models import JournalEntry, Person
from inspection.fieldwork import actions as fieldwork
from inspection.fieldwork.climate.recording import judge_climate
from inspection.fieldwork.judging import ReadingSent, judge, judge_again, limits_of_one, plan_of
from inspection.fieldwork.models import ThicknessRecord
from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Refused
from inspection.holdpoints.evidence import evidence_of
from inspection.projects import actions, sheets, stripes
from inspection.projects.actions import CoatSpec
from inspection.projects.declared_rule import DeclaredRule
from inspection.projects.film_told import doubts_of, totals_of
from inspection.projects.models import Coat, CoatingSystem, DataSheet, InspectionArea, StripeCoat
from inspection.projects.sheets import SheetRow
from reports.daily.gathering import gather
from reports.daily.pdf import draw
from tests import cast as casting
from tests.cast import Cast
from tests.holdpoints.scene import a_point
from tests.holdpoints.test_at_once import at_once
from tests.projects.test_pages import as_person, system_sent, text_of

PA2 = CoatSpec(
    order=1, name="Primer", product="Zinc epoxy", minimum_nm=60_000, maximum_nm=120_000, volume_solids_pct=65,
    rule="dft-pa2", pa2_level=3,
)  # fmt: skip
ISO = CoatSpec(order=2, name="Finish", product="Finish", nominal_nm=60_000, volume_solids_pct=58, rule="dft-iso19840")
# Own figures: a yard's rule of the usual kind.
YARD = DeclaredRule(
    name="Yard rule 7", document="Contract annex C, issue 2", mean_at_least_pct=Decimal(100),
    each_at_least_pct=Decimal(80), share_below_pct=Decimal(20), each_at_most_pct=Decimal(100),
    table=((Decimal(3), 4), (Decimal(10), 6)), further_m2=Decimal(10), further_readings=2,
)  # fmt: skip


def specified(cast: Cast, *coats: CoatSpec, **more: Any) -> CoatingSystem:
    coats = tuple(replace(coat, order=order) for order, coat in enumerate(coats, start=1))
    return actions.add_system(
        cast.quinn, project=cast.site.project, name="C5", preparation_grade="Sa 2½", coats=list(coats), **more
    )


def faults(refusal: pytest.ExceptionInfo[Refused]) -> list[tuple[str, int | None]]:
    return [(fault.field, fault.row) for fault in refusal.value.faults]


def read(*values_um: float) -> list[ReadingSent]:
    return [ReadingSent(spot, 1, round(value * 1000)) for spot, value in enumerate(values_um, start=1)]


def record_of(cast: Cast, coat: Coat, readings: list[ReadingSent]) -> ThicknessRecord:
    began = timezone.now() - timedelta(minutes=40)
    record, _ = fieldwork.record_thickness(
        cast.ines, id=new_id(), project=cast.site.project, area=cast.site.area, coat=coat, gauge=cast.gauge,
        profile_way=ThicknessRecord.ProfileWay.ADJUSTED, correction_nm=0, unit="um", readings=readings,
        first_reading_at=began, last_reading_at=began + timedelta(minutes=10), source=ThicknessRecord.Source.FILE,
    )  # fmt: skip
    return record


def of_size(cast: Cast, area_m2: float) -> InspectionArea:
    cast.site.area.area_m2 = Decimal(str(area_m2))
    return cast.site.area


# --- limits ----------------------------------------------------------------------------------------------------------


def test_a_coat_carries_only_the_limits_its_rule_judges_by(cast: Cast) -> None:
    (primer,) = specified(cast, PA2).coats.all()
    assert primer.limits == (60_000, None, 120_000)
    assert primer.through == (60_000, None, 120_000)
    # 80 % of the minimum and 120 % of the maximum: SSPC-PA 2, restriction level 3 (from memory).
    assert limits_of_one(primer) == (48_000, 144_000)
    spots = [ReadingSent(spot, order, 100_000) for spot in range(1, 6) for order in (1, 2, 3)]
    found = judge(primer, cast.site.area, spots, 0)
    assert found.verdict == "pass"
    assert "nominal_um" not in found.inputs


def test_a_limit_that_the_rule_of_a_later_coat_needs_is_asked_of_every_coat_below_it(cast: Cast) -> None:
    with pytest.raises(Refused) as refusal:
        specified(cast, PA2, ISO)
    assert faults(refusal) == [("nominal_nm", 1)]
    assert str(refusal.value.faults[0].message) == (
        "Give the nominal thickness of this coat: coat 2 is judged by ISO 19840, against the sum of all coats up to it."
    )
    assert not CoatingSystem.objects.filter(name="C5").exists()


@pytest.mark.parametrize(
    ("coat", "field"),
    [
        (replace(PA2, minimum_nm=None), "minimum_nm"),
        (replace(ISO, nominal_nm=None), "nominal_nm"),
        (replace(ISO, rule="dft-imo-pspc", nominal_nm=None), "nominal_nm"),
        (replace(ISO, minimum_nm=70_000), "nominal_nm"),
        (replace(PA2, maximum_nm=50_000), "maximum_nm"),
        (replace(ISO, rule="dft-custom", declared=replace(YARD, each_at_most_pct=None), nominal_nm=None), "nominal_nm"),
        (replace(ISO, rule="dft-custom", declared=YARD), "maximum_nm"),
        (replace(ISO, rule="dft-custom"), "rule"),
        (replace(ISO, declared=YARD), "rule"),
        (replace(ISO, humidity_min_pct=Decimal(90)), "humidity_max_pct"),
        (replace(ISO, decides=False), "for_control"),
    ],
)  # fmt: skip
def test_a_coat_without_what_its_rule_judges_by_is_refused_by_field(cast: Cast, coat: CoatSpec, field: str) -> None:
    with pytest.raises(Refused) as refusal:
        specified(cast, coat)
    assert faults(refusal) == [(field, 1)]


@pytest.mark.parametrize(
    ("order", "changed"),
    [(1, {"minimum_nm": None}), (2, {"nominal_nm": None}), (3, {"nominal_nm": 0}), (1, {"maximum_nm": 10})],
)
def test_the_database_keeps_no_coat_without_what_its_rule_judges_by(cast: Cast, order: int, changed: dict) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Coat.objects.filter(pk=cast.site.coats[order - 1].pk).update(**changed)


def test_judging_guesses_no_limit_that_is_missing(cast: Cast) -> None:
    Coat.objects.filter(pk=cast.site.coats[0].pk).update(nominal_nm=None)
    coat = Coat.objects.get(pk=cast.site.coats[1].pk)
    found = judge(coat, cast.site.area, read(200, 210), 0)
    assert (found.verdict, found.inputs["unspecified"]) == ("not judged", ["nominal"])
    assert found.result["notes"] == [
        "ISO 19840 judges by the nominal, and not every coat up to this one has it specified: nothing was judged."
    ]
    assert limits_of_one(coat)[0] is None


def test_what_cannot_be_judged_is_kept_and_says_why_wherever_it_is_looked_at(in_date: Cast) -> None:
    """As where a coat below is kept of a former revision under another rule."""
    cast = in_date
    Coat.objects.filter(pk=cast.site.coats[0].pk).update(nominal_nm=None)
    record = record_of(cast, Coat.objects.get(pk=cast.site.coats[1].pk), read(200, 210))
    assert ThicknessRecord.objects.get(pk=record.pk).verdict == "not judged"
    assert judge_again(record, read(200, 210)).verdict == "not judged"
    client = as_person(cast.ines)
    words = text_of(client.get(reverse("thickness", args=[record.pk])))
    assert "not every coat up to this one has it specified: nothing was judged." in words
    assert client.get(reverse("thickness_chart", args=[record.pk])).status_code == 200
    point = a_point(cast, coat=1)
    assert evidence_of(point).why_not[0].endswith("nothing was judged.")
    today = text_of(client.get(reverse("today")))
    assert "not every coat has the limits that its rule judges by" in today
    assert "does not reach this thickness" not in today


def test_a_record_of_a_declared_rule_is_stored_shown_and_judged_again(in_date: Cast) -> None:
    cast = in_date
    rule = replace(YARD, each_at_most_pct=None)
    system = specified(cast, replace(ISO, rule="dft-custom", declared=rule))
    InspectionArea.objects.filter(pk=cast.site.area.pk).update(system=system)
    cast.site.area.refresh_from_db()
    values = read(59, 62, 63, 64, 65, 66)
    record = record_of(cast, system.coats.get(), values)
    assert (record.verdict, record.readings_wanted, record.calculation) == ("pass", 6, "dft-custom")
    assert judge_again(record, values).verdict == "pass"
    words = text_of(as_person(cast.clara).get(reverse("thickness", args=[record.pk])))
    assert "Yard rule 7, Contract annex C, issue 2." in words
    assert "nominal 60.0 µm, all coats to this one" in words
    day = gather(cast.site.project, cast.site.project.day_of(record.taken_at))
    assert day.thicknesses[0].rule == "Yard rule 7"
    assert draw(day).startswith(b"%PDF")


# --- totals ----------------------------------------------------------------------------------------------------------


def test_after_the_last_coat_the_stated_total_holds_and_before_it_the_sum(cast: Cast) -> None:
    system = specified(cast, replace(ISO, maximum_nm=90_000), ISO, total_nominal_nm=150_000, total_maximum_nm=400_000)
    first, last = system.coats.all()
    assert first.through == (None, 60_000, 90_000)
    assert last.summed == (None, 120_000, None)
    assert last.through == (None, 150_000, 400_000)
    readings = read(130, 131, 132, 133, 134, 135, 136, 137, 138, 139)
    found = judge(last, of_size(cast, 3), readings, 0)
    assert (found.verdict, found.inputs["nominal_um"], found.inputs["maximum_um"]) == ("fail", 150, 400)
    assert [total.comes_from for total in totals_of(system)] == ["stated", "stated"]
    (doubt,) = doubts_of(system)
    assert doubt == (
        "The system states a total nominal of 150.0 µm; its coats add up to 120.0 µm. After the last coat the stated "
        "total holds."
    )


def test_a_stated_total_is_enough_for_the_last_coat(cast: Cast) -> None:
    system = specified(cast, replace(PA2, nominal_nm=None), replace(ISO, nominal_nm=60_000), total_nominal_nm=150_000)
    assert system.coats.last().through.nominal == 150_000


def test_totals_out_of_order_are_refused_also_against_the_sum_that_stands_beside_them(cast: Cast) -> None:
    with pytest.raises(Refused) as refusal:
        specified(cast, ISO, total_nominal_nm=100_000, total_maximum_nm=90_000)
    assert faults(refusal) == [("total_maximum_nm", None)]
    with pytest.raises(Refused) as refusal:
        specified(cast, ISO, total_maximum_nm=50_000)
    assert faults(refusal) == [("total_maximum_nm", None)]
    with pytest.raises(IntegrityError), transaction.atomic():
        CoatingSystem.objects.filter(pk=cast.site.system.pk).update(total_nominal_nm=10, total_maximum_nm=5)


# --- the declared rule -----------------------------------------------------------------------------------------------


def test_a_declared_rule_is_kept_on_the_coat_and_judges_by_shares_of_the_sums(cast: Cast) -> None:
    """Expected values by hand: 80 % of 120 µm is 96 µm, and 2 of 6 readings below 120 µm are more than 20 %."""
    first = replace(ISO, maximum_nm=100_000)
    system = specified(cast, first, replace(first, rule="dft-custom", declared=YARD))
    coat = Coat.objects.get(system=system, order=2)
    assert coat.declaration == YARD
    assert coat.rule_name == "Yard rule 7"
    assert limits_of_one(coat) == (96_000, 200_000)
    area = of_size(cast, 8)
    assert plan_of(coat, area).readings == 6
    assert plan_of(coat, of_size(cast, 35)).readings == 6 + 3 * 2
    area = of_size(cast, 8)
    assert judge(coat, area, read(119, 125, 130, 140, 150, 160), 0).verdict == "pass"
    found = judge(coat, area, read(119, 119, 130, 140, 150, 160), 0)
    assert found.verdict == "fail"
    assert [check["name"] for check in found.result["checks"] if check["passed"] is False] == ["share_below"]
    assert judge(coat, area, read(130, 140, 150), 0).verdict == "incomplete"
    assert judge(coat, area, read(95.9, 140), 0).verdict == "fail"
    assert judge(coat, area, read(200.1, 140), 0).verdict == "fail"


def test_a_discarded_reading_is_repeated_under_a_declared_rule_too(cast: Cast) -> None:
    rule = replace(YARD, each_at_most_pct=None, table=(), further_m2=None, further_readings=None)
    coat = specified(cast, replace(ISO, rule="dft-custom", declared=rule)).coats.get()
    readings = [*read(70, 71), ReadingSent(3, 1, 20_000, None, "on a run")]
    found = judge(coat, cast.site.area, readings, 0)
    assert (found.verdict, found.still_wanted) == ("incomplete", 1)
    assert judge(coat, cast.site.area, [*readings, ReadingSent(3, 2, 72_000)], 0).verdict == "pass"


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"name": ""}, "declared_name"),
        ({"document": ""}, "declared_document"),
        ({"each_at_least_pct": Decimal(0)}, "each_at_least_pct"),
        ({"share_below_pct": Decimal(101)}, "share_below_pct"),
        ({"table": ((Decimal(10), 6), (Decimal(3), 4))}, "table"),
        ({"further_m2": None}, "further_m2"),
        ({"further_m2": None, "further_readings": None}, "further_m2"),
        ({"table": ()}, "table"),
        ({"counted_from": "maximum"}, "counted_from"),
        (dict.fromkeys(("mean_at_least_pct", "each_at_least_pct", "share_below_pct", "each_at_most_pct")),
         "mean_at_least_pct"),
    ],
)  # fmt: skip
def test_a_declaration_that_cannot_be_is_refused_by_field(cast: Cast, changed: dict, field: str) -> None:
    with pytest.raises(Refused) as refusal:
        specified(cast, replace(ISO, maximum_nm=90_000, rule="dft-custom", declared=replace(YARD, **changed)))
    assert field in {fault.field for fault in refusal.value.faults}
    assert {fault.row for fault in refusal.value.faults} == {1}


# --- climate, data sheets, stripe coats ------------------------------------------------------------------------------


def test_the_least_humidity_of_a_coat_is_judged(cast: Cast) -> None:
    coat = specified(cast, replace(ISO, humidity_min_pct=Decimal(50))).coats.get()
    read = {"dry_bulb_c": 20, "relative_humidity_pct": 45, "surface_c": 20, "pressure_hpa": 1013.25}
    inputs, found = judge_climate(coat, read)
    assert (found["verdict"], inputs["minimum_relative_humidity_pct"]) == ("fail", 50)
    assert judge_climate(coat, read | {"relative_humidity_pct": 50})[1]["verdict"] == "pass"
    # What nobody declared is no part of the question.
    assert "minimum_relative_humidity_pct" not in judge_climate(cast.site.coats[0], read)[0]


def a_sheet(cast: Cast, **changed: Any) -> DataSheet:
    said = {"product": "Finish", "revision": "2026-02", "pot_life_hours": Decimal(4), "air_min_c": Decimal(8)}
    rows = [SheetRow(temperature_c=Decimal(20), recoat_min_hours=Decimal(8), recoat_max_hours=Decimal(96))]
    return sheets.record_sheet(cast.quinn, project=cast.site.project, rows=rows, **said | changed)


def test_a_data_sheet_is_recorded_chosen_corrected_and_taken_away_again(cast: Cast) -> None:
    sheet = a_sheet(cast)
    coat = specified(cast, replace(ISO, recoat_min_hours=6, air_min_c=Decimal(3))).coats.get()
    assert [row.recoat_min_hours for row in coat.recoat_rows] == [6]
    coat = sheets.choose_sheet(cast.quinn, coat=coat, data_sheet=sheet, reason="as delivered")
    assert [(row.temperature_c, row.recoat_min_hours) for row in coat.recoat_rows] == [(20, 8)]
    assert doubts_of(coat.system) == ["1. Finish allows air down to 3 °C, its data sheet 8 °C."]
    with pytest.raises(Refused, match="uses it; choose another"):
        sheets.remove_sheet(cast.quinn, sheet=sheet, reason="twice")
    rows = [SheetRow(temperature_c=Decimal(10), next_product="Finish", hard_dry_hours=Decimal(12))]
    sheets.correct_sheet(
        cast.quinn, sheet=sheet, rows=rows, reason="misread", product="Finish", revision="2026-03", air_min_c=None
    )
    assert [(row.temperature_c, row.hard_dry_hours) for row in sheet.rows.all()] == [(10, 12)]
    assert JournalEntry.objects.get(verb="data_sheet.corrected").before["revision"] == "2026-02"
    sheets.choose_sheet(cast.quinn, coat=coat, data_sheet=None, reason="another paint")
    sheets.remove_sheet(cast.quinn, sheet=sheet, reason="not used")
    assert not DataSheet.objects.filter(project=cast.site.project).exists()
    assert JournalEntry.objects.get(verb="data_sheet.removed").before["rows"][0]["temperature_c"] == "10.0"


@pytest.mark.parametrize(
    ("row", "field"),
    [
        (SheetRow(recoat_min_hours=Decimal(8)), "temperature_c"),
        (SheetRow(temperature_c=Decimal(20)), "recoat_min_hours"),
        (SheetRow(temperature_c=Decimal(200), hard_dry_hours=Decimal(1)), "temperature_c"),
        (SheetRow(temperature_c=Decimal(20), hard_dry_hours=Decimal(-1)), "hard_dry_hours"),
        (SheetRow(temperature_c=Decimal(20), recoat_min_hours=Decimal(8), recoat_max_hours=Decimal(8)),
         "recoat_max_hours"),
    ],
)  # fmt: skip
def test_a_line_of_a_data_sheet_that_cannot_be_is_refused_by_field_and_line(
    cast: Cast, row: SheetRow, field: str
) -> None:
    good = SheetRow(temperature_c=Decimal(5), hard_dry_hours=Decimal(20))
    with pytest.raises(Refused) as refusal:
        sheets.record_sheet(cast.quinn, project=cast.site.project, rows=[good, row], product="Paint", revision="1")
    assert faults(refusal) == [(field, 2)]
    assert not DataSheet.objects.exists()


def test_the_same_revision_of_a_data_sheet_is_not_recorded_twice(cast: Cast) -> None:
    a_sheet(cast)
    with pytest.raises(Refused, match="There is already a data sheet Finish, 2026-02"):
        a_sheet(cast)


def test_a_stripe_coat_stands_apart_and_adds_nothing(cast: Cast) -> None:
    first, second, _ = cast.site.coats
    before = second.through
    said = {"name": "First stripe", "product": "Paint", "method": "brush", "welds": True, "edges": True}
    rest = {"cut_outs": False, "bolts": False}
    stripe = stripes.add_stripe(cast.quinn, coat=second, side="before", **said, **rest)
    assert second.through == before
    assert stripe.scope == ["welds", "edges"]
    with pytest.raises(Refused, match="There is already a stripe coat"):
        stripes.add_stripe(cast.quinn, coat=second, side="before", **said, **rest)
    with pytest.raises(Refused, match="Say what it covers"):
        stripes.change_stripe(
            cast.quinn, stripe=stripe, coat=second, reason="as drawn", **rest, welds=False, edges=False
        )
    stripes.change_stripe(cast.quinn, stripe=stripe, coat=first, side="after", reason="as specified")
    assert StripeCoat.objects.get().coat == first
    stripes.remove_stripe(cast.quinn, stripe=stripe, reason="not specified")
    assert not StripeCoat.objects.exists()
    verbs = JournalEntry.objects.filter(verb__startswith="stripe.").order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["stripe.added", "stripe.changed", "stripe.removed"]


# --- pages and API ---------------------------------------------------------------------------------------------------


def page_of(cast: Cast, person: Person) -> str:
    return text_of(as_person(person).get(reverse("project", args=[cast.site.project.pk])))


def test_a_system_with_totals_a_declared_rule_and_a_control_coat_is_specified_in_the_form(cast: Cast) -> None:
    where = reverse("system_new", args=[cast.site.project.pk])
    own = {
        "coat3-rule": "dft-custom", "coat3-declared_name": "Yard rule 7", "coat3-declared_document": "Annex C",
        "coat3-counted_from": "nominal", "coat3-share_means": "at most", "coat3-mean_at_least_pct": "100",
        "coat3-table": "3: 4\n10 = 6", "coat3-further_m2": "10", "coat3-further_readings": "2",
        "coat2-for_control": "on", "coat2-minimum_nm": "", "coat2-humidity_min_pct": "50", "coat3-minimum_nm": "",
        "total_nominal_nm": "300",
    }  # fmt: skip
    answer = as_person(cast.quinn).post(where, system_sent(**own))
    assert answer.status_code == 302, text_of(answer)
    system = CoatingSystem.objects.get(name="C5-M")
    _, second, third = system.coats.all()
    assert (second.decides, second.humidity_min_pct, second.minimum_nm) == (False, 50, None)
    assert third.declaration.table == ((3, 4), (10, 6))
    words = page_of(cast, cast.clara)
    assert "ISO 19840; <strong>for control only</strong>" in words
    assert "After the last coat, results are judged against nominal 300.0 µm (stated)." in words
    assert "its coats add up to 226.5 µm" in words
    assert "Coat 3 is judged by Yard rule 7, declared by the project" in words
    assert "at least 50 %, at most 85 %" in words


def test_a_row_of_the_sampling_table_that_cannot_be_read_is_named(cast: Cast) -> None:
    where = reverse("system_new", args=[cast.site.project.pk])
    answer = as_person(cast.quinn).post(where, system_sent(**{"coat3-table": "ten: 4"}))
    assert answer.status_code == 422
    assert "“ten: 4” is not a row" in text_of(answer)


def test_a_data_sheet_and_a_stripe_coat_are_set_up_on_pages_and_seen_by_the_client(cast: Cast) -> None:
    quinn, project = as_person(cast.quinn), cast.site.project
    sent = {
        "product": "Paint", "revision": "2026-02", "lines": "4", "pot_life_hours": "4", "line2-temperature_c": "20",
        "line2-recoat_min_hours": "8", "line2-next_product": "Finish", "line4-temperature_c": "10",
    }  # fmt: skip
    wrong = quinn.post(reverse("data_sheet_new", args=[project.pk]), sent)
    assert wrong.status_code == 422
    assert "Line 4, Recoat after, hours: Give at least one of the hours." in text_of(wrong)
    quinn.post(reverse("data_sheet_new", args=[project.pk]), sent | {"line4-hard_dry_hours": "12"})
    sheet = DataSheet.objects.get()
    shown = text_of(as_person(cast.clara).get(reverse("data_sheet", args=[sheet.pk])))
    assert "2026-02" in shown
    assert '<td data-label="Recoat, hours">from 8' in shown
    assert as_person(cast.carl).get(reverse("data_sheet", args=[sheet.pk])).status_code == 404
    coat = cast.site.coats[1]
    quinn.post(reverse("coat_data_sheet", args=[coat.pk]), {"data_sheet": str(sheet.pk), "reason": "as delivered"})
    quinn.post(
        reverse("stripe_new", args=[cast.site.system.pk]),
        {"side": "before", "coat": str(coat.pk), "name": "First stripe", "product": "Paint", "method": "brush",
         "welds": "on", "edges": "on"},
    )  # fmt: skip
    words = page_of(cast, cast.clara)
    assert "<strong>First stripe</strong>, before Intermediate: Paint, by brush, on welds, edges." in words
    assert "from 8 at 20 °C, before Finish" in words
    assert "Specify a stripe coat" not in words
    answer = Client()
    answer.force_login(cast.clara)
    coats = answer.get(reverse("api_system", args=[cast.site.system.pk])).json()["coats"]
    assert coats[1]["stripes"][0]["name"] == "First stripe"
    assert coats[1]["data_sheet"]["rows"][0]["temperature_c"] == 10
    assert [coat["decides"] for coat in coats] == [True, True, True]


def test_the_project_page_costs_the_same_with_one_stripe_and_sheet_or_many(cast: Cast) -> None:
    client, coats = as_person(cast.quinn), cast.site.coats

    def dress(number: int) -> None:
        for coat in coats:
            sheet = a_sheet(cast, revision=f"{number}-{coat.order}")
            Coat.objects.filter(pk=coat.pk).update(data_sheet=sheet)
            StripeCoat.objects.create(coat=coat, name=f"Stripe {number}", product="Paint")

    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            client.get(reverse("project", args=[cast.site.project.pk]))
        return len(caught)

    dress(1)
    before = cost()
    for number in range(2, 6):
        dress(number)
    assert cost() == before


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_of_two_at_once_one_wins_and_the_other_is_told() -> None:
    cast = casting.cast()
    coat, sheet = cast.site.coats[0], a_sheet(cast)
    said = {"side": "before", "name": "First stripe", "product": "Paint", "method": "brush"}
    ends = at_once(*(lambda: stripes.add_stripe(cast.quinn, coat=coat, **said) for _ in range(2)))
    (refusal,) = [end for end in ends if isinstance(end, Refused)]
    assert "There is already a stripe coat named First stripe" in str(refusal)
    assert StripeCoat.objects.count() == 1
    ends = at_once(
        lambda: sheets.choose_sheet(cast.quinn, coat=coat, data_sheet=sheet, reason="as delivered"),
        lambda: sheets.remove_sheet(cast.quinn, sheet=sheet, reason="twice"),
    )
    (refusal,) = [end for end in ends if isinstance(end, Refused)]
    assert "removed the data sheet" in str(refusal) or "uses it" in str(refusal)
    assert DataSheet.objects.filter(pk=sheet.pk).exists() == Coat.objects.filter(data_sheet=sheet).exists()
