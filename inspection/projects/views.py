"""Pages of projects: the list, one project, and setting one up."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from accounts import journal
from accounts.forms import carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rehearsal import told_first
from accounts.rights import require
from accounts.signals import left_unfinished
from inspection.foundation.lookalikes import tell_alike
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.foundation.text import on_one_line
from inspection.projects import (
    actions,
    area_table,
    areas,
    breakdown,
    bulk,
    coating_forms,
    corrections,
    film_told,
    forms,
    queries,
)
from inspection.projects.how_read import came_as, sent_or_asked, tell_before
from inspection.projects.models import Membership, Project, Section, Specification
from inspection.projects.stored_tables import Sent
from inspection.projects.tree_views import tree_address

page = require_http_methods(["GET", "HEAD", "POST"])
PROJECTS_A_PAGE = 50
AREAS_A_PAGE = 100


def _project(request: SignedIn, pk: UUID) -> Project:
    return get_object_or_404(Project.objects.visible_to(request.user).select_related("client", "contractor"), pk=pk)


def _project_to_set_up(request: SignedIn, pk: UUID, to: str) -> Project:
    project = _project(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to=to)
    return project


@require_safe
def project_list(request: SignedIn) -> HttpResponse:
    shown = Paginator(queries.project_rows(request.user), PROJECTS_A_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "projects/project_list.html",
        {"page": shown, "may_open": request.user.has_role(Role.QUALITY_MANAGER)},
    )


@require_safe
def project(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _project(request, pk)
    words = request.GET.get("area", "").strip()[:60]
    # What these followed is on their pages.
    systems = queries.systems_seen_by(request.user).in_force().filter(project=found)
    areas_seen = queries.areas_of(found, words).visible_to(request.user)
    shown_areas = Paginator(areas_seen, AREAS_A_PAGE).get_page(request.GET.get("page"))
    shown = {
        "project": found,
        "structures": queries.structures_of(found, request.user),
        "specifications": Specification.objects.visible_to(request.user).filter(project=found),
        "systems": film_told.shown(systems.select_related("project")),
        "data_sheets": queries.sheets_seen_by(request.user).filter(project=found),
        "areas": shown_areas,
        "words": words,
        "members": queries.members_of(found, request.user),
        "parties": queries.parties_shown(request.user).filter(project=found),
        "hides_contractor": request.user.names_no_contractor(found.contractor_id),
        "schemes": found.schemes_asked.all(),
        "may_set_up": request.user.has_role(Role.QUALITY_MANAGER),
    }
    return render(request, "projects/project.html", shown)


@page
def project_new(request: SignedIn) -> HttpResponse:
    require(request.user, Role.QUALITY_MANAGER, to="open a project")
    form = forms.OpenProject(request.POST or None)
    opened: list[Project] = []
    if carried_out(form, lambda values: opened.append(actions.open_project(request.user, **values))):
        messages.success(request, f"{opened[0]} is open. Add people, structures and what was specified.")
        tell_alike(request, [opened[0].code], Project.objects.values_list("code", flat=True))
        return redirect("project", opened[0].pk)
    return render(request, "projects/project_new.html", {"form": form}, status=status_of(form))


@page
def project_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    """What was entered when it was opened; what a correction changes elsewhere is shown before it is stored."""
    found = _project_to_set_up(request, pk, "correct a project")
    form = forms.CorrectProject(request.POST or None, project=found)
    touched: list[str] = []

    def act(values: dict[str, Any]) -> None:
        def store() -> Project:
            return corrections.correct_project(request.user, project=found, **values)

        def foreseen() -> list[str]:
            return corrections.touched(request.user, found, values)

        confirmed = request.POST.get("confirmed", "")
        touched.extend(told_first(values, confirmed, store, but="project.corrected", foreseen=foreseen))

    if carried_out(form, act) and not touched:
        messages.success(request, "The project is corrected; the journal keeps what stood before.")
        tell_alike(request, [form.cleaned_data["code"]], Project.objects.values_list("code", flat=True))
        return redirect("project", found.pk)
    confirmed = journal.digest_of(form.cleaned_data) if touched else ""
    return _one_form(request, found, form, "Correct the project", "Correct it", touched=touched, confirmed=confirmed)


@page
def project_close(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _project_to_set_up(request, pk, "close a project")
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda values: corrections.close_project(request.user, project=found, **values)):
        messages.success(request, f"{found.code} is closed. It can be opened again.")
        return redirect("project", found.pk)
    shown = {
        "project": found, "form": form, "heading": "Close the project", "submit": "Close it",
        "question": "Nothing new begins in a closed project; what was measured and arrives late is still taken in.",
        "held": left_unfinished(request.user, project=found), "held_head": "Not finished yet:",
        "held_hint": "It may be closed all the same.",
    }  # fmt: skip
    return render(request, "projects/ask.html", shown, status=status_of(form))


@page
def project_reopen(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _project_to_set_up(request, pk, "open a project again")
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda values: corrections.reopen_project(request.user, project=found, **values)):
        messages.success(request, f"{found.code} is open again.")
        return redirect("project", found.pk)
    return _one_form(request, found, form, "Open the project again", "Open it again")


def _one_form(request: SignedIn, found: Project, form: Any, heading: str, submit: str, **more: Any) -> HttpResponse:
    shown = {"project": found, "form": form, "heading": heading, "submit": submit, **more}
    return render(request, "projects/add.html", shown, status=status_of(form))


@page
def member_new(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _project_to_set_up(request, pk, "add members to a project")
    form = forms.AddMember(request.POST or None, project=found)
    if carried_out(form, lambda values: actions.add_member(request.user, project=found, **values)):
        messages.success(request, f"{form.cleaned_data['person']} takes part in {found.code}.")
        return redirect("project", found.pk)
    return _one_form(request, found, form, "Add a person", "Add to the project")


@page
def member_end(request: SignedIn, pk: UUID) -> HttpResponse:
    """Asks once, with what the person still holds in the project; a POST ends it."""
    membership = get_object_or_404(
        Membership.objects.visible_to(request.user).select_related("person", "project"), pk=pk
    )
    if request.method != "POST":
        require(request.user, Role.QUALITY_MANAGER, to="end a membership")
        person, project = membership.person, membership.project
        shown = {
            "project": project, "heading": f"End {person}’s part", "submit": f"End {person}’s part",
            "question": f"{person} then no longer sees {project.code}. What they recorded stays under their name.",
            "held": left_unfinished(request.user, person=person, project=project),
            "held_head": f"{person} still holds:",
        }  # fmt: skip
        return render(request, "projects/ask.html", shown)
    actions.end_membership(request.user, membership=membership)
    messages.success(request, f"{membership.person} no longer takes part in {membership.project.code}.")
    return redirect("project", membership.project_id)


@page
def project_qualifications(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _project_to_set_up(request, pk, "choose the qualifications a project asks for")
    form = forms.AskQualifications(sent(request), project=found)
    if carried_out(form, lambda values: actions.ask_qualifications(request.user, project=found, **values)):
        messages.success(request, f"What {found.code} asks for is recorded.")
        return redirect("project", found.pk)
    return _one_form(request, found, form, "Qualifications asked for", "Ask for these")


@page
def structure_new(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _project_to_set_up(request, pk, "add a structure")
    form = forms.AddStructure(request.POST or None)
    if carried_out(form, lambda values: actions.add_structure(request.user, project=found, **values)):
        messages.success(request, f"{form.cleaned_data['name']} is added. Next, its inspection areas.")
        tell_alike(request, [form.cleaned_data["name"]], found.structures.values_list("name", flat=True))
        return redirect("project", found.pk)
    return _one_form(request, found, form, "Add a structure", "Add the structure")


@page
def area_new(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _project_to_set_up(request, pk, "add an inspection area")
    if not (found.structures.exists() and found.systems.exists()):
        raise Refused("An inspection area lies on a structure and has a coating system; add both first.")
    section = forms.named(Section.objects.filter(structure__project=found), request.GET.get("section"))
    structure = forms.named(found.structures.all(), request.GET.get("structure"))
    form = forms.AddArea(
        request.POST or None, project=found, section=section, initial={"structure": structure} if structure else {}
    )
    if carried_out(form, lambda values: areas.add_area(request.user, **values)):
        messages.success(request, f"Area {form.cleaned_data['code']} is added.")
        codes = queries.areas_of(found, retired=True).values_list("code", flat=True)
        tell_alike(request, [form.cleaned_data["code"]], codes)
        if section or structure:
            return redirect(tree_address(form.cleaned_data["structure"], form.cleaned_data["section"]))
        return redirect("project", found.pk)
    return _one_form(request, found, form, "Add an inspection area", "Add the area")


@page
def area_upload(request: SignedIn, pk: UUID) -> HttpResponse:
    """Many areas from one table: shown row by row first, stored all or none; it adds areas, and changes those there."""
    found = _project_to_set_up(request, pk, "add inspection areas")
    came = sent_or_asked(request, area_table.READ_AS, {"of": "inspection areas", "project": found})
    if isinstance(came, HttpResponse):
        return came
    form = forms.UploadAreas(*came)
    table, shown = None, dict[str, Any]()
    if form.is_bound and form.is_valid():
        try:
            table = area_table.read(found, form.content())
            sent = Sent(request.user, area_table.READ_AS, table, came_as(request), found)
            shown = _of_table(request, table) | sent.shown
            if (
                "store" in request.POST
                and not table.faults
                and shown["confirmed"] in ("", request.POST.get("confirmed"))
            ):
                rows, reason = table.wanted(), form.cleaned_data["reason"]
                stored = sent.stored(lambda: bulk.store_table(request.user, project=found, rows=rows, reason=reason))
                tell_before(request, sent)
                return _table_stored(request, found, stored)
        except NotAllowed:
            raise
        except Refused as refusal:
            if table is None or any(fault.field == "reason" for fault in refusal.faults):
                forms.show_refusal(refusal, form)
            else:
                table.show_refusal(refusal)
    wrong = bool(form.errors) or (table is not None and bool(table.faults))
    if table is not None:
        # The rows go back as text, so that they can be put right and sent without choosing the file again.
        kept = {"rows": table.text, "reason": request.POST.get("reason", "")}
        refused, form = form.errors.get("reason"), forms.UploadAreas(initial=kept)
        if refused:
            form = forms.UploadAreas(kept, initial=kept)
            form.add_error("reason", refused)
        shown["rows"] = table.window(request.POST.get("look"))
    shown |= {"project": found, "form": form, "forms": [form], "table": table, "template": area_table.TEMPLATE}
    return render(request, "projects/area_upload.html", shown, status=422 if wrong else 200)


@require_safe
def area_file(request: SignedIn, pk: UUID) -> HttpResponse:
    """The areas in use as a table, to be put right and read again."""
    found = _project(request, pk)
    answer = HttpResponse(area_table.written_out(found), content_type="text/csv; charset=utf-8")
    name = on_one_line(f"{found.code} areas.csv")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name) or ""
    return answer


def _of_table(request: SignedIn, table: area_table.Table) -> dict[str, Any]:
    """What is shown of a table before it is stored: new sections, and what hangs on areas that change.

    What was shown is known by its digest; empty where nothing that is there changes.
    """
    touched = breakdown.touched_by_table(request.user, table.resized(), table.moved())
    changes = [row.changes for row in table.rows if row.changes]
    confirmed = journal.digest_of({"changes": changes, "touched": touched}) if changes else ""
    return {"touched": touched, "confirmed": confirmed, "changes": len(changes), "new_sections": table.new_sections}


def _table_stored(request: SignedIn, found: Project, stored: bulk.Stored) -> HttpResponse:
    added, changed = len(stored.added), len(stored.changed)
    told = [f"{added} inspection area{'s are' if added != 1 else ' is'} added"] if added else []
    told += [f"{changed} inspection area{'s are' if changed != 1 else ' is'} changed"] if changed else []
    messages.success(request, f"{', '.join(told) or 'Nothing differs from what is stored'}.")
    codes = queries.areas_of(found, retired=True).values_list("code", flat=True)
    tell_alike(request, [area.code for area in stored.added], codes)
    return redirect("project", found.pk)


@page
def system_new(request: SignedIn, pk: UUID) -> HttpResponse:
    """System and coats in one form; how many coats is chosen by a link before typing."""
    found = _project_to_set_up(request, pk, "specify a coating system")
    data = request.POST or None
    count = coating_forms.coat_count(request.POST.get("coats") or request.GET.get("coats"))
    form = coating_forms.AddSystem(data, project=found)
    rows = coating_forms.coat_rows(found, count, data)
    if data is not None and all([form.is_valid(), *(row.is_valid() for row in rows)]):
        coats = [row.spec() for row in rows]
        try:
            system = actions.add_system(request.user, project=found, coats=coats, **form.cleaned_data)
        except NotAllowed:
            raise
        except Refused as refusal:
            forms.show_refusal(refusal, form, rows)
        else:
            messages.success(request, f"{system} is specified with {len(coats)} coat{'' if len(coats) == 1 else 's'}.")
            tell_alike(request, [system.name], found.systems.values_list("name", flat=True))
            return redirect("project", found.pk)
    wrong = any(each.errors for each in [form, *rows])
    shown = {
        "project": found, "form": form, "rows": rows, "count": count, "counts": range(1, 7), "wrong": wrong,
        "forms": [form, *rows],
    }  # fmt: skip
    return render(request, "projects/system_new.html", shown, status=422 if wrong else 200)
