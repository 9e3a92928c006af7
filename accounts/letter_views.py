"""Letters that could not be sent yet: seen, tried again, set aside."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts import post, queries, tidings
from accounts.forms import LetterChoices, answered, sent, status_of
from accounts.installation import COPY, is_the_site
from accounts.middleware import SignedIn

LETTERS_A_PAGE = 50


@require_safe
def letters(request: SignedIn) -> HttpResponse:
    rows = queries.late_letters(request.user, timezone.now())
    found = Paginator(rows, LETTERS_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "accounts/letters.html", {"page": found, "copy": "" if is_the_site() else COPY})


@require_POST
def letter_again(request: SignedIn, pk: UUID) -> HttpResponse:
    letter = get_object_or_404(queries.late_letters(request.user, timezone.now()), pk=pk)
    post.try_again(request.user, letter=letter)
    messages.success(request, f"The letter to {letter.recipient} is tried again within a minute.")
    return redirect("letters")


@require_POST
def letter_aside(request: SignedIn, pk: UUID) -> HttpResponse:
    letter = get_object_or_404(queries.late_letters(request.user, timezone.now()), pk=pk)
    post.set_aside(request.user, letter=letter, reason=request.POST.get("reason", ""))
    messages.success(request, f"The letter to {letter.recipient} is not sent any more.")
    return redirect("letters")


@require_http_methods(["GET", "HEAD", "POST"])
def letter_choices(request: SignedIn) -> HttpResponse:
    """How one hears of what concerns one: by a letter at once, in one letter an hour, or on the pages only."""
    form = LetterChoices(sent(request), ways=tidings.ways_of(request.user))
    return answered(
        request, form, lambda values: tidings.choose(request.user, ways=form.ways()),
        told="Your choice is kept.", then=redirect("letter_choices"),
        again=lambda: render(request, "accounts/letter_choices.html", {"form": form}, status=status_of(form)),
    )  # fmt: skip
