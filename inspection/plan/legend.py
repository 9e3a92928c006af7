"""The letters of a project, or of the company: what each means, in the contract's own word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from accounts import journal
from accounts.models import Organisation, Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Fault, Refused
from inspection.plan.models import Intervention, LegendLetter, Meaning, PlanRevision
from inspection.projects.models import Project
from inspection.projects.preconditions import in_sight, row_faults

MOST_LETTERS = 12


@dataclass(frozen=True)
class Letter:
    letter: str
    meaning: str
    word: str

    @property
    def asks(self) -> str:
        """What the letter asks of a party, without the usual word for it."""
        return str(Meaning(self.meaning).label).partition(": ")[2]


DEFAULTS = (
    Letter("H", Meaning.HOLD, "Hold"),
    Letter("W", Meaning.WITNESS, "Witness"),
    Letter("R", Meaning.REVIEW, "Review"),
    Letter("M", Meaning.MONITOR, "Monitor"),
    Letter("P", Meaning.PERFORM, "Perform"),
)
"""Common practice, no source; letters vary by contract, so each project may declare its own."""


def legend_of(project: Project | None) -> list[Letter]:
    """The project's letters; where it has none of its own, the company's; where that has none, the usual ones."""
    of = LegendLetter.objects.filter(project=project)
    own = list(of) or (list(LegendLetter.objects.filter(project=None)) if project else [])
    return [Letter(row.letter, row.meaning, row.word) for row in own] or list(DEFAULTS)


@transaction.atomic
def put_legend(by: Person, *, project: Project | None, letters: Sequence[Letter]) -> None:
    """Put all letters of the project, or of the company. A letter that lines bear already keeps its meaning."""
    if project:
        in_sight(by, project)
    require(by, Role.QUALITY_MANAGER, to="change the legend")
    if project:
        Project.objects.select_for_update().get(pk=project.pk)
    rows = [LegendLetter(project=project, letter=row.letter.strip(), meaning=row.meaning, word=row.word.strip())
            for row in letters]  # fmt: skip
    if faults := _faults(rows) or _borne_otherwise(project, rows):
        raise Refused(faults)
    before = {row.letter: [row.meaning, row.word] for row in legend_of(project)}
    LegendLetter.objects.filter(project=project).delete()
    LegendLetter.objects.bulk_create(rows)
    after = {row.letter: [row.meaning, row.word] for row in rows}
    about = project or Organisation.objects.get(pk=by.organisation_id)
    journal.record(
        "legend.changed", about, by=by, project_id=project.pk if project else None, before=before, after=after
    )


def _faults(rows: Sequence[LegendLetter]) -> list[Fault]:
    if not 0 < len(rows) <= MOST_LETTERS:
        return [Fault(f"A legend has 1 to {MOST_LETTERS} letters.")]
    faults = [fault for number, row in enumerate(rows, start=1) for fault in row_faults(row, row=number)]
    seen: set[str] = set()
    for number, row in enumerate(rows, start=1):
        if row.letter.casefold() in seen:
            faults.append(Fault(f"{row.letter} is there twice; give each letter one meaning.", "letter", number))
        seen.add(row.letter.casefold())
    return faults


def _borne_otherwise(project: Project | None, rows: Sequence[LegendLetter]) -> list[Fault]:
    """The letters that lines bear and that would be gone, or mean something else."""
    meant = {row.letter: row.meaning for row in rows}
    borne = Intervention.objects.filter(line__revision__plan__project=project).exclude(
        line__revision__state=PlanRevision.State.DISCARDED
    )
    return [
        Fault(f"Lines of the plan bear {letter} as {Meaning(meaning).name.lower()}; keep it so, whatever its word.")
        for letter, meaning in borne.values_list("letter", "meaning").distinct().order_by("letter", "meaning")
        if meant.get(letter) != meaning
    ]
