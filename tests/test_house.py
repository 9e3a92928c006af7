"""The house keeps its own rules: dependencies locked, pages safe by construction, one corridor for every change."""

from __future__ import annotations

import ast
import importlib.metadata
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.services import ROOT

PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
ROOMS = PYPROJECT["tool"]["importlinter"]["root_packages"]
TEXT = {".py", ".md", ".html", ".css", ".js", ".sh", ".yml", ".conf", ".toml", ".json", ""}
LOCKS = {"requirements.lock": [], "requirements-dev.lock": ["dev"]}


def read(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def ours(suffix: str) -> list[Path]:
    """The product's own files (no tests), without what makemigrations wrote."""
    places = [ROOT / room for room in ROOMS] + [ROOT / "templates", ROOT / "static"]
    return [path for place in places for path in place.rglob(f"*{suffix}") if "migrations" not in path.parts]


def everything() -> list[Path]:
    """Every file of the project, without what tools and runs leave behind."""
    tops = [
        top
        for top in ROOT.iterdir()
        if top.name not in {"var", "mutants"} and (top.name[0] != "." or ".ci" in top.name)
    ]
    files = [path for top in tops for path in ([top] if top.is_file() else top.rglob("*"))]
    return [path for path in files if path.is_file() and "__pycache__" not in path.parts]


def shown(path: Path) -> str:
    return str(path.relative_to(ROOT))


def places_of(pattern: str, paths: list[Path]) -> list[str]:
    return [
        f"{shown(path)}:{number}"
        for path in paths
        for number, line in enumerate(read(path).splitlines(), start=1)
        if re.search(pattern, line)
    ]


# --- dependencies ---------------------------------------------------------------------------------------------------
def pinned(lock: str) -> dict[str, str]:
    return dict(re.findall(r"^([a-z0-9][\w.-]*)(?:\[[^\]]*\])?==(\S+)", read(ROOT / lock), flags=re.MULTILINE))


@pytest.mark.parametrize("lock", LOCKS)
def test_every_dependency_is_locked_within_its_range(lock: str) -> None:
    extras = PYPROJECT["project"]["optional-dependencies"]
    wanted = PYPROJECT["project"]["dependencies"] + [line for extra in LOCKS[lock] for line in extras[extra]]
    locked = pinned(lock)
    for requirement in map(Requirement, wanted):
        assert requirement.specifier.contains(locked[canonicalize_name(requirement.name)]), str(requirement)


@pytest.mark.parametrize("lock", LOCKS)
def test_every_locked_package_has_its_hashes(lock: str) -> None:
    entries = re.split(r"\n(?=\S)", read(ROOT / lock).strip())
    assert len(entries) == len(pinned(lock))
    assert all("--hash=sha256:" in entry for entry in entries)


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_address(lock: str) -> None:
    assert not re.search(r"://|--\S*(index|find-links|trusted-host)", read(ROOT / lock))


def test_developing_runs_on_the_very_releases_that_run() -> None:
    runtime, development = map(pinned, LOCKS)
    assert runtime.items() <= development.items()


def test_no_file_names_the_host_of_a_package_registry() -> None:
    # Put together here, so that this file does not name them either.
    hosts = [f"{name}.{top}" for name, top in (("pypi", "org"), ("pythonhosted", "org"), ("npmjs", "org"))]
    assert [shown(path) for path in everything() if any(host.encode() in path.read_bytes() for host in hosts)] == []


# --- safe by construction -------------------------------------------------------------------------------------------
@pytest.mark.parametrize("shortcut", ["csrf_exempt", "mark_safe", r"SafeString\(", r"\.raw\(", r"\.extra\("])
def test_no_shortcut_around_the_guards_is_taken(shortcut: str) -> None:
    assert places_of(shortcut, ours(".py")) == []


@pytest.mark.parametrize(
    ("what", "pattern"),
    [
        ("unescaped text", r"\|\s*safe\b|autoescape off"),
        ("inline style", r"\sstyle\s*=|<style"),
        ("inline script", r"<script(?![^>]*\ssrc=)|\son[a-z]+\s*=|javascript:|\shx-on"),
        ("address of another site's code", r"<(script|link)[^>]+(src|href)=\"https?:"),
    ],
)
def test_templates_hold_nothing_that_the_content_policy_forbids(what: str, pattern: str) -> None:
    tag = re.compile(r"\{%.*?%\}|\{\{.*?\}\}")
    found = [
        f"{shown(path)}:{number}"
        for path in ours(".html")
        for number, line in enumerate(read(path).splitlines(), start=1)
        if re.search(pattern, line if what == "unescaped text" else tag.sub("", line))
    ]
    assert found == [], what


CHANGES = re.compile(
    r"\.(save|delete|create|bulk_create|bulk_update|get_or_create|update_or_create|aupdate|acreate)\("
    r"|objects[^\n=]*\.update\("
)
TRANSLATORS = {"views", "api", "serializers", "forms", "tasks", "queries", "urls", "api_urls"}


def test_nothing_changes_a_row_but_an_action() -> None:
    """Views, serializers, forms, tasks and queries translate and read; what they change goes through an action."""
    translators = [path for path in ours(".py") if TRANSLATORS & {path.stem, *path.relative_to(ROOT).parts[:-1]}]
    assert len(translators) > 10
    assert places_of(CHANGES.pattern, translators) == []


# --- legible --------------------------------------------------------------------------------------------------------
def test_no_line_of_a_template_outgrows_its_reader() -> None:
    templates = ours(".html")
    assert len(templates) > 100
    assert places_of("^.{161}", templates) == []


def test_no_line_of_a_script_outgrows_its_reader() -> None:
    assert places_of("^.{121}", ours(".js")) == []


@pytest.mark.parametrize(("suffix", "limit"), [(".py", 500), (".html", 200), (".js", 500), (".css", 700)])
def test_no_file_outgrows_its_reader(suffix: str, limit: int) -> None:
    lengths = {shown(path): len(read(path).splitlines()) for path in ours(suffix)}
    assert {path: length for path, length in lengths.items() if length > limit} == {}


def bodies() -> Iterator[tuple[str, int]]:
    """Each function and the lines of its body, without its docstring."""
    for path in ours(".py"):
        for node in ast.walk(ast.parse(read(path))):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                if body:
                    yield f"{shown(path)}:{node.lineno} {node.name}", (body[-1].end_lineno or 0) - body[0].lineno + 1


def test_no_function_outgrows_its_reader() -> None:
    assert {name: length for name, length in bodies() if length > 50} == {}


def test_no_file_speaks_of_the_machine_it_was_written_on() -> None:
    # Put together here for the same reason as the hosts above.
    places = [path for path in everything() if path.suffix in TEXT]
    assert places_of("|".join(("/work" + "/main", "/home" + "/", r"\.\./" + "shared")), places) == []
    assert (
        places_of(r"\b(TODO|FIXME|XXX|lorem ipsum)" + r"\b", [path for path in places if path != Path(__file__)]) == []
    )


# --- documents ------------------------------------------------------------------------------------------------------
DOCUMENTS = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")])


@pytest.mark.parametrize("document", DOCUMENTS, ids=shown)
def test_every_link_in_a_document_leads_somewhere(document: Path) -> None:
    links = re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", read(document))
    missing = [link for link in links if "://" not in link and not (document.parent / link).exists()]
    assert missing == []


def test_every_document_is_reached_from_the_index() -> None:
    found, waiting = set(), {ROOT / "docs" / "index.md"}
    while waiting:
        found |= waiting
        links = {
            (path.parent / link).resolve() for path in waiting for link in re.findall(r"\]\(([^)#\s]+\.md)", read(path))
        }
        waiting = links - found
    assert {shown(path) for path in set(DOCUMENTS) - found} == set()


def test_every_dependency_earns_its_place_in_a_sentence() -> None:
    page = read(ROOT / "docs" / "decisions" / "dependencies.md")
    told = set(re.findall(r"^\| ([a-z0-9-]+) \| \S+ \S+ .*\|$", page, flags=re.MULTILINE)) - {"package"}
    assert told == {Requirement(line).name for line in PYPROJECT["project"]["dependencies"]}


@pytest.mark.parametrize("document", DOCUMENTS, ids=shown)
def test_every_command_in_a_document_exists(document: Path) -> None:
    targets = set(re.findall(r"^([a-z]+):", read(ROOT / "Makefile"), flags=re.MULTILINE))
    commands = {path.stem for path in ROOT.glob("*/management/commands/*.py")}
    commands |= {path.stem for path in ROOT.glob("*/*/management/commands/*.py")}
    django = {"migrate", "makemigrations", "collectstatic", "check", "shell", "spectacular"}
    text = read(document)
    code = "\n".join(re.findall(r"```.*?```", text, re.DOTALL) + re.findall(r"`make [^`]*`", text))
    assert set(re.findall(r"\bmake ([a-z]+)", code)) <= targets
    assert set(re.findall(r"manage\.py ([a-z_]+)", text)) <= commands | django
    for module in re.findall(r"python -m ([a-z_.]+)", text):
        path = ROOT / module.replace(".", "/")
        assert path.with_suffix(".py").exists() or (path / "__main__.py").exists() or module == "pytest", module


def test_every_imported_package_is_a_declared_dependency() -> None:
    """What only happens to be installed here would be missing on a fresh machine."""
    providers = importlib.metadata.packages_distributions()
    declared = {canonicalize_name(Requirement(line).name) for line in PYPROJECT["project"]["dependencies"]}
    ours = {"accounts", "config", "inspection", "reports", "tests"}
    imported: set[str] = set()
    for room in ("accounts", "config", "inspection", "reports"):
        for path in (ROOT / room).rglob("*.py"):
            for node in ast.walk(ast.parse(read(path))):
                if isinstance(node, ast.Import):
                    imported |= {alias.name.partition(".")[0] for alias in node.names}
                elif isinstance(node, ast.ImportFrom) and not node.level:
                    imported.add(str(node.module).partition(".")[0])
    outside = imported - set(sys.stdlib_module_names) - ours
    undeclared = {
        name for name in outside if not declared & {canonicalize_name(each) for each in providers.get(name, [name])}
    }
    assert not undeclared


# --- rules that are passed over ---------------------------------------------------------------------------------------
ESCAPE = re.compile(r"#\s*(noqa|type:\s*ignore|nosec|pragma:\s*no cover)")
WITH_REASON = re.compile(
    r"#\snoqa: [A-Z0-9, ]+ - \S|#\stype: ignore\[[a-z, -]+\]  # \S|#\snosec [A-Z0-9, ]+ - \S|#\spragma: no cover - \S"
)


def test_whoever_passes_over_a_rule_says_beside_it_which_and_why() -> None:
    paths = [path for path in everything() if path.suffix == ".py" and "migrations" not in path.parts]
    found = [
        f"{shown(path)}:{number}"
        for path in paths
        for number, line in enumerate(read(path).splitlines(), start=1)
        if ESCAPE.search(line) and not WITH_REASON.search(line)
    ]
    assert paths
    assert found == []
