from typing import Any

from django.conf import settings
from django.http import HttpRequest

from accounts.menu import menu_for


def person(request: HttpRequest) -> dict[str, Any]:
    """What every page knows: the signed-in person's roles, the menu they make, and the company's name."""
    user = getattr(request, "user", None)
    signed_in = user is not None and user.is_authenticated
    return {
        "roles": user.roles if signed_in else frozenset(),
        "menu": menu_for(user, request) if signed_in else [],
        "company_name": settings.COMPANY_NAME,
    }
