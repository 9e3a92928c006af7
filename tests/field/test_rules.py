"""The rules on the phone answer as the core does, in every field, on 100,000 generated cases a rule and more."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspection.fieldwork import judging
from inspection.projects.models import Coat
from tests.field import thickness_cases
from tests.field.comparing import answered, modules

pytestmark = pytest.mark.once
CASES = 10_000


@pytest.fixture(scope="module")
def rules(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return modules(tmp_path_factory.mktemp("field"))


@pytest.mark.parametrize("rule", Coat.Rule.values)
def test_thickness_is_judged_as_the_office_judges_it(rules: Path, monkeypatch: pytest.MonkeyPatch, rule: str) -> None:
    monkeypatch.setattr(judging, "plan_of", thickness_cases.plan_of)
    assert (
        answered(rules, thickness_cases.of_rule(rule, seed=1, count=CASES)) == f"{CASES} cases, 0 answered otherwise\n"
    )
