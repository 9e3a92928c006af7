from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from accounts.journal import altered
from accounts.middleware import SignedIn
from accounts.models import Person
from inspection.foundation.form_fields import set_up
from inspection.projects.models import Project
from inspection.trace import journal_queries


class Filters(forms.Form):
    project = forms.ModelChoiceField(Project.objects.none(), required=False, empty_label="All")
    verb = forms.CharField(label="What", max_length=60, required=False)
    who = forms.CharField(label="Who", max_length=120, required=False)
    before = forms.IntegerField(required=False, min_value=1, max_value=2**62, widget=forms.HiddenInput)

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_up(self, "project", queryset=Project.objects.visible_to(person))

    def chosen(self) -> dict[str, Any]:
        """What was asked for, without what makes no sense."""
        self.is_valid()
        project = self.cleaned_data.get("project")
        return {**self.cleaned_data, "project": project.pk if project else None}


@require_safe
def journal(request: SignedIn) -> HttpResponse:
    filters = Filters(request.GET, person=request.user)
    chosen = filters.chosen()
    entries, older = journal_queries.newest(request.user, **chosen)
    query = request.GET.copy()
    query["before"] = str(older)
    shown = {
        "filters": filters,
        "entries": entries,
        "altered": [entry for entry in entries if altered(entry)],
        "projects": dict(Project.objects.visible_to(request.user).values_list("pk", "code")),
        "older": query.urlencode() if older else "",
    }
    return render(request, "trace/journal.html", shown)


@require_safe
def journal_entry(request: SignedIn, pk: int) -> HttpResponse:
    entry = get_object_or_404(journal_queries.visible_to(request.user), pk=pk)
    before, after = entry.before or {}, entry.after or {}
    projects = Project.objects.visible_to(request.user)
    shown = {
        "entry": entry,
        "project": projects.filter(pk=entry.project_id).first() if entry.project_id else None,
        "changes": [(name, before.get(name), after.get(name)) for name in {**before, **after}],
        "altered": altered(entry),
    }
    return render(request, "trace/journal_entry.html", shown)
