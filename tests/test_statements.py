"""SQL by hand names tables, columns and states as the models do: a name typed a second time goes stale unseen."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.core.exceptions import FieldDoesNotExist

from accounts.models import Person
from inspection.foundation.statement import column, looked_up, over_tables
from inspection.instruments.models import Certificate
from tests.services import ROOT
from tests.test_house import ours

pytestmark = pytest.mark.once
OURS = [model for model in apps.get_models() if model.__module__.split(".")[0] in ("accounts", "inspection", "reports")]
TABLES = {model._meta.db_table for model in OURS}
FIELDS = [field for model in OURS for field in model._meta.concrete_fields]
# One word alone may be any word of a sentence; two joined by a line are a name.
COLUMNS = {name for field in FIELDS if "_" in (name := str(field.column))}
STATES = {str(value) for field in FIELDS for value, _ in field.flatchoices or ()}
SQL = re.compile(
    r"\b(SELECT\b.*\bFROM|SELECT DISTINCT|INSERT INTO|UPDATE \S+ SET|DELETE FROM|TRUNCATE|JOIN \S+ \w+|WHERE \S+|"
    r"ORDER BY|GROUP BY)\b", re.DOTALL,
)  # fmt: skip
COMPARED = re.compile(r"(?:=|<>|!=|\bIN \()\s*'(\w+)'")


def typed_by_hand(source: str, *, columns: bool = True) -> Iterator[str]:
    """Each name of ours that a statement in the source spells itself."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and SQL.search(node.value):
            # What {name} and {name.field} stand for comes from the models.
            words = set(re.findall(r"\w+", re.sub(r"\{[^{}]*\}", " ", node.value)))
            yield from sorted(words & (TABLES | COLUMNS if columns else TABLES))
            yield from sorted(STATES & set(COMPARED.findall(node.value)))


def test_no_statement_of_the_product_spells_a_name_of_ours() -> None:
    found = {
        str(path.relative_to(ROOT)): names
        for path in ours(".py")
        if (names := list(typed_by_hand(path.read_text(encoding="utf-8"))))
    }
    assert not found


def test_nor_does_a_bench_spell_a_table_or_a_state() -> None:
    for path in Path(ROOT / "tests" / "bench").glob("*.py"):
        assert not list(typed_by_hand(path.read_text(encoding="utf-8"), columns=False)), path.name


@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("SELECT id FROM instruments_certificate", ["instruments_certificate"]),
        ("SELECT known.parent_id FROM set_certificate known", ["parent_id"]),
        ("SELECT id FROM {standing} WHERE state <> 'in_question'", ["in_question"]),
        ("DELETE FROM accounts_person", ["accounts_person"]),
        ("SELECT {record.project}, count(*) FROM set_record GROUP BY {record.project}", []),
        ("The certificate's parent_id names its parent", []),
    ],
)
def test_a_name_spelled_by_hand_is_seen(statement: str, named: list[str]) -> None:
    assert list(typed_by_hand(f"sql = {statement!r}")) == named


def test_names_come_from_the_models_quoted() -> None:
    assert column(Certificate, "parent") == '"parent_id"'
    assert over_tables("SELECT {paper.pk}, {paper.parent} FROM {paper}", paper=Certificate) == (
        'SELECT "id", "parent_id" FROM "instruments_certificate"'
    )
    assert 'JOIN "accounts_person" looked_up ON looked_up."id" = known.id' in looked_up("who", Person, ["email"])
    with pytest.raises(FieldDoesNotExist):
        over_tables("SELECT {paper.parents} FROM {paper}", paper=Certificate)
