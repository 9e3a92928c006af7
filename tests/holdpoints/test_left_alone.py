"""Points that wait for a party of which nobody takes part are told to whoever manages the project, party by party."""

from __future__ import annotations

from inspection.holdpoints import actions
from inspection.holdpoints.leaving import without_anybody_to_decide
from inspection.projects.models import Membership, Project
from tests.cast import Cast
from tests.holdpoints.planned import a_line, an_owner, plan_of


def test_each_party_without_anybody_is_named_and_no_other(cast: Cast) -> None:
    olga = an_owner(cast)
    plan = plan_of(cast)
    a_line(plan, "1", letters={"owner": "hold", "client": "witness", "inspection": "hold"})
    assert without_anybody_to_decide(Project.objects.all()) == []
    actions.apply_plan(cast.quinn, project=cast.site.project, areas=[cast.site.area])
    assert without_anybody_to_decide(Project.objects.all()) == []
    Membership.objects.filter(person__in=(olga, cast.clara, cast.ines)).delete()
    assert without_anybody_to_decide(Project.objects.all()) == [(cast.site.project, ["Far Shipping"])]
