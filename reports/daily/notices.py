"""What a report tells of notices: those of the next days and those given that day, as they stood when it ended."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef, Prefetch, Q

from inspection.notices.models import Notice, NoticeParty, NoticeStep
from inspection.notices.queries import DAYS_AHEAD, what_of
from inspection.projects.models import Project
from reports.daily.work_facts import NoticeTold

What = NoticeStep.What
# Of these steps the last says whether anybody is called.
CALLS = (What.GIVEN, What.MOVED, What.RESTORED, What.REOPENED)
CALLS_OFF = (What.WITHDRAWN, What.HELD, What.PARTLY, What.NOT_HELD)


def notices_told(project: Project, begins: datetime, ends: datetime) -> tuple[NoticeTold, ...]:
    """Those given by the day's end for the days after it, and those given that day for whenever, in their order.

    In four reads however many.
    """
    until = ends + timedelta(days=DAYS_AHEAD)
    said = NoticeStep.objects.filter(at__lt=ends)
    of_notice = said.filter(notice=OuterRef("pk"))
    then = of_notice.filter(Q(begins_at__lt=until, ends_at__gt=ends) | Q(what=What.GIVEN, at__gte=begins))
    rows = Notice.objects.filter(Exists(then), project=project).prefetch_related(
        Prefetch("steps", said.order_by("number")),
        Prefetch("parties", NoticeParty.objects.select_related("party__organisation").order_by("pk")),
    )
    ahead, became = [], {}
    for notice in rows:
        step, calls = _stood(notice.steps.all())
        given = any(each.what == What.GIVEN and each.at >= begins for each in notice.steps.all())
        if step and (given or (calls and _times(step)[0] < until and _times(step)[1] > ends)):
            ahead.append((notice, step))
            became[notice.pk] = "" if calls else _became(notice.steps.all())
    what = what_of([notice.pk for notice, _ in ahead])
    return tuple(
        NoticeTold(
            number=notice.number, begins_at=_times(step)[0], ends_at=_times(step)[1], meeting_place=step.meeting_place,
            what=tuple(str(each) for each in what[notice.pk]), given_by=notice.signed_as,
            to=tuple(each.party.organisation.name_at(ends) for each in notice.parties.all()),
            short=step.short_hours is not None and step.short_hours > 0, became=became[notice.pk],
        )
        for notice, step in sorted(ahead, key=lambda pair: (*_times(pair[1]), pair[0].number))
    )  # fmt: skip


def _stood(steps: Iterable[NoticeStep]) -> tuple[NoticeStep | None, bool]:
    """The step that says when and where the notice calls, and whether it called anybody at the end of its steps."""
    says, calls = None, False
    for step in steps:
        says = step if step.begins_at and step.ends_at else says
        calls = step.what in CALLS or (calls and step.what not in CALLS_OFF)
    return says, calls


def _became(steps: Iterable[NoticeStep]) -> str:
    """What became of a notice that calls nobody any more, with why."""
    last = next(step for step in reversed(list(steps)) if step.what in CALLS_OFF)
    return ", ".join(filter(None, (str(last.get_what_display()).lower(), last.get_why_display(), last.reason)))


def _times(step: NoticeStep) -> tuple[datetime, datetime]:
    if step.begins_at is None or step.ends_at is None:
        raise ValueError("a step that says when says both")
    return step.begins_at, step.ends_at
