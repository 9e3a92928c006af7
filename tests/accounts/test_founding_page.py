"""The company founded on the site's first page: by whoever runs the machine, once, and by nobody else."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from datetime import timedelta
from io import StringIO
from pathlib import Path
from threading import Barrier, Thread
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.core.management import CommandError, call_command
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from accounts.models import JournalEntry, Organisation, Person
from tests import services
from tests.cast import PASSWORD, Cast
from tests.conftest import address_of_the_test_database

WHO = {"company": "Company", "name": "Ada Lind", "email": "ada@example.com", "password": PASSWORD, "again": PASSWORD}


@pytest.fixture(autouse=True)
def _no_code_left() -> Any:
    yield
    kept().unlink(missing_ok=True)


def kept() -> Path:
    return Path(settings.VAR_DIR) / "founding-code.json"


def code_on_the_screen() -> str:
    out = StringIO()
    call_command("founding_code", stdout=out)
    found = re.search(r"/found/ with the code ([A-Z2-9]{4}(?:-[A-Z2-9]{4}){3}),", out.getvalue())
    assert found, out.getvalue()
    return found[1]


def send(client: Client, code: str, **who: str) -> HttpResponse:
    return client.post("/found/", {**WHO, "code": code, **who})


def test_the_first_page_leads_to_founding_while_nobody_exists(db: None, client: Client) -> None:
    answer = client.get("/", follow=True)
    assert answer.redirect_chain[-1] == ("/found/", 302)
    assert "Found the company" in answer.content.decode()


@pytest.mark.django_db(transaction=True)
def test_with_the_code_from_the_machine_the_founder_is_in_and_may_invite(client: Client) -> None:
    code = code_on_the_screen()
    answer = client.post("/found/", {**WHO, "code": code.lower().replace("-", " ")}, follow=True)
    assert answer.redirect_chain == [("/people/", 302)]
    ada = Person.objects.get()
    assert (ada.roles, ada.organisation.name, ada.check_password(PASSWORD)) == ({"administrator"}, "Company", True)
    assert JournalEntry.objects.filter(verb="company.founded", actor=ada).count() == 1
    # Neither page nor code serves again.
    assert Client().get("/found/").status_code == 404
    assert send(Client(), code, email="eve@example.com").status_code == 404
    assert Client().get("/sign-in/").status_code == 200
    assert not kept().exists()


@pytest.mark.parametrize("code", ["", "AAAA-AAAA-AAAA-AAAA", "earlier", "old"])
def test_without_the_newest_code_nothing_is_founded(db: None, client: Client, code: str) -> None:
    if code == "earlier":
        code = code_on_the_screen()
        code_on_the_screen()
    elif code == "old":
        with time_machine.travel(timezone.now() - timedelta(hours=24, seconds=1)):
            code = code_on_the_screen()
    answer = send(client, code)
    assert answer.status_code == 422
    assert not Person.objects.exists()
    assert not Organisation.objects.exists()


def test_the_code_lies_on_the_disk_only_as_a_digest_for_its_owner(db: None) -> None:
    code = code_on_the_screen()
    assert code.replace("-", "") not in kept().read_text()
    assert kept().stat().st_mode & 0o077 == 0


def test_codes_cannot_be_guessed_at_leisure(db: None, client: Client) -> None:
    code = code_on_the_screen()
    assert [send(client, "AAAA-AAAA-AAAA-AAAA").status_code for _ in range(11)][-1] == 429
    assert send(client, code).status_code == 429
    assert not Person.objects.exists()


def test_what_else_is_wrong_stands_beside_its_field_and_the_code_stays_good(db: None, client: Client) -> None:
    code = code_on_the_screen()
    answer = send(client, code, password="short", again="short")
    assert (answer.status_code, Person.objects.exists()) == (422, False)
    assert "This password is too short" in answer.content.decode()
    assert send(client, code).status_code == 302


def test_no_code_is_shown_once_the_company_stands(cast: Cast) -> None:
    with pytest.raises(CommandError, match="already stands"):
        call_command("founding_code")


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_two_who_found_at_once_leave_one_company(client: Client) -> None:
    code, start, answers = code_on_the_screen(), Barrier(2), []

    def found(email: str) -> None:
        start.wait()
        answers.append(send(Client(), code, email=email).status_code)
        connection.close()

    both = [Thread(target=found, args=(f"{name}@example.com",)) for name in ("ada", "eve")]
    for each in both:
        each.start()
    for each in both:
        each.join()
    first, second = sorted(answers)
    assert first == 302
    assert second in (404, 409, 422)
    assert (Person.objects.count(), Organisation.objects.count()) == (1, 1)


@pytest.mark.sqlite
@pytest.mark.django_db(transaction=True)
def test_the_command_works_as_the_readme_says_it_beside_what_make_serve_left(tmp_path: Path) -> None:
    """With nothing set but the folder: the key is the file that `make serve` made."""
    said = re.search(
        r"^\.venv/bin/python (manage\.py found_company .+)$", (services.ROOT / "README.md").read_text(), re.M
    )
    assert said
    (tmp_path / "secret-key").write_text("k9-" + "Zq7w" * 20)
    ours = {"VAR_DIR": str(tmp_path), "DATABASE_URL": address_of_the_test_database()}
    bare = {name: value for name, value in os.environ.items() if name not in ("SECRET_KEY", "DJANGO_SETTINGS_MODULE")}
    done = subprocess.run(
        ["sh", "-c", f'"$0" {said[1]}', sys.executable], input=f"{PASSWORD}\n", cwd=services.ROOT, env={**bare, **ours},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout == "Example Inspection stands; Ada Example signs in as ada@example.com.\n", done.stderr
