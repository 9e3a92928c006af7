"""What waits for a person: the points on which a word of the parties they act for is still to be said."""

from __future__ import annotations

from typing import Any

from django.db.models import Case, Exists, IntegerField, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import Coalesce

from accounts.models import Person, Role
from inspection.holdpoints.ground import LYING, MOST_LISTED, PLACES
from inspection.holdpoints.models import Decision, HoldPoint
from inspection.holdpoints.outcomes import NOTED, SAID
from inspection.holdpoints.party_letters import has_letter
from inspection.plan.models import Meaning
from inspection.projects.models import Membership, Party, Project
from inspection.projects.queries import acting_for

Kind, Lies, State = HoldPoint.Kind, HoldPoint.Lies, HoldPoint.State
# What the list can be narrowed to, by the names and in the words of the board, in the order in which it comes.
STATES: dict[str, tuple[str, Q]] = {
    name: (PLACES[name], Q(lies=LYING[name], passed_over_at=None))
    for name in ("doubt", "passed_over", "ready", "notified", "passed", "unready")
}
STATES["doubt"] = (PLACES["doubt"], Q(lies=Lies.DOUBT))
STATES["passed_over"] = (PLACES["passed_over"], ~Q(lies=Lies.DOUBT) & Q(passed_over_at__isnull=False))
LETTERS = {Meaning.HOLD: "Points that wait for your word", Meaning.WITNESS: "Points that you are asked to witness"}


def awaited(person: Person, letter: str = Meaning.HOLD, projects: QuerySet[Project] | None = None) -> QuerySet[Any]:
    """The points that wait for the person, of areas in use: by the letters of the parties they act for, or by hand.

    Those held wait until the party has said its word, and again where a release of theirs is in doubt; those to be
    witnessed until it is noted whether the party attended.
    """
    seen = Project.objects.visible_to(person) if projects is None else projects
    points: QuerySet[Any] = HoldPoint.objects.visible_to(person).filter(project__in=seen, area__retired_at=None)
    parties = acting_for(person).filter(project=OuterRef("project"))
    if letter == Meaning.WITNESS:
        noted = _last_word(*NOTED)
        asked = Q(Exists(parties.filter(has_letter(Meaning.WITNESS)).exclude(Exists(noted))), state=State.WAITING)
        return points.filter(asked | _by_hand(person, Kind.WITNESS))
    held = parties.filter(has_letter(Meaning.HOLD))
    planned = Q(Exists(held.exclude(Exists(_last_word(*SAID)))), state=State.WAITING)
    doubted = Q(Exists(held.filter(Exists(_last_word(Decision.Outcome.RELEASED)))), lies=Lies.DOUBT)
    return points.filter(planned | doubted | _by_hand(person, Kind.HOLD))


def _by_hand(person: Person, kind: str) -> Q:
    """Points planned by hand, which the client's people decide, and those to be witnessed a quality manager too."""
    theirs = Membership.objects.in_force().filter(person=person, role=Role.CLIENT).values("project")
    may = Q(project__in=theirs) if person.has_role(Role.CLIENT) else Q(pk__in=[])
    if kind == Kind.WITNESS and person.has_role(Role.QUALITY_MANAGER):
        may = Q()
    return may & Q(line=None, kind=kind) & (Q(state=State.WAITING) | Q(lies=Lies.DOUBT))


def _last_word(*outcomes: str) -> QuerySet[Decision]:
    """Of a party within a query of points: what it said at the outer point and did not take back; `said_by` in SQL."""
    anew = Q(outcome__in=(Decision.Outcome.PRESENTED, Decision.Outcome.CLOSED))
    its_own = Q(outcome=Decision.Outcome.WITHDRAWN, party=OuterRef("party"))
    since = Decision.objects.filter(anew | its_own, point=OuterRef("point")).order_by("-number").values("number")[:1]
    return Decision.objects.filter(
        point=OuterRef(OuterRef("pk")), party=OuterRef("pk"), outcome__in=outcomes,
        number__gt=Coalesce(Subquery(since), 0),
    )  # fmt: skip


def counted(points: QuerySet[HoldPoint]) -> dict[str, int]:
    """How many of the points are in each state, to `MOST_LISTED` and one; those not ready not at all."""
    wanted = {name: points.filter(is_so).order_by() for name, (_, is_so) in STATES.items() if name != "unready"}
    return {name: found[: MOST_LISTED + 1].count() for name, found in wanted.items()}


def in_order(points: QuerySet[HoldPoint], state: str = "") -> QuerySet[Any]:
    """Those of a state, or all that want somebody now: in doubt first, then passed over, then by project and area."""
    now = ~Q(lies=Lies.UNREADY) | Q(passed_over_at__isnull=False)
    rank = Case(
        *(When(is_so, then=Value(place)) for place, (_, is_so) in enumerate(STATES.values())),
        default=Value(len(STATES)), output_field=IntegerField(),
    )  # fmt: skip
    found: QuerySet[Any] = points.filter(STATES[state][1] if state else now).annotate(rank=rank)
    return found.order_by("rank", "project__code", "area__code", "coat__order", "kind", "pk")


def acting_words(person: Person) -> list[str]:
    """The parties that the person acts for, each once."""
    names = acting_for(person).order_by("kind", "organisation__name").values_list("kind", "organisation__name")
    return list(dict.fromkeys(f"{name} ({Party.Kind(kind).label.lower()})" for kind, name in names))
