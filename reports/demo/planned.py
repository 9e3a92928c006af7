"""Lines of the demo's inspection and test plans, and how one is approved and comes into force."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from inspection.plan import revisions
from inspection.plan.content import digest_of_revision
from inspection.plan.lines import Letters, LineSent
from inspection.plan.models import PlanRevision
from inspection.plan.queries import lines_of
from inspection.projects import area_table, bulk
from inspection.projects.models import Project
from reports.demo import plot

if TYPE_CHECKING:
    from reports.demo.story import Story


def read_areas(story: Story, project: Project, rows: list[str]) -> None:
    """As the quality manager uploads them: a row an area, under the head of the house's table."""
    table = area_table.read(project, "\n".join([";".join(area_table.COLUMNS), *rows]).encode())
    bulk.store_table(story.person["tove"], project=project, rows=table.wanted(), reason="")


def papers_line() -> LineSent:
    return LineSent(
        number="1", activity="documents", title="Procedures and certificates", scope="project",
        frequency="once, before work", criterion="complete and in date", letters=letters(client="R"),
    )  # fmt: skip


def film_line(number: str, title: str, criterion: str, coat: int, **others: str) -> LineSent:
    return LineSent(
        number=number, activity="thickness", title=title, frequency="every area", criterion=criterion, coat_order=coat,
        requires=[("thickness", 1, None)], letters=letters(**others),
    )  # fmt: skip


def steel_line(number: str, title: str, criterion: str, **others: Any) -> LineSent:
    return LineSent(
        number=number, activity="profile", title=title, frequency="every area", criterion=criterion,
        method="ISO 8501-1, ISO 8503-5", requires=[("profile", 1, None)], letters=letters(**others),
    )  # fmt: skip


def letters(**others: str) -> list[Letters]:
    """A letter for each kind of party named; painters perform and inspectors witness."""
    named = [Letters(kind, letter) for kind, letter in others.items()]
    return [*named, Letters("contractor", "P"), Letters("inspection", "W")]


def approve(story: Story, revision: PlanRevision, *, by: tuple[str, ...]) -> None:
    digest = digest_of_revision(revision, list(lines_of(revision)))
    for key in ("tove", *by):
        revisions.approve(story.person[key], revision=revision, password=plot.PASSWORD, digest=digest)
    revisions.bring_into_force(story.person["tove"], revision=revision)
