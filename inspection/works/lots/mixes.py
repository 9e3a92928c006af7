"""The mixes of a lot: what is wrong and doubtful about them, and how they are kept."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from inspection.foundation.refusals import Fault
from inspection.projects.models import Coat, Project
from inspection.works.models import Lot, LotMix, Mix, MixPart
from inspection.works.paint.fitness import fitness
from inspection.works.paint.models import Unit

ALL_THE_SAME = "Do not begin. If it was applied all the same, record the lot with its end."


@dataclass(frozen=True, kw_only=True)
class MixDrawn:
    """A mix and the litres drawn of it and returned, where they are told."""

    mix: Mix
    drawn_l: Decimal | None = None
    returned_l: Decimal | None = None


def mix_faults(
    project: Project, coat: Coat | None, begun_at: datetime, ended_at: datetime | None, mixes: Sequence[MixDrawn]
) -> Iterator[Fault]:
    """What is wrong with them, by row. An unfit batch refuses a beginning; of a lot that ended it is asked about."""
    many = Counter(each.mix.pk for each in mixes)
    for row, each in enumerate(mixes, start=1):
        yield from _one(project, each, row)
        if many[each.mix.pk] > 1:
            yield Fault(f"{each.mix} is named more than once; give it one line.", "mixes", row)
        if coat is None:
            yield Fault("No paint is used on steel that is being cleaned.", "mixes", row)
    if ended_at is None:
        for row, words in unfit(mixes, begun_at):
            yield Fault(f"{words} {ALL_THE_SAME}", "mixes", row)


def _one(project: Project, drawn: MixDrawn, row: int) -> Iterator[Fault]:
    mix = drawn.mix
    if mix.project_id != project.pk:
        yield Fault(f"{mix} is none of {project.code}.", "mixes", row)
    if mix.withdrawn_at:
        yield Fault(f"{mix} is withdrawn; bring it back first, or name another.", "mixes", row)
    for litres in (drawn.drawn_l, drawn.returned_l):
        if litres is not None and not 0 <= litres <= 100_000:
            yield Fault("Give litres from 0 to 100,000.", "mixes", row)
    if drawn.returned_l is not None and drawn.drawn_l is None:
        yield Fault("Say how many litres were drawn.", "mixes", row)
    elif drawn.returned_l is not None and drawn.drawn_l is not None and drawn.returned_l > drawn.drawn_l:
        yield Fault("At most what was drawn can come back.", "mixes", row)


def unfit(mixes: Sequence[MixDrawn], at: datetime) -> list[tuple[int, str]]:
    """What speaks against the batches of the mixes at a moment, with the row of the mix."""
    rows = {each.mix.pk: row for row, each in enumerate(mixes, start=1)}
    parts = MixPart.objects.filter(taken_out_at=None, mix__in=rows).select_related("mix", "batch__project")
    found = []
    for part in parts.prefetch_related("batch__steps").order_by("mix__number"):
        found += [(rows[part.mix_id], f"{part.mix}: {doubt}") for doubt in fitness(part.batch, at).doubts]
    return found


def mix_doubts(
    project: Project, coat: Coat | None, begun_at: datetime, ended_at: datetime | None, mixes: Sequence[MixDrawn],
    *, number: int | None = None,
) -> Iterator[Fault]:  # fmt: skip
    """What is doubtful about them: another coat, induction not over, pot life, too much drawn, an unfit batch in what
    ended. `number` is the lot's own, where it has one already."""
    for row, mix in enumerate((each.mix for each in mixes), start=1):
        if mix.coat_id and coat and mix.coat_id != coat.pk:
            yield Fault(f"{mix} was mixed for another coat than {coat.name}.", "mixes", row)
        last = ended_at or begun_at
        if mix.mixed_at > last or (mix.usable_from and last < mix.usable_from):
            usable = f"{(mix.usable_from or mix.mixed_at).astimezone(project.zone):%Y-%m-%d %H:%M}"
            yield Fault(f"{mix} is usable from {usable}.", "mixes", row)
        if mix.usable_until and last > mix.usable_until:
            until = f"{mix.usable_until.astimezone(project.zone):%Y-%m-%d %H:%M}"
            yield Fault(f"{mix}: its pot life ended {until}, before the lot did.", "mixes", row)
    yield from _overdrawn(mixes, number)
    if ended_at:
        for row, words in unfit(mixes, begun_at):
            yield Fault(words, "mixes", row)


def _overdrawn(mixes: Sequence[MixDrawn], number: int | None) -> Iterator[Fault]:
    """More litres drawn of a mix, over all lots and less what came back, than were mixed with its thinner.

    Nothing is said of a mix whose parts were not all measured in litres.
    """
    told = [(row, each) for row, each in enumerate(mixes, start=1) if each.drawn_l is not None]
    if not told:
        return
    ids = [each.mix.pk for _, each in told]
    mixed: dict[UUID, list[tuple[Decimal | None, str]]] = defaultdict(list)
    for mix, amount, unit in MixPart.objects.filter(taken_out_at=None, mix__in=ids).values_list(
        "mix", "amount", "unit"
    ):
        mixed[mix].append((amount, unit))
    others = LotMix.objects.filter(mix__in=ids, lot__in=Lot.objects.that_count().order_by().values("pk"))
    if number is not None:
        others = others.exclude(lot__number=number)
    used: dict[UUID, Decimal] = defaultdict(Decimal)
    for mix, drawn_l, returned_l in others.values_list("mix", "drawn_l", "returned_l"):
        used[mix] += (drawn_l or 0) - (returned_l or 0)
    for row, each in told:
        parts = mixed[each.mix.pk]
        litres = [amount for amount, unit in parts if unit == Unit.LITRES and amount is not None]
        if not parts or len(litres) < len(parts):
            continue
        made = sum(litres, Decimal()) * (100 + (each.mix.thinner_pct or 0)) / 100
        drawn = used[each.mix.pk] + (each.drawn_l or 0) - (each.returned_l or 0)
        if drawn > made:
            yield Fault(
                f"With this {_litres(drawn)} l are drawn of {each.mix}, of {_litres(made)} l mixed.", "mixes", row
            )


def keep(lot: Lot, mixes: Iterable[MixDrawn]) -> None:
    """Store the mixes of a new lot; of one that has some, the litres told and those that are new."""
    stored = {row.mix_id: row for row in lot.mixes.all()}
    for each in mixes:
        row = stored.get(each.mix.pk)
        if row is None:
            LotMix.objects.create(lot=lot, mix=each.mix, drawn_l=each.drawn_l, returned_l=each.returned_l)
        elif (row.drawn_l, row.returned_l) != (each.drawn_l, each.returned_l):
            row.drawn_l, row.returned_l = each.drawn_l, each.returned_l
            row.save(update_fields=["drawn_l", "returned_l"])


def drawn_of(lot: Lot) -> list[MixDrawn]:
    return [MixDrawn(mix=row.mix, drawn_l=row.drawn_l, returned_l=row.returned_l) for row in lot.mixes.all()]


def told(mixes: Iterable[MixDrawn]) -> list[list[str | None]]:
    """As digests and the journal have them: by number, with litres drawn and returned."""
    rows = sorted(mixes, key=lambda each: each.mix.number)
    return [[str(each.mix.pk), _litres(each.drawn_l), _litres(each.returned_l)] for each in rows]


def _litres(value: Decimal | None) -> str | None:
    return None if value is None else f"{value.normalize():f}"
