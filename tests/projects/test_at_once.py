"""Two who issue a revision at the same moment: one stands, the other gets its sentence. Real parallel transactions."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inspection.foundation.ids import new_id
from inspection.foundation.refusals import Conflict
from inspection.plan import revisions
from inspection.plan.models import PlanRevision
from inspection.projects.models import CoatingSystem
from inspection.projects.revisions import SystemSpec, issue_revision
from tests.cast import DAY, PASSWORD, Cast
from tests.holdpoints.test_at_once import at_once, cast  # noqa: F401 - the cast of real transactions
from tests.plan.test_plans import agreed, digest, draft
from tests.projects.test_revisions import thicker

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def test_of_two_revisions_of_a_coating_system_issued_at_once_one_stands(cast: Cast) -> None:  # noqa: F811 - the fixture
    system = cast.site.system

    def issue(nominal_nm: int) -> tuple[CoatingSystem, bool]:
        return issue_revision(
            cast.quinn, id=new_id(), system=system, applies_from=DAY + timedelta(days=1), reason="Thicker",
            coats=thicker(system, nominal_nm=nominal_nm), of_system=SystemSpec.of(system),
        )  # fmt: skip

    ends = at_once(lambda: issue(150_000), lambda: issue(160_000))
    assert len([end for end in ends if isinstance(end, tuple)]) == 1
    (refusal,) = [end for end in ends if isinstance(end, Conflict)]
    assert str(refusal)
    assert CoatingSystem.objects.filter(project=system.project, name=system.name).count() == 2


def test_of_two_revisions_of_a_plan_begun_or_brought_in_at_once_one_stands(cast: Cast) -> None:  # noqa: F811 - the fixture
    plan = agreed(cast, draft(cast)).plan
    ends = at_once(*[lambda: revisions.begin_revision(cast.quinn, plan=plan)] * 2)
    (begun,) = [end for end in ends if isinstance(end, PlanRevision)]
    (refusal,) = [end for end in ends if isinstance(end, Conflict)]
    assert "A draft of this plan is under way" in str(refusal)
    client = list(cast.site.project.parties.filter(kind="client"))
    revisions.ask_approval(cast.quinn, revision=begun, parties=client)
    shown = digest(begun)
    ends = at_once(*[lambda: revisions.approve(cast.clara, revision=begun, password=PASSWORD, digest=shown)] * 2)
    assert len([end for end in ends if isinstance(end, list)]) == 1
    assert ["has approved these lines already" in str(end) for end in ends if isinstance(end, Conflict)] == [True]
    ends = at_once(*[lambda: revisions.bring_into_force(cast.quinn, revision=begun)] * 2)
    assert len([end for end in ends if isinstance(end, PlanRevision)]) == 1
    assert ["only a draft can be changed" in str(end) for end in ends if isinstance(end, Conflict)] == [True]
    assert PlanRevision.objects.filter(plan=plan, state="in_force").count() == 1
