"""The page of what the company has chosen for its instruments: what holds, the form to change it, earlier choices."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from accounts.forms import carried_out, sent, status_of
from accounts.middleware import SignedIn
from accounts.models import Role
from accounts.rights import require
from inspection.instruments import actions
from inspection.instruments.company_rules import may_read
from inspection.instruments.forms.company_rules import ChooseRules
from inspection.instruments.models import InstrumentRules

A_PAGE = 30


@require_http_methods(["GET", "HEAD", "POST"])
def instrument_rules(request: SignedIn) -> HttpResponse:
    may_read(request.user)
    if request.method == "POST":
        require(request.user, Role.QUALITY_MANAGER, to="choose the rules for instruments")
    held = InstrumentRules.now()
    may_choose = request.user.has_role(Role.QUALITY_MANAGER)
    form = ChooseRules(sent(request), held=held) if may_choose else None
    if form and carried_out(form, lambda values: actions.choose_rules(request.user, **values)):
        messages.success(request, "The rules are chosen; they hold from now on.")
        return redirect("instrument_rules")
    choices = InstrumentRules.objects.select_related("chosen_by")
    shown = {
        "held": held,
        "combination": InstrumentRules.Combination(held.combination).in_words,
        "form": form,
        "earlier": Paginator(choices.exclude(pk=held.pk), A_PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "instruments/rules.html", shown, status=status_of(form) if form else 200)
