"""Pages of a plan: its revision with lines, approvals and differences, and what is done with a revision."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts.forms import carried_out, status_of
from accounts.journal import digest_of
from accounts.middleware import SignedIn
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.text import on_one_line
from inspection.plan import content, forms, line_table, queries, revisions, templates_kept
from inspection.plan.legend import legend_of
from inspection.plan.models import Approval, Plan, PlanRevision
from inspection.plan.signals import plan_departures
from inspection.plan.wording import not_followed
from inspection.projects.models import Project
from inspection.projects.queries import parties_of

page = require_http_methods(["GET", "HEAD", "POST"])


def revision_of(request: SignedIn, pk: UUID) -> PlanRevision:
    return get_object_or_404(queries.revisions_seen_by(request.user), pk=pk)


def _project(request: SignedIn, pk: UUID) -> Project:
    return get_object_or_404(Project.objects.visible_to(request.user), pk=pk)


def one_form(
    request: SignedIn, revision: PlanRevision, form: Any, heading: str, submit: str, **more: Any
) -> HttpResponse:
    shown = {
        "revision": revision, "project": revision.plan.project, "form": form, "heading": heading, "submit": submit,
        **more,
    }  # fmt: skip
    return render(request, "plan/one_form.html", shown, status=status_of(form))


@require_safe
def plan(request: SignedIn, pk: UUID) -> HttpResponse:
    """The project's plan as it stands: the revision in force, or the draft of the first."""
    project = _project(request, pk)
    found = Plan.objects.filter(project=project).first()
    revision = queries.shown_of(found, request.user) if found else None
    if revision:
        return _show(request, revision_of(request, revision.pk))
    shown = {"project": project, "may_plan": request.user.has_role(Role.QUALITY_MANAGER)}
    return render(request, "plan/none.html", shown)


@page
def plan_begin(request: SignedIn, pk: UUID) -> HttpResponse:
    """With no line, or from a template: then what becomes of its lines is shown before anything is stored."""
    project = _project(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="begin a plan")
    form = forms.BeginPlan(request.POST or None)
    told: dict[str, Any] = {}
    begun: list[PlanRevision] = []

    def act(values: dict[str, Any]) -> None:
        if values["template"] is None:
            begun.append(revisions.begin_plan(request.user, project=project, name=values["name"]))
            return
        source = values["template"].revisions.get(state=PlanRevision.State.IN_FORCE)
        fit = templates_kept.fitted(source, project)
        confirmed = digest_of([values["name"], str(source.pk), fit.mapped, fit.left_out, len(fit.lines)])
        if request.POST.get("confirmed") != confirmed:
            told.update(fit=fit, confirmed=confirmed)
            return
        begun.append(templates_kept.apply_template(request.user, project=project, **values))

    if carried_out(form, act) and begun:
        messages.success(request, "The plan is begun as a draft. Next, its lines; then the parties approve it.")
        return redirect("plan_revision", begun[0].pk)
    shown = {"project": project, "form": form, "heading": "Begin the plan", "submit": "Begin it", **told}
    return render(request, "plan/begin.html", shown, status=status_of(form))


@require_safe
def plan_revision(request: SignedIn, pk: UUID) -> HttpResponse:
    return _show(request, revision_of(request, pk))


def _show(request: SignedIn, revision: PlanRevision, approve: Any = None) -> HttpResponse:
    """A revision with its lines; a form of approval that was refused is shown with what is wrong."""
    by, project = request.user, revision.plan.project
    digest = content.digest_of_revision(revision, queries.lines_of(revision))
    lines = list(queries.with_templates(queries.lines_of(revision, by)))
    before = revision.plan.revisions.filter(number__lt=revision.number, state__in=("in_force", "superseded")).last()
    approvals = Approval.objects.visible_to(by).filter(revision=revision)
    counted = {row.party_id for row in queries.approvals_of(revision, digest)}
    own = {party.pk for party in parties_of(by, project)} if project else set()
    asked = list(revision.asked.select_related("party__organisation"))
    may_approve = revision.is_draft and any(row.party_id in own - counted for row in asked)
    may_plan = by.has_role(Role.QUALITY_MANAGER)
    answers: list[tuple[Any, Any]] = plan_departures.send(sender=PlanRevision, by=by, revision=revision)
    departures = {line: told for _, answer in answers for line, told in answer.items()}
    shown = {
        "revision": revision, "plan": revision.plan, "project": project,
        "revisions": PlanRevision.objects.visible_to(by).filter(plan=revision.plan_id).order_by("-number"),
        # What the company's template says is not a painting contractor's to know.
        "lines": [
            (
                line, [] if by.is_contractors else content.overrides(line), departures.get(line.pk, []),
                not_followed(line),
            )
            for line in lines
        ],
        "legend": legend_of(project), "before": before,
        "differences": content.differences(queries.lines_of(before, by), lines) if before else [],
        "asked": [(row.party, row.party_id in counted) for row in asked if row.party.is_told_to(by)],
        "approvals": [
            (row, row.digest == digest, revision.is_draft and row.withdrawn_at is None and row.party_id in own)
            for row in approvals.select_related("party__organisation", "withdrawn_by")
        ],
        "may_plan": may_plan, "may_change": may_plan and revision.is_draft,
        "approve": approve or forms.Approve(initial={"digest": digest}) if may_approve else None,
    }  # fmt: skip
    return render(request, "plan/revision.html", shown, status=status_of(approve) if approve else 200)


@require_POST
def plan_approve(request: SignedIn, pk: UUID) -> HttpResponse:
    revision = revision_of(request, pk)
    form = forms.Approve(request.POST)
    if not carried_out(form, lambda values: revisions.approve(request.user, revision=revision, **values)):
        return _show(request, revision, form)
    messages.success(request, "You have approved these lines for your party.")
    return redirect("plan_revision", revision.pk)


@page
def plan_withdraw(request: SignedIn, pk: UUID) -> HttpResponse:
    approval = get_object_or_404(Approval.objects.visible_to(request.user).select_related("party__organisation"), pk=pk)
    revision = revision_of(request, approval.revision_id)
    form = forms.Because(request.POST or None)
    if carried_out(form, lambda values: revisions.withdraw_approval(request.user, approval=approval, **values)):
        messages.success(request, "The approval is withdrawn; the revision does not come into force without another.")
        return redirect("plan_revision", revision.pk)
    lead = f"{approval.party} approved it on {approval.at:%Y-%m-%d}."
    return one_form(request, revision, form, "Withdraw the approval", "Withdraw it", lead=lead)


@page
def plan_ask(request: SignedIn, pk: UUID) -> HttpResponse:
    revision = revision_of(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="ask for approval")
    project = revision.plan.project
    chosen = [row.party for row in revision.asked.select_related("party")] or queries.parties_by_default(revision)
    if project is None:
        return redirect("plan_revision", revision.pk)
    form = forms.AskApproval(request.POST or None, project=project, chosen=chosen)
    if carried_out(form, lambda values: revisions.ask_approval(request.user, revision=revision, **values)):
        messages.success(request, "The parties are asked; their people are written to.")
        return redirect("plan_revision", revision.pk)
    return one_form(request, revision, form, "Ask for approval", "Ask them")


@page
def plan_force(request: SignedIn, pk: UUID) -> HttpResponse:
    """What the revision touches stands above the form."""
    revision = revision_of(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="bring a plan into force")
    if revision.plan.project is None:
        return _reasoned(
            request, revision, lambda by, reason: revisions.bring_into_force(by, revision=revision),
            heading="Keep this revision", submit="Keep it", done="The template can be applied to projects now.",
            form=forms.Nothing(request.POST if request.method == "POST" else None),
        )  # fmt: skip
    today = revision.plan.project.day_of(timezone.now())
    form = forms.BringIntoForce(request.POST or None, initial={"applies_from": today})
    if carried_out(form, lambda values: revisions.bring_into_force(request.user, revision=revision, **values)):
        messages.success(request, f"Revision {revision.number} is in force.")
        return redirect("plan_revision", revision.pk)
    touched = revisions.touched_by(request.user, revision) if revision.is_draft else []
    return one_form(request, revision, form, "Bring into force", "Bring it into force", touched=touched)


def _reasoned(
    request: SignedIn, revision: PlanRevision, act: Callable[[Person, str], Any], *, heading: str, submit: str,
    done: str, form: Any = None, lead: str = "",
) -> HttpResponse:  # fmt: skip
    """A form that asks why, and what is done then."""
    require(request.user, Role.QUALITY_MANAGER, to="write a plan")
    form = form or forms.Because(request.POST or None)
    if carried_out(form, lambda values: act(request.user, values.get("reason", ""))):
        messages.success(request, done)
        return redirect("plan_revision", revision.pk)
    return one_form(request, revision, form, heading, submit, lead=lead)


@page
def plan_throw_away(request: SignedIn, pk: UUID) -> HttpResponse:
    revision = revision_of(request, pk)
    return _reasoned(
        request, revision, lambda by, reason: revisions.throw_away(by, revision=revision, reason=reason),
        heading="Throw the draft away", submit="Throw it away",
        done="The draft is thrown away; it can be taken up again.",
    )  # fmt: skip


@page
def plan_take_up(request: SignedIn, pk: UUID) -> HttpResponse:
    revision = revision_of(request, pk)
    return _reasoned(
        request, revision, lambda by, reason: revisions.take_up_again(by, revision=revision, reason=reason),
        heading="Take the draft up again", submit="Take it up again", done="The draft is under way again.",
    )  # fmt: skip


@page
def plan_revise(request: SignedIn, pk: UUID) -> HttpResponse:
    """Begins a further revision of the plan that this one belongs to."""
    revision = revision_of(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="begin a revision of a plan")
    form = forms.BeginRevision(request.POST if request.method == "POST" else None)
    begun: list[PlanRevision] = []
    if carried_out(
        form, lambda values: begun.append(revisions.begin_revision(request.user, plan=revision.plan, **values))
    ):
        messages.success(request, f"Revision {begun[0].number} is begun as a copy of the one in force.")
        return redirect("plan_revision", begun[0].pk)
    return one_form(request, revision, form, "Begin a revision", "Begin it")


@page
def plan_keep(request: SignedIn, pk: UUID) -> HttpResponse:
    """Keeps the lines of a revision as a template of the company."""
    revision = revision_of(request, pk)
    require(request.user, Role.QUALITY_MANAGER, to="keep a template of plans")
    form = forms.NameTemplate(request.POST or None)
    kept: list[Plan] = []
    if carried_out(
        form, lambda values: kept.append(templates_kept.begin_template(request.user, of=revision, **values))
    ):
        messages.success(request, "The template is a draft of its own. Look through it, then keep it.")
        return redirect("plan_revision", kept[0].revisions.get().pk)
    return one_form(request, revision, form, "Make a template of it", "Make the template")


@page
def plan_templates(request: SignedIn) -> HttpResponse:
    """The company's templates; a name begins an empty one."""
    require(request.user, Role.QUALITY_MANAGER, to="keep a template of plans")
    form = forms.NameTemplate(request.POST or None)
    begun: list[Plan] = []
    if carried_out(form, lambda values: begun.append(templates_kept.begin_template(request.user, **values))):
        messages.success(request, "The template is begun as a draft. Next, its lines.")
        return redirect("plan_revision", begun[0].revisions.get().pk)
    shown = {"form": form, "templates": queries.templates(), "legend": legend_of(None)}
    return render(request, "plan/templates.html", shown, status=status_of(form))


@require_safe
def plan_file(request: SignedIn, pk: UUID) -> HttpResponse:
    """The lines as a table, to be put right and read again."""
    revision = revision_of(request, pk)
    answer = HttpResponse(line_table.written_out(revision), content_type="text/csv; charset=utf-8")
    code = revision.plan.project.code if revision.plan.project else revision.plan.name
    name = on_one_line(f"{code} plan {revision.number}.csv")
    answer["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name) or ""
    return answer
