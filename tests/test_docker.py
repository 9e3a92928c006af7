"""docker/ without an engine: the files agree with the tree, and their commands run bare, behind Debian's nginx."""

from __future__ import annotations

import os
import re
import secrets
import ssl
import subprocess
import sys
import time
import tomllib
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from http.client import HTTPResponse
from pathlib import Path
from typing import Any
from urllib.error import HTTPError

import psycopg
import pytest
import redis
import yaml
from django.conf import settings

from tests import services
from tests.services import ROOT

DOCKER = ROOT / "docker"
COMPOSE = yaml.safe_load((DOCKER / "compose.yml").read_text(encoding="utf-8"))
OURS = {name: service for name, service in COMPOSE["services"].items() if "build" in service}
ENTRYPOINT = (DOCKER / "entrypoint.sh").read_text(encoding="utf-8")
IMAGE = (DOCKER / "Dockerfile").read_text(encoding="utf-8")


def test_the_site_is_composed_of_its_parts() -> None:
    assert set(OURS) == {"release", "web", "worker", "mail", "beat"}
    assert set(COMPOSE["services"]) - set(OURS) == {"database", "redis", "proxy"}


@pytest.mark.parametrize("name", OURS)
def test_each_part_of_ours_has_its_command_in_the_entrypoint(name: str) -> None:
    (command,) = OURS[name]["command"]
    assert re.search(rf"^{command}\)", ENTRYPOINT, flags=re.MULTILINE)


def test_site_worker_and_scheduler_start_only_on_a_released_database() -> None:
    for name in ("web", "worker", "mail", "beat"):
        assert OURS[name]["depends_on"] == {"release": {"condition": "service_completed_successfully"}}


def test_every_image_is_pinned_to_a_release() -> None:
    images = [service["image"] for service in COMPOSE["services"].values()] + re.findall(r"^FROM (\S+)", IMAGE, re.M)
    assert all(re.fullmatch(r"[a-z]+:\d[\w.-]*", image) for image in images), images


def test_no_secret_is_written_in_compose() -> None:
    text = (DOCKER / "compose.yml").read_text(encoding="utf-8")
    assert not re.search(r"(SECRET_KEY|PASSWORD|DATABASE_URL|REDIS_URL):", text)
    assert set(COMPOSE["secrets"]) == {
        "secret_key", "database_password", "database_url", "site_database_url", "redis_password", "redis_url",
    }  # fmt: skip
    ignored = (ROOT / ".gitignore").read_text(encoding="utf-8").split()
    assert {"docker/secrets/", "docker/tls/", "docker/site.env"} <= set(ignored)


def test_only_the_release_is_given_the_password_of_the_owner() -> None:
    """The others get the site's role, which owns nothing."""
    for name, service in OURS.items():
        owner = "/run/secrets/database_url"
        assert (service["environment"]["DATABASE_URL_FILE"] == owner) == (name == "release")
        assert ("database_url" in service["secrets"]) == (name == "release")
        assert "database_password" not in service["secrets"]


def test_redis_lets_nobody_in_without_its_password(tmp_path: Path) -> None:
    """compose.yml's own command and health check, bare but for paths and the port."""
    (tmp_path / "redis_password").write_text("open sesame?".replace(" ", "-") + "\n")
    service, port = COMPOSE["services"]["redis"], services.free_port()

    def bare(script: str) -> str:
        assert "/run/secrets" in script
        return script.replace("$$", "$").replace("/run/secrets", str(tmp_path))

    *shell, script = service["command"]
    assert shell == ["sh", "-c"]
    script = bare(script).replace("redis-server -", f"redis-server - --port {port} --dir {tmp_path} --bind 127.0.0.1")
    env = {**os.environ, "PATH": f"{Path(services.program('redis-server')).parent}:{os.environ['PATH']}"}
    with services.running(["sh", "-c", script], log=tmp_path / "log", env=env, ready=lambda: services.answers(port)):
        stranger, known = redis.Redis(port=port), redis.Redis(port=port, password="open-sesame?")
        with pytest.raises(redis.AuthenticationError):
            stranger.ping()
        assert known.ping()
        healthy = bare(service["healthcheck"]["test"][1]).replace("redis-cli", f"redis-cli -p {port}")
        assert subprocess.run(["sh", "-c", healthy], env=env, check=False).returncode == 0
        (tmp_path / "redis_password").write_text("wrong\n")
        assert subprocess.run(["sh", "-c", healthy], env=env, check=False, capture_output=True).returncode != 0


def test_the_image_holds_every_package_and_no_root() -> None:
    copied = re.findall(r"^COPY (?!--from)(\S+) ", IMAGE, flags=re.MULTILINE)
    packages = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]
    assert {*packages["root_packages"], "templates", "static", "manage.py", "requirements.lock"} <= set(copied)
    assert all((ROOT / name).exists() for name in copied)
    let_through = {line[1:] for line in (ROOT / ".dockerignore").read_text(encoding="utf-8").split() if line[0] == "!"}
    assert set(copied) == let_through
    assert re.findall(r"^USER (\w+)", IMAGE, flags=re.MULTILINE)[-1] == "stripecoat"


def test_the_settings_it_gives_are_settings() -> None:
    page = (ROOT / "docs" / "operations.md").read_text(encoding="utf-8")
    told = set(re.findall(r"`([A-Z_]+)`", page))
    example = re.findall(r"^([A-Z_]+)=", (DOCKER / "site.env.example").read_text(encoding="utf-8"), re.MULTILINE)
    given = {name.removesuffix("_FILE") for service in OURS.values() for name in service["environment"]}
    in_the_entrypoint = set(re.findall(r"\$\{([A-Z_]+):-", ENTRYPOINT))
    assert {*example, *given, *in_the_entrypoint} <= told


# --- the same commands, bare ----------------------------------------------------------------------------------------
HOST = "records.example.com"


class Site:
    """The composed site's processes on this machine, with production settings."""

    def __init__(self, folder: Path, database_url: str, role: str, started: ExitStack) -> None:
        self.folder, self.started = folder, started
        self.web, self.tls, self.plain = (services.free_port() for _ in range(3))
        server = database_url.split("@")[1]
        site_database_url = f"postgres://{role}:{secrets.token_urlsafe(12)}@{server}"
        secret = {"secret_key": secrets.token_urlsafe(64), "database_url": database_url}
        for name, value in {**secret, "site_database_url": site_database_url}.items():
            (folder / name).write_text(value)
        example = re.findall(r"^([A-Z_]+)=(.*)$", (DOCKER / "site.env.example").read_text("utf-8"), re.MULTILINE)
        bare = {name: value for name, value in os.environ.items() if name not in {"PLAIN_HTTP", "SECRET_KEY"}}
        self.env = {
            **bare,
            **{name: value for name, value in example if name != "EMAIL_URL"},
            "BEHIND_PROXY": "1",
            "DATABASE_URL": "",
            "DATABASE_URL_FILE": str(folder / "site_database_url"),
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
            "REDIS_URL": settings.REDIS_URL,
            "SECRET_KEY_FILE": str(folder / "secret_key"),
            "SWEEP_SECONDS": "1",
            "VAR_DIR": str(folder / "var"),
            "WEB_PORT": str(self.web),
            "WORKER_PROCESSES": "1",
        }
        self.of_the_owner = {
            "DATABASE_URL_FILE": str(folder / "database_url"),
            "SITE_DATABASE_URL_FILE": str(folder / "site_database_url"),
        }

    def once(self, *arguments: str, words: str = "") -> subprocess.CompletedProcess[str]:
        command = ["sh", str(DOCKER / "entrypoint.sh"), *arguments]
        env = self.env | (self.of_the_owner if arguments == ("release",) else {})
        return subprocess.run(command, cwd=ROOT, env=env, input=words, capture_output=True, text=True, check=False)

    def start(self, name: str, ready: Callable[[], bool]) -> subprocess.Popen[bytes]:
        command = ["sh", str(DOCKER / "entrypoint.sh"), name]
        return self.started.enter_context(
            services.running(command, log=self.folder / f"{name}.log", ready=ready, env=self.env)
        )

    def log(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text(errors="replace")

    def start_proxy(self) -> None:
        """docker/proxy.conf as it is, but for the names and ports that only containers have."""
        tls = self.folder / "tls"
        tls.mkdir()
        subprocess.run(
            ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={HOST}",
             "-addext", f"subjectAltName=DNS:{HOST},IP:127.0.0.1",
             "-keyout", tls / "privkey.pem", "-out", tls / "fullchain.pem"],
            check=True, capture_output=True,
        )  # fmt: skip
        conf = (DOCKER / "proxy.conf").read_text(encoding="utf-8")
        for there, here in {
            "/etc/nginx/tls": str(tls),
            "/var/log/nginx": str(self.folder),
            "http://web:8000": f"http://127.0.0.1:{self.web}",
            "listen 443": f"listen 127.0.0.1:{self.tls}",
            "listen 80": f"listen 127.0.0.1:{self.plain}",
        }.items():
            assert there in conf
            conf = conf.replace(there, here)
        temporary = "".join(
            f"{kind}_temp_path {self.folder}/{kind};" for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        )
        user = "user root;" if os.geteuid() == 0 else ""
        (self.folder / "nginx.conf").write_text(
            f"{user} daemon off; pid {self.folder}/nginx.pid; error_log stderr; events {{}}"
            f"http {{ access_log off; {temporary} {conf} }}"
        )
        command = [services.program("nginx"), "-p", str(self.folder), "-c", str(self.folder / "nginx.conf")]
        self.started.enter_context(
            services.running(command, log=self.folder / "nginx.log", ready=lambda: services.answers(self.tls))
        )

    def get(self, path: str, *, secure: bool = True) -> Any:
        trust = ssl.create_default_context(cafile=self.folder / "tls" / "fullchain.pem")
        address = f"https://127.0.0.1:{self.tls}{path}" if secure else f"http://127.0.0.1:{self.plain}{path}"
        request = urllib.request.Request(address, headers={"Host": HOST})
        opener = urllib.request.build_opener(_StayHere, urllib.request.HTTPSHandler(context=trust))
        try:
            return opener.open(request, timeout=30)
        except HTTPError as answer:
            return answer


class _StayHere(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *args: Any, **kwargs: Any) -> None:
        return None


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    """Released onto an empty database of its own, nothing started yet."""
    at = settings.DATABASES["default"]
    server = f"postgres://{at['USER']}@{at['HOST']}:{at['PORT']}"
    name = f"bare_{os.getpid()}"
    with psycopg.connect(f"{server}/postgres", autocommit=True) as admin, ExitStack() as started:
        admin.execute(f"CREATE DATABASE {name}")
        started.callback(admin.execute, f"DROP ROLE IF EXISTS {name}_site")
        started.callback(admin.execute, f"DROP DATABASE {name} WITH (FORCE)")
        yield Site(tmp_path, f"{server}/{name}", f"{name}_site", started)


SECRETS = ("/invitation/s3cret/", "/password/1f-s3cret/", "/calendar/s3cret.ics")


def eventually(holds: Callable[[], bool], within_s: float = 30) -> bool:
    patience = time.monotonic() + within_s
    while time.monotonic() < patience:
        if holds():
            return True
        time.sleep(0.2)
    return False


@pytest.mark.postgresql
@pytest.mark.worker
def test_the_composed_site_runs_bare_behind_its_proxy(site: Site) -> None:
    released = site.once("release")
    assert released.returncode == 0, released.stdout + released.stderr
    deployable = site.once("manage.py", "check", "--deploy", "--fail-level", "WARNING")
    assert deployable.returncode == 0, deployable.stderr
    found = ["manage.py", "found_company", "--company", "Example", "--email", "ada@example.com", "--name", "Ada"]
    assert site.once(*found, words="a long enough passphrase\n").returncode == 0

    site.start("web", lambda: services.answers(site.web))
    site.start_proxy()
    assert site.get("/healthz").status == 200
    assert site.get("/readyz").status == 503  # no worker has been heard of yet

    site.start("worker", lambda: " ready." in site.log("worker"))
    site.start("beat", lambda: "Starting..." in site.log("beat"))
    assert eventually(lambda: site.get("/readyz").status == 200), site.get("/readyz").read()

    page: HTTPResponse = site.get("/")
    assert (page.status, page.headers["Location"]) == (302, "/sign-in/?next=/")
    page = site.get(page.headers["Location"])
    assert page.status == 200
    assert "max-age=31536000" in page.headers["Strict-Transport-Security"]
    assert "unsafe" not in page.headers["Content-Security-Policy"]
    assert "Secure" in page.headers["Set-Cookie"]
    style = re.search(r'href="(/static/css/house\.[0-9a-f]+\.css)"', page.read().decode())
    assert style
    assert site.get(style[1]).headers["Cache-Control"] == "max-age=315360000, public, immutable"

    for address in SECRETS:
        site.get(address)
    assert eventually(lambda: "GET /calendar/[left out]" in site.log("web"))
    assert "s3cret" not in site.log("web")


@pytest.mark.postgresql
@pytest.mark.worker
def test_plain_http_is_sent_to_tls(site: Site) -> None:
    site.start_proxy()
    answer = site.get("/decisions/", secure=False)
    assert (answer.status, answer.headers["Location"]) == (308, f"https://{HOST}/decisions/")
    # Nothing answers behind the proxy, so that its error log has a line as well.
    for address in (*SECRETS, "/decisions/?q=1"):
        site.get(address, secure=False)
        site.get(address)
    assert eventually(lambda: site.log("access").count("/decisions/?q=1") == 2)
    assert site.log("access").count("GET /invitation/[left out]") == 2
    assert "s3cret" not in site.log("access") + site.log("error") + site.log("nginx")
