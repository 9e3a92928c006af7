"""How people of other organisations come to be believed: who may confirm them, and who is told that they wait.

An invitation says that somebody of the inspection company knows an address. That its owner is of the client is for the
client to say, since with their signature work goes on: somebody of the party who is confirmed confirms them. For the
first of a party there is nobody to ask; two of the company then answer for them, who invited and another.
"""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db.models import Q, QuerySet
from django.urls import reverse

from accounts import post
from accounts.models import Organisation, Person
from accounts.models.people import SEES_EVERYTHING


def invited_words(by: Person, at: datetime) -> str:
    return f"invited by {by.name}, {by.organisation}, on {at:%Y-%m-%d}"


def confirmed_words(by: Person, at: datetime) -> str:
    return f"confirmed by {by.name}, {by.organisation}, on {at:%Y-%m-%d}"


def waiting(people: QuerySet[Person]) -> QuerySet[Person]:
    return people.filter(is_active=True, confirmed_at=None)


def known(organisation: Organisation) -> QuerySet[Person]:
    """The confirmed people of an organisation who hold a role now."""
    held = Person.objects.filter(organisation=organisation, is_active=True, grants__ended_at=None)
    return held.exclude(confirmed_at=None).distinct().order_by("name")


def answerable(by: Person) -> QuerySet[Person]:
    """Whose waiting the person sees, to confirm or to turn away: their own colleagues', as manager everybody's."""
    people = waiting(Person.objects.select_related("organisation", "invited_by"))
    if by.sees_every_project:
        return people
    return people.filter(organisation=by.organisation_id) if by.roles else people.none()


def may_confirm(by: Person, person: Person) -> bool:
    """A confirmed colleague of the party, or a manager of the company who did not invite them."""
    if not by.roles or by.pk == person.pk or person.confirmed_at or not person.is_active:
        return False
    if by.organisation_id == person.organisation_id:
        return True
    return by.is_company and by.has_role(*SEES_EVERYTHING) and by.pk != person.invited_by_id


def who_confirms(person: Person) -> str:
    """In words for somebody who waits: a colleague where one is there, and who of the inspection company."""
    company = "a quality manager or administrator of the inspection company who did not invite you"
    if known(person.organisation).exclude(pk=person.pk).exists():
        return f"somebody of {person.organisation} who is here already, or {company}"
    return f"{company}, for nobody of {person.organisation} is here yet who could"


def tell_of_arrival(person: Person, at: datetime) -> None:
    """Write to those who may confirm: the party's known people, and the company's managers but who invited."""
    managers = Person.objects.filter(
        is_active=True, organisation__kind=Organisation.Kind.COMPANY, grants__role__in=SEES_EVERYTHING,
        grants__ended_at=None,
    ).exclude(Q(pk=person.invited_by_id))  # fmt: skip
    asked = {each.pk: each for each in (*known(person.organisation), *managers.distinct())}
    for someone in asked.values():
        page = reverse("people" if someone.is_company else "our_people")
        post.write(
            "to-confirm", f"{person.pk} {at.isoformat()}", to=someone,
            subject=f"{person.name} waits to be confirmed for {person.organisation}",
            body=f"{person.name} <{person.email}> has joined as one of {person.organisation}, {person.admission}.\n\n"
            "They see nothing and can sign nothing until somebody of their organisation confirms them, or, of the "
            "inspection company, somebody else than who invited them.\n\n"
            f"Confirm them or turn them away here:\n{settings.SITE_URL}{page}\n",
        )  # fmt: skip


def tell_of_confirmation(person: Person, by: Person, at: datetime) -> None:
    """Write to the person, and to their known colleagues where it was not one of them who confirmed."""
    about = f"{person.pk} {at.isoformat()}"
    post.write(
        "confirmed", about, to=person, subject=f"You are confirmed for {person.organisation}",
        body=f"{by.name} of {by.organisation} confirmed you.\n\n{settings.SITE_URL}/\n",
    )  # fmt: skip
    if by.organisation_id == person.organisation_id:
        return
    for colleague in known(person.organisation).exclude(pk=person.pk):
        post.write(
            "colleague-confirmed", about, to=colleague,
            subject=f"{person.name} can now see and sign for {person.organisation}",
            body=f"{person.name} <{person.email}> was {person.admission}.\n\nIf they are not of {person.organisation}, "
            f"tell the inspection company at once, so that their access is closed.\n",
        )  # fmt: skip


def signed_by(signed_as: str, admitted: str | None) -> str:
    """Who signed, and how they were admitted, for papers and pages; earlier entries say the name alone."""
    return f"{signed_as} ({admitted})" if admitted else signed_as
