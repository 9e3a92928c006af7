"""Pages of paint: the batches of a project, one batch and what befell it, deliveries by table, labels."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from io import BytesIO
from typing import Any
from uuid import UUID

from django import forms as django_forms
from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from accounts import held_files, journal, vault
from accounts.asking import stored_or_asked
from accounts.forms import carried_out, status_of
from accounts.middleware import SignedIn
from accounts.models import Role, StoredFile
from accounts.rights import require
from inspection.foundation.labels import SHEETS, Label, sheets_pdf
from inspection.foundation.narrowing import keeping, narrowed, page_number
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.foundation.text import on_one_line
from inspection.projects.forms import show_refusal
from inspection.projects.how_read import came_as, sent_or_asked, tell_before
from inspection.projects.models import Party, Project
from inspection.projects.stored_tables import Sent
from inspection.works.entering import WORKERS, may_change, parties_for, party_for
from inspection.works.models import BatchStep, PaintBatch
from inspection.works.paint import batch_table, batches
from inspection.works.paint import forms as paint_forms
from inspection.works.paint import queries as paint_queries
from inspection.works.paint.models import Component

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 60
UNSTAMPED = {"csrfmiddlewaretoken", "confirmed", "reason", held_files.NAMED}


def project_of(request: SignedIn, pk: UUID) -> Project:
    return get_object_or_404(Project.objects.visible_to(request.user), pk=pk)


def stamp(request: SignedIn) -> str:
    """What was typed, as a digest: what was asked about is stored once the same is sent again, with a reason or not."""
    typed = {name: request.POST.getlist(name) for name in request.POST}
    return journal.digest_of({name: value for name, value in typed.items() if name not in UNSTAMPED})


@require_safe
def batch_list(request: SignedIn, pk: UUID) -> HttpResponse:
    project, narrow = project_of(request, pk), narrowed(request, "words", "component")
    narrow.pop("project", None)
    rows = paint_queries.batches_listed(request.user, project, **narrow)
    found = Paginator(rows, A_PAGE).get_page(page_number(request))
    shown = {
        "project": project, "page": found, "rows": paint_queries.batches_now(list(found)), "narrow": narrow,
        "components": Component.choices, "query": keeping(**narrow),
        "may_enter": request.user.has_role(*WORKERS) and bool(parties_for(request.user, project)),
    }  # fmt: skip
    return render(request, "works/paint/batch_list.html", shown)


def _batch(request: SignedIn, pk: UUID) -> PaintBatch:
    return get_object_or_404(paint_queries.batches_seen(request.user), pk=pk)


@require_safe
def batch(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _batch(request, pk)
    [now] = paint_queries.batches_now([found])
    mixes = paint_queries.mixes_seen(request.user).filter(parts__batch=found, parts__taken_out_at=None)
    shown_mixes = Paginator(mixes, A_PAGE).get_page(page_number(request))
    shown = {
        "project": found.project, "batch": found, "now": now, "steps": list(found.steps.all()), "page": shown_mixes,
        "mixes": [
            (each, next(part for part in each.parts if part.batch_id == found.pk))
            for each in paint_queries.mixes_now(shown_mixes)
        ],
        "history": paint_queries.history(found), "may_recall": request.user.has_role(Role.QUALITY_MANAGER),
        "may_change": may_change(request.user, found.party) and not found.project.closed_at,
    }  # fmt: skip
    return render(request, "works/paint/batch.html", shown)


@page
def batch_new(request: SignedIn, pk: UUID) -> HttpResponse:
    project = project_of(request, pk)
    require(request.user, *WORKERS, to="enter batches of paint")
    form = paint_forms.ReceiveBatch(
        request.POST or None, request.FILES or None, by=request.user, project=project, held=held_files.held_for(request)
    )
    kept: list[PaintBatch] = []

    def act(values: dict[str, Any]) -> None:
        confirmed = request.POST.get("confirmed") == stamp(request)
        kept.append(batches.receive_batch(request.user, project=project, confirmed=confirmed, **values)[0])

    done, asking = stored_or_asked(form, act)
    if done:
        messages.success(request, f"{kept[0]} is entered.")
        return redirect("batch", kept[0].pk)
    return _form(request, project, form, "Enter a batch", "Enter it", reverse("batch_list", args=[pk]), asking=asking)


@page
def batch_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    found = _batch(request, pk)
    _require(request, found, "correct a batch")
    form = paint_forms.CorrectBatch(
        request.POST or None, request.FILES or None, by=request.user, batch=found, held=held_files.held_for(request)
    )

    def act(values: dict[str, Any]) -> None:
        confirmed = request.POST.get("confirmed") == stamp(request)
        batches.correct_batch(request.user, batch=found, confirmed=confirmed, **values)

    done, asking = stored_or_asked(form, act)
    if done:
        messages.success(request, f"{found.number} is corrected. The journal keeps what stood before, and why.")
        return redirect("batch", found.pk)
    cancel = reverse("batch", args=[pk])
    return _form(request, found.project, form, "Correct the batch", "Store it", cancel, batch=found, asking=asking)


def _require(request: SignedIn, found: PaintBatch, to: str) -> None:
    require(request.user, *WORKERS, to=to)
    if not may_change(request.user, found.party):
        raise NotAllowed(f"Only {found.party.organisation} and the inspection company may {to}.")


def _form(
    request: SignedIn, project: Project, form: Any, heading: str, submit: str, cancel: str,
    asking: list[str] | None = None, **more: Any,
) -> HttpResponse:  # fmt: skip
    asking = list(asking or ())
    file = form.cleaned_data.get("file") if form.is_bound else None
    shown = {
        "project": project, "form": form, "heading": heading, "submit": submit, "cancel": cancel, "touched": asking,
        "held": held_files.hold(request, file) if file else None,
        "confirmed": stamp(request) if asking else "", "touched_head": "Is this right?", **more,
    }  # fmt: skip
    return render(request, "works/paint/form.html", shown, status=status_of(form))


# --- what befalls a batch ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Deed:
    """One change of a batch: what it needs a right to, its form and action, the words of its page."""

    to: str
    form: Callable[..., django_forms.Form]
    act: Callable[..., Any]
    heading: str
    submit: str
    question: str = ""


DEEDS = {
    "extend": Deed(
        "extend the shelf life of a batch", paint_forms.Extend, batches.extend_batch,
        "Shelf life extended by the maker", "Keep the extension",
        "Only what the maker gives in writing extends a shelf life.",
    ),
    "quarantine": Deed(
        "put a batch in quarantine", paint_forms.SetApart, batches.quarantine_batch, "Put in quarantine",
        "Set it apart",
        "Nothing is to be mixed of it until it is released. What was mixed of it since then says so.",
    ),
    "release": Deed(
        "release a batch from quarantine", paint_forms.Release, batches.release_batch, "Release from quarantine",
        "Release it",
    ),
    "withdraw": Deed(
        "withdraw a batch", paint_forms.Why, batches.withdraw_batch, "Withdraw the batch", "Withdraw it",
        "For a batch entered by mistake, or one that is not to be used. Each mix made of it says so from then on. It "
        "can be taken back.",
    ),
    "restore": Deed(
        "take the withdrawal of a batch back", paint_forms.Why, batches.restore_batch, "Take the withdrawal back",
        "Take it back",
    ),
}  # fmt: skip


@page
def batch_change(request: SignedIn, pk: UUID, deed: str) -> HttpResponse:
    found, of = _batch(request, pk), DEEDS[deed]
    _require(request, found, of.to)
    more = {"held": held_files.held_for(request)} if of.form is paint_forms.Extend else {}
    form = of.form(request.POST or None, request.FILES or None, thing=found, **more)
    if carried_out(form, lambda values: of.act(request.user, batch=found, **values)):
        messages.success(request, f"{of.heading}: done. The journal keeps it.")
        return redirect("batch", found.pk)
    question, cancel = of.question, reverse("batch", args=[pk])
    if deed == "withdraw" and (made := found.parts.that_count().values("mix").distinct().count()):
        question += f" {made} mix{' was' if made == 1 else 'es were'} made of it."
    return _form(request, found.project, form, of.heading, of.submit, cancel, batch=found, question=question)


@page
def batch_step_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    rows = BatchStep.objects.visible_to(request.user)
    step = get_object_or_404(rows, pk=pk)
    found = _batch(request, step.batch_id)
    _require(request, found, "take back what befell a batch")
    form = paint_forms.Why(request.POST or None, thing=step)
    if carried_out(form, lambda values: batches.withdraw_step(request.user, step=step, **values)):
        messages.success(request, f"{step.get_what_display()}: taken back. It stays readable.")
        return redirect("batch", found.pk)
    heading, cancel = f"Take back: {step.get_what_display()}", reverse("batch", args=[found.pk])
    return _form(request, found.project, form, heading, "Take it back", cancel, batch=found)


# --- files, tables, labels --------------------------------------------------------------------------------------------


@require_safe
def batch_file(request: SignedIn, pk: UUID) -> FileResponse:
    found = _batch(request, pk)
    return _download(found.file, found.file_name)


@require_safe
def batch_step_file(request: SignedIn, pk: UUID) -> FileResponse:
    step = get_object_or_404(BatchStep.objects.visible_to(request.user).select_related("file"), pk=pk)
    return _download(step.file, step.file_name)


def _download(file: StoredFile | None, name: str) -> FileResponse:
    """The attached file, always as a download of the type its first bytes said it is."""
    if file is None:
        raise Http404
    content = BytesIO(vault.content_of(file))
    answer = FileResponse(content, as_attachment=True, filename=on_one_line(name), content_type=file.media_type)
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@page
def batch_upload(request: SignedIn, pk: UUID) -> HttpResponse:
    """A delivery from one table: shown row by row first, stored all or none."""
    project, by = project_of(request, pk), request.user
    require(by, *WORKERS, to="enter batches of paint")
    sent = sent_or_asked(request, batch_table.READ_AS, {"of": "batches of paint", "project": project})
    if isinstance(sent, HttpResponse):
        return sent
    form = paint_forms.UploadBatches(*sent, by=by, project=project)
    table, shown = None, dict[str, Any]()
    if form.is_bound and form.is_valid():
        try:
            party = party_for(by, project, form.cleaned_data.get("party"))
            table = batch_table.read(by, project, party, form.content())
            came = Sent(by, batch_table.READ_AS, table, came_as(request), project)
            shown = came.shown
            if "store" in request.POST and not table.faults:
                return _delivered(request, project, party, table, came)
        except NotAllowed:
            raise
        except Refused as refusal:
            if table is None:
                show_refusal(refusal, form)
            else:
                table.show_refusal(refusal)
    wrong = bool(form.errors) or (table is not None and bool(table.faults))
    shown |= {"project": project, "table": table, "template": batch_table.TEMPLATE}
    if table is not None:
        # The rows go back as text, so that they can be put right and sent without choosing the file again.
        kept = {"rows": table.text, "party": request.POST.get("party", "")}
        form = paint_forms.UploadBatches(initial=kept, by=by, project=project)
        shown["rows"] = table.window(request.POST.get("look"))
        shown["doubtful"] = sum(bool(row.changes) for row in table.rows)
    return render(
        request, "works/paint/batch_upload.html", shown | {"form": form, "forms": [form]}, status=422 if wrong else 200
    )


def _delivered(request: SignedIn, project: Project, party: Party, table: batch_table.Table, sent: Sent) -> HttpResponse:
    rows = [row.values for row in table.new()]
    many = len(sent.stored(lambda: batches.receive_delivery(request.user, project=project, party=party, rows=rows)))
    tell_before(request, sent)
    told = f"{many} batch{' is' if many == 1 else 'es are'} entered." if many else "All of it is there already."
    messages.success(request, told if many else f"{told} Nothing was changed.")
    return redirect("batch_list", project.pk)


@require_safe
def batch_labels(request: SignedIn, pk: UUID) -> HttpResponse:
    """Choose labels; once chosen, the sheets as PDF. Printing changes nothing, so all of it is in the address."""
    project = project_of(request, pk)
    require(request.user, *WORKERS, to="print labels")
    rows = list(paint_queries.batches_seen(request.user, project.pk).filter(withdrawn_at=None))
    asked = request.GET
    form = paint_forms.ChooseBatches(
        asked if "sheet" in asked else None, batches=rows, initial={"batch": asked.getlist("batch")}
    )
    if form.is_bound and form.is_valid():
        content = sheets_pdf(
            [_label(each) for each in form.chosen()], sheet=SHEETS[form.cleaned_data["sheet"]],
            start=form.cleaned_data["start"],
        )  # fmt: skip
        headers = {"Content-Disposition": 'attachment; filename="labels.pdf"'}
        return HttpResponse(content, content_type="application/pdf", headers=headers)
    shown = {"project": project, "form": form, "none": not rows}
    return render(request, "works/paint/labels.html", shown, status=status_of(form))


def _label(found: PaintBatch) -> Label:
    """The label bears what does not change; how the batch stands is told by the page that its code leads to."""
    lines = [found.product, found.get_component_display(), f"{found.project.code}, received {_day(found)}"]
    if found.expires_on:
        lines.append(f"expires {found.expires_on:%Y-%m-%d}, if not extended")
    return Label(f"{settings.SITE_URL}{reverse('batch', args=[found.pk])}", found.number, lines)


def _day(found: PaintBatch) -> str:
    return f"{found.received_at.astimezone(found.project.zone):%Y-%m-%d}"
