from typing import Any

from django.conf import settings
from django.http import HttpRequest


def person(request: HttpRequest) -> dict[str, Any]:
    """What every page knows: the signed-in person's roles, for the menu, and the company's name."""
    user = request.user
    return {"roles": user.roles if user.is_authenticated else frozenset(), "company_name": settings.COMPANY_NAME}
