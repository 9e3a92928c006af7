from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from accounts.menu import menu_for
from accounts.models import Person
from accounts.queries import company_name


def person(request: HttpRequest) -> dict[str, Any]:
    """What every page knows: the signed-in person's roles, the menu they make, and the company's name."""
    # A page for a failure may be drawn before the request has a user.
    user = getattr(request, "user", None)
    someone = user if isinstance(user, Person) else None
    return {
        "roles": someone.roles if someone else frozenset(),
        "menu": menu_for(someone, request) if someone else [],
        # Asked of the database only where a page shows it.
        "company_name": SimpleLazyObject(company_name),
    }
