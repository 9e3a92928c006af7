"""Letters that could not be sent yet: seen, tried again, set aside."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts import post, queries
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
