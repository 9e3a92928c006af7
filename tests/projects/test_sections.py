"""The tree of a structure: sections at any depth, shown a level at a time, kept whole whatever is moved."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.models import JournalEntry
from inspection.foundation.refusals import Conflict, Refused
from inspection.projects.areas import add_area
from inspection.projects.models import InspectionArea, Section
from inspection.projects.sections import add_section, change_section, remove_section
from tests.cast import Cast
from tests.projects.test_pages import as_person, text_of


def down(cast: Cast, *names: str) -> Section:
    """The sections of these names, each within the one before; the last of them."""
    section = None
    for name in names:
        there = Section.objects.filter(structure=cast.site.structure, parent=section, name=name).first()
        section = there or add_section(cast.quinn, structure=cast.site.structure, name=name, parent=section)
    assert section
    return section


def hang(cast: Cast, section: Section | None, code: str, **given: Any) -> InspectionArea:
    site = cast.site
    return add_area(
        cast.quinn, structure=site.structure, system=site.system, section=section, code=code, name="Plate",
        area_m2=Decimal(10), **given,
    )  # fmt: skip


def tree(cast: Cast, section: Section | None = None, **asked: Any) -> Any:
    where = reverse("structure", args=[cast.site.structure.pk])
    return as_person(cast.clara).get(where, asked | ({"section": section.pk} if section else {}))


def test_an_area_is_found_by_its_way_down_and_shown_with_its_path(cast: Cast) -> None:
    bay = down(cast, "Block 2", "Tank 3P", "Frame 112", "Bay 4")
    area = hang(cast, bay, "B-4", edges_m=Decimal("18.5"), welds_m=Decimal(40))
    top = text_of(tree(cast))
    assert f'<a href="?section={down(cast, "Block 2").pk}">Block 2</a>' in top
    assert '<td data-label="Sections in it" class="num">3</td>' in top
    assert "Frame 112</a>" not in top
    assert "<dt>Surface</dt><dd>78 m²</dd>" in top
    below = text_of(tree(cast, down(cast, "Block 2", "Tank 3P")))
    assert ">Frame 112</a>" in below
    assert "Block 2 / Tank 3P / Frame 112 / Bay 4" in below
    assert "A1 Hatch" not in below
    page = text_of(as_person(cast.clara).get(reverse("area", args=[area.pk])))
    assert "Tank / Block 2 / Tank 3P / Frame 112 / Bay 4" in page
    assert "<dd>18.50 m</dd>" in page
    assert "<dd>40 m</dd>" in page
    told = as_person(cast.clara).get(f"/api/areas/{area.pk}/").json()
    assert (told["section_path"], told["edges_m"]) == ("Block 2 / Tank 3P / Frame 112 / Bay 4", 18.5)


def test_sections_stand_in_the_order_people_count_in(cast: Cast) -> None:
    for name in ("Frame 10", "Frame 9", "frame 100"):
        down(cast, name)
    words = text_of(tree(cast))
    assert words.index(">Frame 9<") < words.index(">Frame 10<") < words.index(">frame 100<")


def test_a_section_that_moves_takes_all_below_it_along(cast: Cast) -> None:
    bay, aft = down(cast, "Fore", "Tank 1", "Bay 1"), down(cast, "Aft")
    area = hang(cast, bay, "B-1")
    sent = {"name": "Tank 7", "parent": "  aft ", "reason": "Drawn in the wrong block"}
    answer = as_person(cast.quinn).post(reverse("section_change", args=[bay.parent_id]), sent, follow=True)
    assert "The section is changed" in text_of(answer)
    area.refresh_from_db()
    assert area.lies_in == "Tank / Aft / Tank 7 / Bay 1"
    assert text_of(tree(cast, aft)).count("B-1 Plate") == 1
    assert "B-1 Plate" not in text_of(tree(cast, down(cast, "Fore")))
    entry = JournalEntry.objects.get(verb="section.changed")
    assert (entry.before["path"], entry.after["path"]) == ("Fore / Tank 1", "Aft / Tank 7")


def test_no_section_hangs_in_itself_and_none_bears_the_path_of_another(cast: Cast) -> None:
    bay, tank = down(cast, "Fore", "Tank 1"), down(cast, "Fore")
    for parent in (tank, bay):
        with pytest.raises(Refused, match="lies within Fore itself"):
            change_section(cast.quinn, section=tank, name="Fore", parent=parent, reason="a slip")
    with pytest.raises(Refused, match="Fore already has a section tank 1"):
        add_section(cast.quinn, structure=cast.site.structure, name="tank 1", parent=tank)
    with pytest.raises(Refused, match="without it"):
        add_section(cast.quinn, structure=cast.site.structure, name="Fore / Tank 2")
    deep = down(cast, *["x" * 60] * 7)
    with pytest.raises(Refused, match="have 501 characters in all; at most 500"):
        add_section(cast.quinn, structure=cast.site.structure, name="x" * 60, parent=deep)
    with pytest.raises(Refused, match="at most 500 can be kept"):
        change_section(
            cast.quinn, section=down(cast, "x" * 60), name="x" * 60, parent=down(cast, "y" * 60), reason="too deep"
        )
    assert [each.path for each in Section.objects.filter(path__startswith="Fore").order_by("path")] == [
        "Fore", "Fore / Tank 1",
    ]  # fmt: skip


def test_only_an_empty_section_is_taken_away_and_the_journal_keeps_it(cast: Cast) -> None:
    bay = down(cast, "Fore", "Bay 1")
    hang(cast, bay, "B-1")
    with pytest.raises(Conflict, match="holds 1 area; move them"):
        remove_section(cast.quinn, section=bay, reason="not there")
    InspectionArea.objects.filter(code="B-1").delete()
    as_person(cast.quinn).post(reverse("section_remove", args=[bay.pk]), {"reason": "Not built"})
    assert not Section.objects.filter(pk=bay.pk).exists()
    entry = JournalEntry.objects.get(verb="section.removed")
    assert (entry.before["path"], entry.reason) == ("Fore / Bay 1", "Not built")


def test_a_path_that_is_not_there_and_lengths_that_cannot_be_are_told_together_with_nothing_kept(cast: Cast) -> None:
    down(cast, "Fore")
    site = cast.site
    sent = {
        "structure": site.structure.pk, "section": "Aft / Tank 1", "system": site.system.pk, "code": "B-1",
        "name": "Plate", "area_m2": "10", "shape": "plate",
    }  # fmt: skip
    where = reverse("area_new", args=[site.project.pk])
    answer = as_person(cast.quinn).post(where, sent)
    assert answer.status_code == 422
    assert "Tank has no section “Aft / Tank 1”; it has “Fore”." in text_of(answer)
    answer = as_person(cast.quinn).post(where, sent | {"section": "fore", "edges_m": "-1", "welds_m": "1.234"})
    assert "A length is 0 m or more" in text_of(answer)
    assert "1.234 m may be meant as thousands" in text_of(answer)
    assert not InspectionArea.objects.filter(code="B-1").exists()
    as_person(cast.quinn).post(where, sent | {"section": "fore", "edges_m": "0"})
    assert InspectionArea.objects.get(code="B-1").lies_in == "Tank / Fore"


def test_the_tree_costs_the_same_for_three_areas_and_two_thousand_and_shows_a_window(cast: Cast) -> None:
    bay = down(cast, "Fore", "Bay 1")

    def cost(**asked: Any) -> tuple[int, int]:
        with CaptureQueriesContext(connection) as caught:
            answer = tree(cast, bay, **asked)
        return len(caught), len(answer.content)

    hang(cast, bay, "B-1")
    queries, _ = cost()
    site = cast.site
    sections = [
        Section(structure=site.structure, parent=bay, name=f"S{n}", path=f"{bay.path} / S{n}") for n in range(300)
    ]
    Section.objects.bulk_create(sections)
    InspectionArea.objects.bulk_create(
        InspectionArea(
            structure=site.structure, system=site.system, section=sections[n % 300], code=f"N-{n:04}", name="Plate",
            area_m2=4,
        )
        for n in range(2_000)
    )  # fmt: skip
    first, size = cost()
    assert first == queries
    assert size < 120_000
    assert cost(page="21", sections="3")[0] == queries
    last = text_of(tree(cast, bay, page="21"))
    assert "Page 21 of 21" in last
    assert "<dd>8,010 m²</dd>" in last
    assert text_of(tree(cast, bay, area="N-1999")).count('data-label="Section"') == 1


def test_strangers_see_no_structure_and_only_a_quality_manager_changes_one(cast: Cast) -> None:
    bay = down(cast, "Fore")
    assert as_person(cast.carl).get(reverse("structure", args=[cast.site.structure.pk])).status_code == 404
    assert as_person(cast.ines).post(reverse("section_change", args=[bay.pk]), {"name": "X"}).status_code == 403
    assert "Add a section" not in text_of(tree(cast))
