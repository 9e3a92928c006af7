"""The real settings, as a company runs them: checked by Django's own deployment check and by what a browser gets."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client

from tests.cast import Cast

ROOT = Path(__file__).resolve().parents[2]


def run(code: list[str], folder: Path, **more: str) -> subprocess.CompletedProcess[str]:
    """A process of its own with the settings of production and nothing of the tests'."""
    env = {
        "PATH": os.environ["PATH"],
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "SECRET_KEY": "k9-" + "Zq7w" * 20,
        "ALLOWED_HOSTS": "records.example.com",
        "VAR_DIR": str(folder),
        **more,
    }
    return subprocess.run([sys.executable, *code], cwd=ROOT, env=env, capture_output=True, text=True, check=False)


def test_the_deployment_check_finds_nothing_in_production_settings(tmp_path: Path) -> None:
    done = run(["manage.py", "check", "--deploy", "--fail-level", "INFO"], tmp_path)
    assert done.returncode == 0, done.stderr
    assert "no issues (0 silenced)" in done.stdout + done.stderr


@pytest.fixture(scope="module")
def production(tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    names = [
        "DEBUG", "PASSWORD_HASHERS", "SESSION_COOKIE_SECURE", "SESSION_COOKIE_HTTPONLY", "CSRF_COOKIE_SECURE",
        "SESSION_COOKIE_SAMESITE", "CSRF_COOKIE_SAMESITE", "SECURE_HSTS_SECONDS", "SECURE_SSL_REDIRECT",
        "SECURE_PROXY_SSL_HEADER", "ALLAUTH_TRUSTED_PROXY_COUNT", "SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME",
    ]  # fmt: skip
    script = (
        f"import json; from django.conf import settings as s; print(json.dumps({{k: getattr(s, k) for k in {names}}}))"
    )
    done = run(["-c", script], tmp_path_factory.mktemp("production"))
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_passwords_are_kept_by_argon2_alone(production: dict[str, object]) -> None:
    assert production["PASSWORD_HASHERS"] == ["django.contrib.auth.hashers.Argon2PasswordHasher"]


def test_cookies_travel_by_tls_alone_and_scripts_cannot_read_the_session(production: dict[str, object]) -> None:
    flags = ("SESSION_COOKIE_SECURE", "SESSION_COOKIE_HTTPONLY", "CSRF_COOKIE_SECURE", "SECURE_SSL_REDIRECT")
    assert [production[flag] for flag in flags] == [True] * 4
    assert (production["SESSION_COOKIE_SAMESITE"], production["CSRF_COOKIE_SAMESITE"]) == ("Lax", "Lax")
    assert production["SECURE_HSTS_SECONDS"] == 365 * 24 * 3600
    assert production["DEBUG"] is False
    # RFC 6265bis: a browser takes a cookie of such a name from this host alone, by TLS alone, for the whole site.
    assert (production["SESSION_COOKIE_NAME"], production["CSRF_COOKIE_NAME"]) == ("__Host-session", "__Host-csrf")


def test_a_client_cannot_pretend_to_come_through_a_proxy(production: dict[str, object]) -> None:
    assert production["SECURE_PROXY_SSL_HEADER"] is None
    assert production["ALLAUTH_TRUSTED_PROXY_COUNT"] == 0


@pytest.mark.parametrize("missing", ["SECRET_KEY"])
def test_a_missing_secret_stops_the_start_and_says_what_to_write(tmp_path: Path, missing: str) -> None:
    done = run(["manage.py", "check"], tmp_path, **{missing: ""})
    assert done.returncode != 0
    assert f"Set {missing} or {missing}_FILE." in done.stderr


def test_headers_of_every_answer_hold_the_browser_to_this_site(client: Client, db: None) -> None:
    headers = client.get("/sign-in/").headers
    policy = dict(part.strip().split(" ", 1) for part in headers["Content-Security-Policy"].split(";"))
    assert policy == {
        "default-src": "'self'",
        "script-src": "'self'",
        "style-src": "'self'",
        "img-src": "'self' data: blob:",
        "object-src": "'none'",
        "base-uri": "'none'",
        "form-action": "'self'",
        "frame-ancestors": "'none'",
        "worker-src": "'self'",
        "manifest-src": "'self'",
    }
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"


def test_what_one_person_was_shown_is_kept_for_nobody_else(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    for address in ("/me/", "/projects/", "/api/me/"):
        assert client.get(address)["Cache-Control"] == "private, no-store"
    assert "no-store" in client.get("/me/tokens/new/")["Cache-Control"]


def test_error_pages_speak_our_words_and_keep_the_policy(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    client.raise_request_exception = False
    for address, status, words in (
        ("/no/such/page/", 404, "There is nothing here"),
        ("/people/", 403, "You may not do this"),
    ):
        answer = client.get(address)
        assert answer.status_code == status
        assert words in answer.content.decode()
        assert "script-src 'self'" in answer["Content-Security-Policy"]
    csrf = Client(enforce_csrf_checks=True)
    csrf.force_login(cast.ines)
    answer = csrf.post("/me/password/", {})
    assert (answer.status_code, "This form is no longer good" in answer.content.decode()) == (403, True)


def test_a_fault_of_ours_is_a_page_or_a_problem_without_its_insides(
    cast: Cast, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: object, **kwargs: object) -> None:
        raise RuntimeError("the insides")

    monkeypatch.setattr("accounts.queries.live_tokens", fail)
    client.force_login(cast.ines)
    client.raise_request_exception = False
    page, api = client.get("/me/"), client.get("/api/tokens/")
    assert (page.status_code, "Something went wrong here" in page.content.decode()) == (500, True)
    assert "script-src 'self'" in page["Content-Security-Policy"]
    assert (api.status_code, api["Content-Type"]) == (500, "application/problem+json")
    assert b"insides" not in page.content + api.content


def test_a_form_over_the_limit_is_a_page_that_says_so(cast: Cast, client: Client) -> None:
    client.force_login(cast.ines)
    body = "name=" + "x" * (settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 1)
    answer = client.post("/me/tokens/new/", body, "application/x-www-form-urlencoded")
    assert (answer.status_code, "This is too large" in answer.content.decode()) == (413, True)
