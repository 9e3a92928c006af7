"""Pages of certificates: the register, one certificate, its file, recording and correcting it."""

from __future__ import annotations

from datetime import date, timedelta
from io import BytesIO
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import F
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from accounts import vault
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.foundation.lookalikes import tell_alike
from inspection.foundation.refusals import NotAllowed, Refused
from inspection.foundation.text import on_one_line
from inspection.instruments import actions, certificate_table, queries, registers
from inspection.instruments.forms import certificates as forms
from inspection.instruments.models import Certificate
from inspection.projects.forms import UploadTable, show_refusal
from inspection.projects.how_read import came_as, sent_or_asked, tell_before
from inspection.projects.stored_tables import Sent

page = require_http_methods(["GET", "HEAD", "POST"])
A_PAGE = 60
FILTERS = {
    "valid": "In date",
    "expiring": f"Expiring within {queries.EXPIRING_DAYS} days",
    "expired": "Expired",
    "withdrawn": "Withdrawn",
}


@require_safe
def certificate_list(request: SignedIn) -> HttpResponse:
    day, asked = timezone.now().date(), request.GET.get("state", "")
    words = request.GET.get("words", "").strip()[:60]
    rows = registers.certificates_for(request.user)
    if words:
        rows = rows.filter(number__icontains=words) | rows.filter(laboratory__icontains=words)
    rows = rows.filter(**_filter(asked, day))
    found = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    shown = {
        "page": found,
        "rows": [{"paper": paper, "state": queries.certificate_state(paper, day)} for paper in found],
        "states": FILTERS.items(),
        "asked": asked,
        "words": words,
        "query": urlencode({"state": asked, "words": words}) + "&",
        "may_record": request.user.has_role(Role.QUALITY_MANAGER),
    }
    return render(request, "instruments/certificate_list.html", shown)


def _filter(asked: str, day: date) -> dict[str, Any]:
    if asked == "valid":
        return {"withdrawn_at": None, "expires__gte": day}
    if asked == "expiring":
        soon = day + timedelta(days=queries.EXPIRING_DAYS)
        return {"withdrawn_at": None, "expires__range": (day, soon)}
    if asked == "expired":
        return {"withdrawn_at": None, "expires__lt": day}
    if asked == "withdrawn":
        return {"withdrawn_at__isnull": False}
    return {}


@require_safe
def certificate(request: SignedIn, pk: UUID) -> HttpResponse:
    visible = Certificate.objects.visible_to(request.user)
    rows = visible.select_related("recorded_by", "withdrawn_by", "file", "replaces")
    paper = get_object_or_404(rows, pk=pk)
    later = Certificate.objects.filter(replaces=paper).first()
    chain = queries.Chains([paper]).above(paper)
    seen = set(visible.filter(pk__in=[above.pk for above in chain]).values_list("pk", flat=True))
    day = timezone.now().date()
    shown = {
        "paper": paper,
        "state": queries.certificate_state(paper, day, replaced=later is not None),
        "later": later,
        "values": paper.values.select_related("gauge", "standard").order_by(
            F("standard__nominal_nm").asc(nulls_last=True), "standard__identity", "gauge__identity"
        ),
        "chain": [
            {"paper": above, "linked": above.pk in seen, "state": queries.certificate_state(above, day)}
            for above in chain
        ],
        "children": visible.filter(parent=paper, replaced_by=None),
        "may_manage": request.user.has_role(Role.QUALITY_MANAGER),
    }
    return render(request, "instruments/certificate.html", shown)


@require_safe
def certificate_file(request: SignedIn, pk: UUID) -> FileResponse:
    """The attached file, always as a download of the type its first bytes said it is."""
    paper = get_object_or_404(Certificate.objects.visible_to(request.user).select_related("file"), pk=pk)
    if paper.file is None:
        raise Http404
    answer = FileResponse(
        BytesIO(vault.content_of(paper.file)), as_attachment=True, filename=on_one_line(paper.file_name),
        content_type=paper.file.media_type,
    )  # fmt: skip
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@page
def certificate_new(request: SignedIn) -> HttpResponse:
    require(request.user, Role.QUALITY_MANAGER, to="record certificates")
    initial = {"gauges": request.GET.getlist("gauge")}
    rows = [{"standard": pk} for pk in request.GET.getlist("standard")]
    form = forms.CertificateForm(request.POST or None, request.FILES or None, by=request.user, initial=initial)

    def act(values: dict[str, Any]) -> Certificate:
        return actions.record_certificate(request.user, **values)

    return _recording(request, form, rows, act, {"heading": "Record a certificate", "submit": "Record the certificate"})


@page
def certificate_correct(request: SignedIn, pk: UUID) -> HttpResponse:
    paper = get_object_or_404(Certificate.objects.visible_to(request.user).select_related("file"), pk=pk)
    require(request.user, Role.QUALITY_MANAGER, to="correct certificates")
    names = ("number", "laboratory", "accreditation", "issued", "expires", "coverage_factor", "traceable_to", "parent")
    initial = {name: getattr(paper, name) for name in names}
    initial["gauges"] = list(paper.values.exclude(gauge=None).values_list("gauge", flat=True))
    rows = [
        {
            "standard": str(value.standard_id),
            "value": value.value_nm if value.value is None else f"{value.value.normalize():f}",
            "uncertainty": value.expanded_uncertainty_nm
            if value.expanded_uncertainty is None
            else f"{value.expanded_uncertainty.normalize():f}",
        }
        for value in paper.values.exclude(standard=None).order_by("standard__nominal_nm", "pk")
    ]
    form = forms.CorrectionForm(request.POST or None, request.FILES or None, by=request.user, initial=initial)

    def act(values: dict[str, Any]) -> Certificate:
        reason = form.cleaned_data["reason"]
        return actions.correct_certificate(request.user, certificate=paper, reason=reason, **values)

    shown = {"heading": f"Correct certificate {paper}", "submit": "Record the corrected version", "paper": paper}
    return _recording(request, form, rows, act, shown)


def _recording(
    request: SignedIn, form: forms.CertificateForm, initial: list[dict[str, Any]], act: Any, shown: dict[str, Any]
) -> HttpResponse:
    """Show the form with its rows of values; more rows are asked for without storing anything."""
    data = request.POST or None
    count = forms.row_count((data or request.GET).get("rows"), fewest=max(forms.FEWEST_ROWS, len(initial) + 2))
    if data is not None and "more" in data:
        form, initial = forms.as_typed(form, count)
        count, data = forms.row_count(str(count + forms.FEWEST_ROWS)), None
    rows = forms.value_rows(data, by=request.user, count=count, initial=initial)
    if data is not None and all([form.is_valid(), *(row.is_valid() for row in rows)]):
        filled = [row for row in rows if row.filled]
        try:
            made = act({**form.values_for_action(), "values": [row.sent() for row in filled]})
        except NotAllowed:
            raise
        except Refused as refusal:
            show_refusal(refusal, form, filled)
        else:
            messages.success(request, f"Certificate {made} is recorded.")
            tell_alike(request, [made.number], Certificate.objects.values_list("number", flat=True))
            return redirect("certificate", made.pk)
    wrong = data is not None and any(each.errors for each in [form, *rows])
    shown |= {"form": form, "rows": rows, "count": count, "wrong": wrong, "forms": [form, *rows]}
    return render(request, "instruments/certificate_form.html", shown, status=422 if wrong else 200)


@page
def certificate_upload(request: SignedIn) -> HttpResponse:
    """Many certificates from one table: shown row by row first, stored all or none."""
    require(request.user, Role.QUALITY_MANAGER, to="record certificates")
    sent = sent_or_asked(request, certificate_table.READ_AS, {"of": "certificates"})
    if isinstance(sent, HttpResponse):
        return sent
    form = UploadTable(*sent)
    table, shown = None, dict[str, Any]()
    if form.is_bound and form.is_valid():
        try:
            table = certificate_table.read(request.user, form.content())
            came = Sent(request.user, certificate_table.READ_AS, table, came_as(request))
            shown = came.shown
            if "store" in request.POST and not table.faults:
                papers = table.papers()
                recorded = came.stored(lambda: actions.record_certificates(request.user, papers))
                tell_before(request, came)
                messages.success(request, f"Recorded: {', '.join(str(paper) for paper in recorded[:20])}.")
                numbers = Certificate.objects.values_list("number", flat=True)
                tell_alike(request, [paper.number for paper in recorded], numbers)
                return redirect("certificate_list")
        except NotAllowed:
            raise
        except Refused as refusal:
            if table is None:
                show_refusal(refusal, form)
            else:
                table.show_refusal(refusal)
    if table is not None:
        # The rows go back as text, so that they can be put right and sent without choosing the file again.
        form = UploadTable(initial={"rows": table.text})
    wrong = bool(form.errors) or (table is not None and bool(table.faults))
    shown |= {"form": form, "forms": [form], "table": table, "template": certificate_table.TEMPLATE}
    if table is not None:
        shown["rows"] = table.window(request.POST.get("look"))
    return render(request, "instruments/certificate_upload.html", shown, status=422 if wrong else 200)
