"""From an address that only takes what a form sends there is a way back, also through the sign-in."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from accounts.ways import OPEN, may_be_looked_at
from inspection.foundation.ids import new_id
from inspection.holdpoints.models import HoldPoint
from tests.cast import PASSWORD, Cast
from tests.sight.rows import routes
from tests.sight.table import ROWS

HOST = "http://testserver"


@pytest.fixture
def point(cast: Cast) -> HoldPoint:
    site = cast.site
    return HoldPoint.objects.create(project=site.project, area=site.area, coat=site.coats[0], title="Primer accepted")


def refuse(client: Client, point: HoldPoint, referer: str) -> Any:
    sent = {"password": PASSWORD, "reason": "Runs below the hatch."}
    return client.post(reverse("point_refuse", args=[point.pk]), sent, headers={"Referer": referer})


def leads_to(answer: Any) -> str:
    (way,) = parse_qs(urlsplit(answer["Location"]).query)["next"]
    return str(way)


@pytest.mark.parametrize(
    "referer", ["", "{page}", "{page}refuse/", "https://elsewhere.example{page}", "http://[broken"]
)
def test_a_decision_sent_after_the_session_ended_comes_back_to_the_hold_point(
    cast: Cast, client: Client, point: HoldPoint, referer: str
) -> None:
    page = reverse("point", args=[point.pk])
    told = referer.format(page=HOST + page if referer.startswith("{") else page)
    answer = refuse(client, point, told)
    assert leads_to(answer) == page
    sign_in = client.get(answer["Location"]).content.decode()
    assert "what you typed was not sent and nothing was stored" in sign_in
    landed = client.post(
        answer["Location"], {"login": cast.clara.email, "password": PASSWORD, "next": page}, follow=True
    )
    assert (landed.status_code, landed.request["PATH_INFO"]) == (200, page)
    assert "what you typed before was not sent and nothing was stored" in landed.content.decode()
    # Said once, and never to somebody who lost nothing.
    assert "was not sent" not in client.get(page).content.decode()
    client.logout()
    assert "was not sent" not in client.get(client.get(page)["Location"]).content.decode()


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_in_the_browser_a_lost_session_ends_at_the_form_again(cast: Cast, point: HoldPoint, page_as: Any) -> None:
    page = page_as(cast.clara)
    address = reverse("point", args=[point.pk])
    page.goto(address)
    page.locator("#refuse_reason").fill("Runs below the hatch.")
    page.locator("#refuse_password").fill(PASSWORD)
    page.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    page.locator("form", has=page.locator("#refuse_reason")).get_by_role("button").click()
    page.get_by_text("what you typed was not sent").wait_for()
    page.get_by_label("E-mail address").fill(cast.clara.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_text("what you typed before was not sent").wait_for()
    assert page.url.endswith(address)


def test_the_page_on_which_the_form_stood_comes_back_as_it_was_asked_for(client: Client, point: HoldPoint) -> None:
    form = f"{reverse('thickness_upload', args=[point.project_id])}?area={point.area_id}"
    answer = client.post(form.partition("?")[0], {"note": "typed"}, headers={"Referer": HOST + form})
    assert leads_to(answer) == form


def test_one_who_opens_the_address_of_a_form_is_shown_the_way_to_its_page(cast: Cast, client: Client) -> None:
    pk = cast.gauge_certificate.pk
    address, page = reverse("recall_reinstate", args=[pk]), reverse("recall", args=[pk])
    assert leads_to(client.get(address)) == page
    client.force_login(cast.quinn)
    answer = client.get(address)
    assert (answer.status_code, answer["Allow"]) == (405, "POST")
    assert "It only takes what a form sends. Nothing was changed." in answer.content.decode()
    assert f'href="{page}"' in answer.content.decode()
    deep = client.get(reverse("role_end", args=[cast.ines.pk, "inspector"])).content.decode()
    assert f'href="{reverse("person", args=[cast.ines.pk])}"' in deep


def test_a_method_that_the_api_does_not_take_is_a_problem_document(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    answer = client.delete("/api/problems/refused/")
    assert (answer.status_code, answer["Content-Type"]) == (405, "application/problem+json")
    assert answer.json()["type"] == "/api/problems/method/"


def test_what_can_be_looked_at_is_told_rightly_of_every_address() -> None:
    looked = {row.name for row in ROWS if row.method == "GET"} - OPEN
    example = {"uuid": str(new_id()), "slug": "a", "str": "a", "int": "1", "date": "2026-03-04", "day": "2026-03-04"}
    pages = [route for route in routes() if not route.api and not route.pattern.startswith("^")]
    told = {
        route.name
        for route in pages
        if may_be_looked_at("/" + re.sub(r"<(\w+):\w+>", lambda part: example.get(part[1], "a"), route.pattern))
    }
    assert told == looked & {route.name for route in pages}
