"""The matrix and the board of a project of 10,000 areas and 30 lines, against 1,000, and against a plain view as long.

The plain view is a page of the house that sends as many bytes as the page beside it from one trivial query: so many
areas by code, and for each a row of cells of the same length with the same words in all of them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext
from django.urls import path, reverse
from django.utils import timezone

from accounts.models import Role
from config.urls import urlpatterns as of_the_site
from inspection.foundation.copying import bulk_rows
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from inspection.plan.models import Intervention, Plan, PlanLine
from inspection.projects.models import Coat, CoatingSystem, InspectionArea, Membership, Project, Structure
from tests import cast as casting
from tests.bench import Row, best_of

FEW, MANY, LINES, A_PAGE = 1_000, 10_000, 30, 50
MOST_QUERIES = 12
# How many of thirty points lie where: most are not due, and a few of each place.
SPREAD = [HoldPoint.Lies.UNREADY] * 22 + [HoldPoint.Lies.RELEASED] * 4 + [
    HoldPoint.Lies.READY, HoldPoint.Lies.WAIVED, HoldPoint.Lies.DOUBT, HoldPoint.Lies.REFUSED,
]  # fmt: skip
STATES = {
    HoldPoint.Lies.RELEASED: "released", HoldPoint.Lies.DOUBT: "released", HoldPoint.Lies.WAIVED: "waived",
    HoldPoint.Lies.REFUSED: "refused",
}  # fmt: skip
PLAIN = """{% extends "base.html" %}{% block content %}<table>{% for area in areas %}<tr><th>{{ area.code }}</th>
{% for n in columns %}<td class="cell"><a class="tone-plain" href="/hold-points/{{ area.pk }}/">Released</a></td>
{% endfor %}</tr>{% endfor %}</table>{% endblock %}"""


def plain(request: HttpRequest) -> HttpResponse:
    areas = InspectionArea.objects.only("code")[:A_PAGE]
    page = engines["django"].from_string(PLAIN)
    return HttpResponse(page.render({"areas": areas, "columns": range(int(request.GET["cells"]))}, request))


urlpatterns = [*of_the_site, path("plain/", plain, name="plain")]


def run() -> list[Row]:
    with transaction.atomic():
        cast = casting.cast()
        few, many = planned(cast, "FEW", FEW), planned(cast, "MANY", MANY)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        with override_settings(ROOT_URLCONF=__name__):
            pages, queries, size = contestants(cast, few, many)
            seconds = best_of(pages, rounds=15)
        transaction.set_rollback(True)
    plain_page, first = seconds["plain"], seconds["matrix"]
    return [
        (
            f"matrix of {MANY:,} areas × {LINES} lines, against a plain view as long",
            first / plain_page,
            "≤ 2",
        ),
        (
            f"board of {MANY:,} areas × {LINES} lines, against a plain view as long",
            seconds["board"] / seconds["plain as the board"],
            "≤ 2",
        ),
        ("matrix of 10,000 areas, against that of 1,000", seconds["matrix"] / seconds["matrix of few"], "≤ 1.5"),
        ("board of 10,000 areas, against that of 1,000", seconds["board"] / seconds["board of few"], "≤ 1.5"),
        (
            "matrix of 10,000 areas, its last page against its first",
            seconds["last matrix"] / first,
            "≤ 1.5",
        ),
        ("board of 10,000 areas, its last page against its first", seconds["last board"] / seconds["board"], "≤ 1.5"),
        ("queries of the matrix of 10,000 areas", queries["matrix"], f"≤ {MOST_QUERIES}"),
        ("queries of the board of 10,000 areas", queries["board"], f"≤ {MOST_QUERIES}"),
        ("bytes of the plain view, against the matrix", size["plain"] / size["matrix"], ""),
        ("bytes of the plain view, against the board", size["plain as the board"] / size["board"], ""),
    ]


def planned(cast: casting.Cast, code: str, areas: int) -> Project:
    """A project of so many areas, with a plan in force of thirty lines and a point of each at each."""
    project = Project.objects.create(code=code, name=f"Works {code}", client=cast.owner)
    Membership.objects.create(project=project, person=cast.clara, organisation=cast.owner, role=Role.CLIENT)
    structure = Structure.objects.create(project=project, name="Tank")
    system = CoatingSystem.objects.create(project=project, name="System", preparation_grade="Sa 2½")
    coat = Coat.objects.create(
        system=system, order=1, name="Primer", product="Paint", volume_solids_pct=60, nominal_nm=75_000,
        rule=Coat.Rule.ISO_19840,
    )  # fmt: skip
    revision = Plan.objects.create(project=project, name="Plan").revisions.create(number=1, state="in_force")
    lines = [
        PlanLine.objects.create(
            revision=revision, number=str(number), activity="thickness", title=f"Line {number}",
            frequency="every area", criterion="as specified", coat_order=1,
        )
        for number in range(1, LINES + 1)
    ]  # fmt: skip
    for line in lines:
        Intervention.objects.create(line=line, party_kind="client", letter="H", meaning="hold")
    made = InspectionArea.objects.bulk_create(
        InspectionArea(structure=structure, system=system, code=f"B{n:05}", name="Panel", area_m2=9)
        for n in range(areas)
    )
    now = timezone.now()
    columns = (
        "id", "project_id", "area_id", "coat_id", "line_id", "kind", "title", "state", "further", "lies", "measured",
        "planned_at", "chain_broken",
    )  # fmt: skip
    bulk_rows(
        HoldPoint, columns,
        [
            (
                new_id(), project.pk, area.pk, coat.pk, line.pk, "hold", line.title, STATES.get(lies, "waiting"), "met",
                lies.value, True, now, False,
            )
            for area in made
            for line, lies in zip(lines, SPREAD, strict=True)
        ],
    )  # fmt: skip
    return project


def contestants(
    cast: casting.Cast, few: Project, many: Project
) -> tuple[dict[str, Callable[[], Any]], dict[str, int], dict[str, int]]:
    """The pages, the queries that the large ones take, and the bytes of some."""
    client = Client()
    client.force_login(cast.clara, "allauth.account.auth_backends.AuthenticationBackend")
    addresses = {
        "plain": reverse("plain", urlconf=__name__) + f"?cells={LINES}",
        "plain as the board": reverse("plain", urlconf=__name__) + "?cells=7",
        "matrix": reverse("points_matrix", args=[many.pk]),
        "last matrix": reverse("points_matrix", args=[many.pk]) + f"?page={MANY // A_PAGE}",
        "matrix of few": reverse("points_matrix", args=[few.pk]),
        "board": f"{reverse('board')}?project={many.pk}",
        "last board": f"{reverse('board')}?project={many.pk}&page=20",
        "board of few": f"{reverse('board')}?project={few.pk}",
    }
    queries, size = {}, {}
    for name, address in addresses.items():
        with CaptureQueriesContext(connection) as caught:
            answer = client.get(address)
        assert answer.status_code == 200
        queries[name], size[name] = len(caught), len(answer.content)

    def page(address: str) -> Callable[[], Any]:
        return lambda: client.get(address)

    return {name: page(address) for name, address in addresses.items()}, queries, size
