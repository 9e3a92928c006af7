"""The same table of areas read again: it changes what it names, says so row by row, and takes nothing away."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.projects import breakdown
from inspection.projects.models import InspectionArea, Section, Structure
from tests.cast import Cast
from tests.projects.test_pages import as_person, text_of
from tests.projects.test_sections import down, hang
from tests.standing.scene import measure, verify

HEAD = "section;code;name;area_m2;edges_m;welds_m"


def post(cast: Cast, rows: str, **sent: Any) -> Any:
    where = reverse("area_upload", args=[cast.site.project.pk])
    return as_person(cast.quinn).post(where, {"rows": rows, **sent})


def store(cast: Cast, rows: str, reason: str = "Measured on site") -> Any:
    shown = post(cast, rows, look="1")
    return post(cast, rows, store="1", reason=reason, confirmed=shown.context["confirmed"])


def kept(cast: Cast) -> dict[str, tuple[str, str, str, str | None]]:
    areas = InspectionArea.objects.filter(structure=cast.site.structure).select_related("section", "structure")
    return {
        area.code: (area.name, str(area.area_m2), area.lies_in, area.welds_m and str(area.welds_m)) for area in areas
    }


def test_each_row_says_whether_it_is_new_changed_or_unchanged_and_what_it_leaves_stays(cast: Cast) -> None:
    verify(cast, "06:40")
    measure(cast, "08:00", "08:20")
    rows = f"{HEAD}\nFore / Bay 1;A1;;9,5;;12\n;A2;Shell;;;\nfore / bay 1;B1;New;4;1;2\n"
    shown = text_of(post(cast, rows, look="1"))
    assert "3 inspection areas: 1 new, 1 changed, 1 unchanged; nothing is stored yet." in shown
    for words in (
        "area_m2: 8 → 9.5", "welds_m: none → 12", "section: none → Fore / Bay 1", "Tank / Fore / Bay 1",
        "1 record stays as it was judged; what is recorded from now on is judged by the new size.",
    ):  # fmt: skip
        assert words in shown
    assert kept(cast)["A1"] == ("Hatch", "8.00", "Tank", None)
    assert Section.objects.count() == 0
    assert store(cast, rows).status_code == 302
    assert kept(cast) == {
        "A1": ("Hatch", "9.50", "Tank / Fore / Bay 1", "12.00"), "A2": ("Shell", "60.00", "Tank", None),
        "B1": ("New", "4.00", "Tank / Fore / Bay 1", "2.00"),
    }  # fmt: skip
    entry = JournalEntry.objects.get(verb="area.changed_by_table")
    assert entry.before == {"area_m2": "8.00", "welds_m": None, "section": ""}
    assert (entry.after, entry.reason) == (
        {"area_m2": "9.50", "welds_m": "12.00", "section": "Fore / Bay 1"}, "Measured on site",
    )  # fmt: skip
    again = text_of(post(cast, rows, look="1"))
    assert "3 inspection areas: 3 unchanged" in again
    assert store(cast, rows).status_code == 302
    assert JournalEntry.objects.filter(verb="area.changed_by_table").count() == 1
    store(cast, "section;code;welds_m\nnone;A1;none\n")
    assert kept(cast)["A1"] == ("Hatch", "9.50", "Tank", None)


def test_the_areas_taken_as_a_table_read_again_unchanged(cast: Cast) -> None:
    hang(cast, down(cast, "Fore", "Bay 1"), "=B1", edges_m=Decimal("2.5"))
    retired = hang(cast, None, "R1")
    breakdown.retire_area(cast.quinn, area=retired, reason="Cut out.")
    answer = as_person(cast.clara).get(reverse("area_file", args=[cast.site.project.pk]))
    rows = answer.content.decode()
    assert "Tank;Fore / Bay 1;" in rows
    assert "R1" not in rows
    assert "3 inspection areas: 3 unchanged" in text_of(post(cast, rows, look="1"))
    assert "1 changed, 2 unchanged" in text_of(post(cast, rows.replace(";60;", ";61;"), look="1"))
    assert as_person(cast.igor).get(reverse("area_file", args=[cast.site.project.pk])).status_code == 404


def test_nothing_that_is_there_changes_without_a_reason_or_before_it_was_shown(cast: Cast) -> None:
    rows = "code;area_m2\nA1;9\n"
    unseen = post(cast, rows, store="1", reason="Measured")
    assert "area_m2: 8 → 9" in text_of(unseen)
    assert kept(cast)["A1"][1] == "8.00"
    silent = store(cast, rows, reason="")
    assert silent.status_code == 422
    assert "Why areas that are there change: Fill this in." in text_of(silent)
    shown = post(cast, rows, look="1")
    InspectionArea.objects.filter(code="A1", structure=cast.site.structure).update(area_m2=Decimal("8.5"))
    late = post(cast, rows, store="1", reason="Measured", confirmed=shown.context["confirmed"])
    assert "area_m2: 8.5 → 9" in text_of(late)
    assert kept(cast)["A1"][1] == "8.50"


def test_what_a_row_may_not_change_is_told_beside_it_and_nothing_is_kept(cast: Cast) -> None:
    retired = hang(cast, None, "R1")
    breakdown.retire_area(cast.quinn, area=retired, reason="Cut out.")
    rows = (
        "section;code;name;area_m2;edges_m;system\n;R1;Other;;;\n;A1;;;-2;\n;A2;;;;System 9\n;a1;;4;;\n"
        f"Fore / {'x' * 61};B1;New;4;;\n;B2;;;;\nFore;B3;New;5;;\n"
    )
    page = text_of(post(cast, rows, store="1", reason="All at once"))
    for words in (
        "row 2, code: R1 was retired on", "row 3, edges_m: A length is 0 m or more",
        "row 4, system: A2 has System 1; give it another on its page",
        "row 5, code: Tank already has an area a1 in row 3; give each one row.",
        "row 6, section: has a name of more than 60", "row 7, name: is missing.", "row 7, area_m2: is missing; give",
    ):  # fmt: skip
        assert words in page
    assert not InspectionArea.objects.filter(code="B3").exists()
    assert Section.objects.count() == 0
    left = store(cast, "code;name;area_m2\nR1;Plate;10\nA1;Hatch;9\n")
    assert left.status_code == 302
    assert kept(cast)["A1"][1] == "9.00"


def test_two_structures_with_the_same_codes_are_changed_each_by_its_rows(cast: Cast) -> None:
    tower = Structure.objects.create(project=cast.site.project, name="Tower")
    InspectionArea.objects.create(structure=tower, system=cast.site.system, code="A1", name="Hatch", area_m2=3)
    store(cast, "structure;code;area_m2\ntower;A1;4\n")
    assert kept(cast)["A1"][1] == "8.00"
    assert tower.areas.get().area_m2 == 4


def test_looking_at_a_table_and_changing_by_it_cost_the_same_reads_for_three_rows_and_two_thousand(cast: Cast) -> None:
    site, bay = cast.site, down(cast, "Fore")
    InspectionArea.objects.bulk_create(
        InspectionArea(structure=site.structure, system=site.system, code=f"N-{n:04}", name="Plate", area_m2=4)
        for n in range(2_000)
    )

    def cost(rows: str) -> int:
        with CaptureQueriesContext(connection) as caught:
            answer = post(cast, rows, look="1")
        assert answer.status_code == 200, text_of(answer)[:2000]
        return len(caught)

    three = cost("section;code;area_m2\n" + "".join(f"Fore;N-{n:04};5\n" for n in range(3)))
    every = "section;code;area_m2\n" + "".join(f"Fore;N-{n:04};5\n" for n in range(2_000))
    assert cost(every) == three
    many = "section;code;area_m2\n" + "".join(f"Fore;N-{n:04};5\n" for n in range(40))
    with CaptureQueriesContext(connection) as caught:
        assert store(cast, many).status_code == 302
    # An entry of the journal for each area; the areas themselves in a few statements.
    assert len([each for each in caught if "UPDATE" in each["sql"] and "projects_inspectionarea" in each["sql"]]) < 6
    assert bay.areas.count() == 40
