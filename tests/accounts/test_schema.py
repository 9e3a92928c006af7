"""The committed OpenAPI document is true to the code, valid and complete."""

from __future__ import annotations

from io import StringIO
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import call_command
from django.test import Client

from tests.sight.rows import routes

COMMITTED = Path(__file__).resolve().parents[2] / "docs" / "openapi.yaml"
# Served below /api/, but not part of the API that the document describes.
BESIDE_IT = {"api_schema", "api_problem"}
DOCUMENT: dict[str, Any] = yaml.load(COMMITTED.read_text(), Loader=yaml.CSafeLoader)


def generated() -> str:
    out = StringIO()
    call_command("spectacular", "--validate", "--fail-on-warn", stdout=out)
    return out.getvalue()


@pytest.mark.once
def test_the_schema_is_valid_openapi_3_1_without_warnings_and_the_committed_one_is_up_to_date() -> None:
    assert generated() == COMMITTED.read_text(), (
        "the API has changed: run `python manage.py spectacular --file docs/openapi.yaml` and read the difference"
    )
    assert DOCUMENT["openapi"] == "3.1.0"


def test_every_address_of_the_api_is_described() -> None:
    addresses = {
        "/" + pattern_as_path(route.pattern) for route in routes() if route.api and route.name not in BESIDE_IT
    }
    assert {hidden_names(path) for path in DOCUMENT["paths"]} == {hidden_names(path) for path in addresses}


def pattern_as_path(pattern: str) -> str:
    return pattern.replace("<", "{").replace(">", "}")


def hidden_names(path: str) -> str:
    return "/".join("{}" if part.startswith("{") else part for part in path.split("/"))


def test_the_schema_is_served_without_signing_in(client: Client, db: None) -> None:
    answer = client.get("/api/schema/")
    assert yaml.load(answer.content, Loader=yaml.CSafeLoader) == DOCUMENT
