"""Pages of a structure as a tree: its sections a level at a time, the areas of a place a window at a time."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods, require_safe

from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.lookalikes import tell_alike
from inspection.projects import corrections, forms, queries, sections, tank_sizes
from inspection.projects.models import InspectionArea, Section, Structure
from inspection.projects.steps import steps_shown
from inspection.standards.thickness_iso19840 import LARGEST_AREA_M2

page = require_http_methods(["GET", "HEAD", "POST"])
SECTIONS_A_PAGE = 100
AREAS_A_PAGE = 100


def tree_address(structure: Structure, section: Section | None = None) -> str:
    """Where a structure's page shows a section, or its top."""
    return reverse("structure", args=[structure.pk]) + (f"?section={section.pk}" if section else "")


def structure_of(request: SignedIn, pk: UUID) -> Structure:
    found: Structure = get_object_or_404(Structure.objects.visible_to(request.user).select_related("project"), pk=pk)
    return found


def _section(request: SignedIn, pk: UUID, to: str) -> Section:
    found = Section.objects.visible_to(request.user).select_related("structure__project", "parent")
    section: Section = get_object_or_404(found, pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to=to)
    return section


@require_safe
def structure(request: SignedIn, pk: UUID) -> HttpResponse:
    found = structure_of(request, pk)
    asked = request.GET.get("section")
    at = forms.named(Section.objects.visible_to(request.user).filter(structure=found), asked)
    if asked and at is None:
        return redirect("structure", found.pk)
    words = request.GET.get("area", "").strip()[:60]
    tree = queries.tree_at(found, at, request.user)
    retired = "retired" in request.GET

    def areas_here(words: str = "", *, retired: bool = False) -> Any:
        return queries.areas_at(found, at, words, retired=retired).visible_to(request.user)

    kept = ({"section": at.pk} if at else {}) | ({"area": words} if words else {}) | ({"retired": 1} if retired else {})
    shown = {
        "structure": found, "project": found.project, "tree": tree, "at": tree.at, "words": words, "retired": retired,
        "any_retired": retired or areas_here(retired=True).exclude(retired_at=None).exists(),
        "branches": Paginator(tree.branches, SECTIONS_A_PAGE).get_page(request.GET.get("sections")),
        "areas": Paginator(areas_here(words, retired=retired), AREAS_A_PAGE).get_page(request.GET.get("page")),
        "sums": queries.sums_of(areas_here()),
        "kept": urlencode(kept | {"page": ""}),
        "may_set_up": request.user.has_role(Role.QUALITY_MANAGER) and not found.project.closed_at,
    }  # fmt: skip
    return render(request, "projects/structure.html", shown)


@require_safe
def area(request: SignedIn, pk: UUID) -> HttpResponse:
    areas = InspectionArea.objects.visible_to(request.user).select_related(*queries.WITH_PLACE, "structure__project")
    found = get_object_or_404(areas, pk=pk)
    shown = {
        "area": found, "structure": found.structure, "project": found.structure.project,
        "trail": queries.trail_of(found.section),
        "came_from": found.made_from.visible_to(request.user).order_by("code"),
        "rules": set(found.system.coats.values_list("rule", flat=True)), "counted": tank_sizes.counted(found),
        "steps": steps_shown(found),
        "too_large": found.area_m2 > LARGEST_AREA_M2,
        "became": found.became.visible_to(request.user).order_by("code"),
        "former": found.former_systems.select_related("system"),
        "may_set_up": request.user.has_role(Role.QUALITY_MANAGER) and not found.structure.project.closed_at,
    }  # fmt: skip
    return render(request, "projects/area.html", shown)


def one_form(request: SignedIn, of: Structure, form: Any, heading: str, submit: str, **more: Any) -> HttpResponse:
    """A page of one form about a structure or what hangs in it."""
    shown = {
        "structure": of, "project": of.project, "form": form, "heading": heading, "submit": submit,
        "cancel": tree_address(of), **more,
    }  # fmt: skip
    return render(request, "projects/change.html", shown, status=status_of(form))


@page
def structure_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    found = structure_of(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="correct a structure")
    form = forms.CorrectStructure(request.POST or None, structure=found)
    if carried_out(form, lambda values: corrections.correct_structure(request.user, structure=found, **values)):
        messages.success(request, "The structure is corrected; the journal keeps what stood before.")
        others = found.project.structures.exclude(pk=found.pk)
        tell_alike(request, [form.cleaned_data["name"]], others.values_list("name", flat=True))
        return redirect(tree_address(found))
    return one_form(request, found, form, f"Correct {found}", "Correct it")


@page
def section_new(request: SignedIn, pk: UUID) -> HttpResponse:
    found = structure_of(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="add a section")
    above = forms.named(found.sections.all(), request.GET.get("section"))
    form = forms.AddSection(request.POST or None, structure=found, initial={"parent": above.path} if above else {})
    added: list[Section] = []
    if carried_out(form, lambda values: added.append(sections.add_section(request.user, structure=found, **values))):
        messages.success(request, f"Section {added[0]} is added.")
        siblings = found.sections.filter(parent=added[0].parent)
        tell_alike(request, [added[0].name], siblings.values_list("name", flat=True))
        return redirect(tree_address(found, added[0]))
    return one_form(request, found, form, "Add a section", "Add the section", cancel=tree_address(found, above))


@page
def section_change(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _section(request, pk, "change a section")
    form = forms.ChangeSection(request.POST or None, section=found)
    if carried_out(form, lambda values: sections.change_section(request.user, section=found, **values)):
        messages.success(request, "The section is changed, and the paths below it; the journal keeps the former.")
        return redirect(tree_address(found.structure, found))
    here = tree_address(found.structure, found)
    return one_form(request, found.structure, form, f"Rename or move {found.name}", "Change it", cancel=here)


@page
def section_remove(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _section(request, pk, "remove a section")
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda values: sections.remove_section(request.user, section=found, **values)):
        messages.success(request, f"Section {found} is removed; the journal keeps why.")
        return redirect(tree_address(found.structure, found.parent))
    return one_form(
        request, found.structure, form, f"Remove {found.name}", "Remove it",
        cancel=tree_address(found.structure, found),
        question=f"{found.name_path} is taken away. Only a section in which nothing hangs can be.",
    )  # fmt: skip
