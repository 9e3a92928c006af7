"""The board of hold points over 1,000 areas, as its client opens it, against two trivial views of the same site.

The empty one answers a page of the house without a query of its own: the same middleware, session, person and base
template, and not a row. The plain one lists fifty of the points from one query in a bare table: no evidence under them,
no order by what wants somebody, no counts.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template import engines
from django.test import Client, override_settings
from django.urls import path, reverse

from config.urls import urlpatterns as of_the_site
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.projects.models import InspectionArea
from inspection.standing.models import Standing
from tests import cast as casting
from tests.bench import Row, best_of
from tests.standing.scene import measure, verify

AREAS = 1_000
A_PAGE = 50
PLAIN = """{% extends "base.html" %}{% block content %}<table>{% for point in points %}<tr>
<td><a href="{% url 'point' point.pk %}">{{ point.title }}</a></td><td>{{ point.get_kind_display }}</td>
<td>{{ point.area }}</td><td>{{ point.coat.name }}</td><td>{{ point.project.code }}</td>
<td>{{ point.get_state_display }}</td></tr>{% endfor %}</table>{% endblock %}"""


def empty(request: HttpRequest) -> HttpResponse:
    return render(request, "base.html")


def plain(request: HttpRequest) -> HttpResponse:
    points = HoldPoint.objects.visible_to(request.user).select_related("project", "area", "coat")[:A_PAGE]
    return HttpResponse(engines["django"].from_string(PLAIN).render({"points": points}, request))


urlpatterns = [*of_the_site, path("empty/", empty, name="empty"), path("plain/", plain, name="plain")]


def run() -> list[Row]:
    with transaction.atomic():
        cast = casting.cast()
        a_thousand_areas(cast)
        with connection.cursor() as cursor:
            # As a site's database does by itself, which sees nothing of this transaction.
            cursor.execute("ANALYZE")
        with override_settings(ROOT_URLCONF=__name__):
            seconds = best_of(contestants(cast), rounds=15)
        transaction.set_rollback(True)
    board, last, point = (seconds[name] for name in ("board", "last page", "point"))
    return [
        (f"board of {AREAS:,} areas, against a plain list of {A_PAGE} points", board / seconds["plain"], "≤ 3"),
        (f"board of {AREAS:,} areas, its last page against its first", last / board, "≤ 1.5"),
        (f"board of {AREAS:,} areas, against an empty page", board / seconds["empty"], ""),
        ("one hold point with its evidence, against an empty page", point / seconds["empty"], ""),
    ]


def a_thousand_areas(cast: casting.Cast) -> None:
    """Each measured between two passing checks; a third released, and every tenth failing."""
    site = cast.site
    opening, closing = (verify(cast, at, tell=False) for at in ("06:40", "17:30"))
    areas = InspectionArea.objects.bulk_create(
        InspectionArea(structure=site.structure, system=site.system, code=f"B{n:04}", name="Panel", area_m2=9)
        for n in range(AREAS)
    )
    due = datetime(2026, 3, 4, 18, 0, tzinfo=UTC)
    for number, area in enumerate(areas):
        record = measure(cast, "09:00", "09:40", area=area, tell=False, verdict="fail" if number % 10 == 0 else "pass")
        Standing.objects.create(
            record=record, state="sound", opening=opening, closing=closing, due_at=due, computed_at=due
        )
        point = HoldPoint.objects.create(
            project=site.project, area=area, coat=site.coats[0], title="Primer accepted",
            state="released" if number % 3 == 0 else "waiting",
        )  # fmt: skip
        if point.state == "released":
            Decision.objects.create(
                point=point, number=1, outcome="released", person=cast.clara, signed_as="Clara Client", record=record,
                evidence={}, evidence_digest="0" * 64,
            )  # fmt: skip


def contestants(cast: casting.Cast) -> dict[str, Callable[[], Any]]:
    client = Client()
    client.force_login(cast.clara, "allauth.account.auth_backends.AuthenticationBackend")

    def page(name: str, query: str = "", *args: Any) -> Callable[[], Any]:
        address = reverse(name, args=args, urlconf=__name__) + query

        def get() -> None:
            assert client.get(address).status_code == 200

        return get

    point = HoldPoint.objects.filter(state="waiting")[0]
    return {
        "empty": page("empty"),
        "plain": page("plain"),
        "board": page("board"),
        "last page": page("board", f"?page={AREAS // A_PAGE}"),
        "point": page("point", "", point.pk),
    }
