"""Every change to people, organisations, roles and tokens."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from accounts import admission, factors, founding, journal, post
from accounts.guessing import confirm_password
from accounts.models import ApiToken, Invitation, Organisation, Person, Role, RoleGrant
from accounts.queries import company_name, live_tokens
from accounts.rights import require
from accounts.signals import access_ended, keys_ended
from inspection.foundation.refusals import Conflict, Fault, NotAllowed, Refused
from inspection.foundation.text import email_address, line

INVITATION_LASTS = timedelta(days=7)
ALREADY_STANDS = "The company already stands; an administrator invites people from the people page."
TOKENS_A_PERSON = 20
TOKEN_MOST_DAYS = 366
# Roles that only people of these kinds of organisation can hold.
KINDS_FOR = {
    Role.INSPECTOR: {Organisation.Kind.COMPANY},
    Role.QUALITY_MANAGER: {Organisation.Kind.COMPANY},
    Role.ADMINISTRATOR: {Organisation.Kind.COMPANY},
    Role.CLIENT: {Organisation.Kind.CLIENT},
    Role.CONTRACTOR: {Organisation.Kind.CONTRACTOR},
    Role.AUDITOR: {Organisation.Kind.AUDITOR, Organisation.Kind.COMPANY},
}
# What only an administrator gives or ends; a quality manager manages the other roles too.
HIGH_ROLES = {Role.ADMINISTRATOR, Role.QUALITY_MANAGER}


# --- organisations and the first person -------------------------------------------------------------------------------


@transaction.atomic
def found_company(*, company: str, email: str, name: str, password: str) -> Person:
    """The inspection company and its first administrator. Raises Conflict once anybody exists."""
    if not founding.may_be_founded():
        raise Conflict(ALREADY_STANDS)
    try:
        # The database keeps a second company out, should two be founded at the same moment.
        with transaction.atomic():
            organisation = Organisation.objects.create(
                name=line(company, field="company", most=120), kind=Organisation.Kind.COMPANY
            )
    except IntegrityError:
        raise Conflict(ALREADY_STANDS) from None
    founder = Person(
        email=email_address(email), name=line(name, field="name", most=120), organisation=organisation,
        confirmed_at=timezone.now(), admission=f"founded the company on {timezone.now():%Y-%m-%d}",
    )  # fmt: skip
    _set_password(founder, password)
    founder.save()
    RoleGrant.objects.create(person=founder, role=Role.ADMINISTRATOR)
    journal.record("company.founded", organisation, by=founder, after={"name": organisation.name})
    journal.record("person.joined", founder, by=founder, after={"roles": [Role.ADMINISTRATOR]})
    return founder


@transaction.atomic
def found_with_code(*, code: str, company: str, email: str, name: str, password: str) -> Person:
    """As `found_company`, for somebody at a page: the code shows that they run the machine. It is good once."""
    founding.check_code(code)
    founder = found_company(company=company, email=email, name=name, password=password)
    transaction.on_commit(founding.forget_code)
    return founder


@transaction.atomic
def add_organisation(by: Person, *, name: str, kind: str) -> Organisation:
    """A client, contractor or audit body. There is one inspection company, and it stands already."""
    require(by, Role.ADMINISTRATOR, Role.QUALITY_MANAGER, to="add organisations")
    name = line(name, field="name", most=120)
    kind = _choice(kind, Organisation.Kind, field="kind")
    if kind == Organisation.Kind.COMPANY:
        raise Refused(
            "One inspection company runs this site; add a client, a contractor or an audit body.", field="kind"
        )
    if Organisation.objects.filter(name__iexact=name).exists():
        raise Refused(f"There is already an organisation called {name}.", field="name")
    try:
        with transaction.atomic():
            organisation = Organisation.objects.create(name=name, kind=kind)
    except IntegrityError:
        raise Conflict(f"Somebody has just added {name}.") from None
    journal.record("organisation.added", organisation, by=by, after={"name": name, "kind": kind})
    return organisation


@transaction.atomic
def rename(by: Person, *, whom: Person | Organisation, name: str, reason: str, at: datetime | None = None) -> None:
    """Give a person or an organisation another name from now; what was recorded keeps the one of its time."""
    require(by, Role.ADMINISTRATOR, Role.QUALITY_MANAGER, to="rename people and organisations")
    at = at or timezone.now()
    name, reason = line(name, field="name", most=120), line(reason, field="reason", most=1_000)
    locked = type(whom)._default_manager.select_for_update(of=("self",)).get(pk=whom.pk)
    if name == locked.name:
        raise Refused("That is the name already.", field="name")
    taken = Organisation.objects.filter(name__iexact=name).exclude(pk=locked.pk)
    if isinstance(locked, Organisation) and taken.exists():
        raise Refused(f"There is already an organisation called {name}.", field="name")
    before, locked.name = locked.name, name
    locked.former_names = [*locked.former_names, {"name": before, "until": at.isoformat()}]
    locked.save(update_fields=["name", "former_names"])
    verb = "organisation.renamed" if isinstance(locked, Organisation) else "person.renamed"
    journal.record(verb, locked, by=by, before={"name": before}, after={"name": name}, reason=reason, at=at)


# --- invitations ------------------------------------------------------------------------------------------------------


@transaction.atomic
def invite(
    by: Person, *, email: str, name: str, organisation: Organisation, role: str, at: datetime | None = None
) -> tuple[Invitation, str]:
    """Mail somebody a link that is good once, for seven days. An open one to the same address is withdrawn."""
    at = at or timezone.now()
    role = _role(by, role, to="invite people")
    email, name = email_address(email), line(name, field="name", most=120)
    _suits(role, organisation)
    if Person.objects.filter(email__iexact=email, is_active=True).exists():
        raise Refused(f"{email} already has a place here; give them the role on the people page.", field="email")
    for earlier in Invitation.objects.filter(email=email, accepted_at=None, withdrawn_at=None, expires_at__gt=at):
        withdraw_invitation(by, invitation=earlier, at=at)
    token = secrets.token_urlsafe(32)
    invitation = Invitation.objects.create(
        email=email,
        name=name,
        organisation=organisation,
        role=role,
        token_digest=_digest(token),
        invited_by=by,
        invited_at=at,
        expires_at=at + INVITATION_LASTS,
    )
    post.write(
        "invitation",
        str(invitation.pk),
        to=email,
        subject=f"{by.name} invites you to the coating records of {company_name()}",
        body=_invitation_letter(invitation, token),
    )
    journal.record(
        "person.invited", invitation, by=by, after={"email": email, "organisation": organisation, "role": role}
    )
    return invitation, token


def _invitation_letter(invitation: Invitation, token: str) -> str:
    address = settings.SITE_URL + reverse("accept_invitation", args=[token])
    return (
        f"{invitation.name},\n\n"
        f"{invitation.invited_by.name} ({invitation.invited_by.organisation}) invites you as "
        f"{Role(invitation.role).label.lower()} of {invitation.organisation}.\n\n"
        f"Choose your password here; the link is good once, until {invitation.expires_at:%Y-%m-%d %H:%M} UTC:\n"
        f"{address}\n\n"
        "If you did not expect this, do nothing.\n"
    )


@transaction.atomic
def withdraw_invitation(by: Person, *, invitation: Invitation, at: datetime | None = None) -> None:
    """Make the link worthless. Raises Conflict when it has been used or withdrawn already."""
    _role(by, invitation.role, to="withdraw invitations")
    open_one = Invitation.objects.filter(pk=invitation.pk, accepted_at=None, withdrawn_at=None)
    if not open_one.update(withdrawn_at=at or timezone.now()):
        raise Conflict("This invitation is no longer open; it was accepted or withdrawn meanwhile.")
    journal.record("invitation.withdrawn", invitation, by=by, before={"email": invitation.email})


@transaction.atomic
def accept_invitation(*, token: str, password: str, at: datetime | None = None) -> Person:
    """The invited person with the password they chose and the role they were invited to, which holds once they are
    confirmed; the company's own people are at once.

    Raises Conflict when the link is unknown, used, withdrawn or too old; somebody who had left comes back by it.
    """
    at = at or timezone.now()
    invitation = Invitation.objects.select_for_update().filter(token_digest=_digest(token)).first()
    if invitation is None or not invitation.is_open(at):
        raise Conflict("This invitation is no longer good. Ask the person who sent it for a new one.")
    former = Person.objects.filter(email__iexact=invitation.email, is_active=False).first()
    if former:
        _start_anew(former, invitation, at)
    person = former or Person(email=invitation.email)
    person.name, person.organisation, person.is_active = invitation.name, invitation.organisation, True
    person.invited_by, person.confirmed_by = invitation.invited_by, None
    # The company answers for its own people by inviting them.
    person.confirmed_at = at if person.is_company else None
    person.admission = admission.invited_words(invitation.invited_by, invitation.invited_at)
    _set_password(person, password)
    try:
        with transaction.atomic():
            person.save()
    except IntegrityError:
        raise Conflict(f"{invitation.email} already has a place here; sign in instead.") from None
    RoleGrant.objects.create(person=person, role=invitation.role, begun_at=at)
    Invitation.objects.filter(pk=invitation.pk).update(accepted_at=at)
    journal.record(
        "person.joined",
        person,
        by=person,
        after={"organisation": person.organisation, "roles": [invitation.role], "invitation": invitation},
    )
    if person.waits:
        admission.tell_of_arrival(person, at)
    return person


def _start_anew(person: Person, invitation: Invitation, at: datetime) -> None:
    """What somebody had here before they left does not come back with them; it is given again, by those who may."""
    _end_access(invitation.invited_by, person, at)
    if person.name != invitation.name:
        person.former_names = [*person.former_names, {"name": person.name, "until": at.isoformat()}]


# --- roles ------------------------------------------------------------------------------------------------------------


@transaction.atomic
def give_role(by: Person, *, person: Person, role: str) -> RoleGrant:
    """One more role, from now. Raises Refused when the person holds it or their organisation does not suit it."""
    role = _role(by, role, to="give roles")
    _suits(role, person.organisation)
    # Locked, so that a role is not given to somebody whose access is being closed.
    if not Person.objects.select_for_update().get(pk=person.pk).is_active:
        raise Refused(f"{person.name} has left; invite them again.", field="role")
    grant, new = RoleGrant.objects.get_or_create(person=person, role=role, ended_at=None)
    if not new:
        raise Refused(f"{person.name} already is {Role(role).label.lower()}.", field="role")
    _forget_roles(person)
    journal.record("role.given", person, by=by, after={"role": role})
    return grant


@transaction.atomic
def end_role(by: Person, *, person: Person, role: str) -> None:
    """End a role from now. The last administrator stays one."""
    role = _role(by, role, to="end roles")
    if role == Role.ADMINISTRATOR:
        _keep_an_administrator(person)
    if not RoleGrant.objects.filter(person=person, role=role, ended_at=None).update(ended_at=timezone.now()):
        raise Conflict(f"{person.name} is no longer {Role(role).label.lower()}.")
    factors.settle(Person.objects.filter(pk=person.pk))
    _forget_roles(person)
    journal.record("role.ended", person, by=by, before={"role": role})


@transaction.atomic
def deactivate(by: Person, *, person: Person) -> None:
    """Close the door to somebody who has left; what they did keeps their name.

    Sign-in, sessions, roles, tokens, parts in projects and calendar links end; coming back gives none of them back.
    """
    require(by, Role.ADMINISTRATOR, to="close somebody's access")
    if person.pk == by.pk:
        raise Refused("Nobody closes their own access; ask another administrator.")
    _keep_an_administrator(person)
    roles = close_access(by, person)
    journal.record("person.deactivated", person, by=by, before={"roles": roles})


def close_access(by: Person, person: Person) -> list[str]:
    """End all that lets somebody in; the roles that ended. For actions that have asked whether `by` may."""
    if not Person.objects.filter(pk=person.pk, is_active=True).update(is_active=False):
        raise Conflict(f"The access of {person.name} is closed already.")
    person.is_active = False
    # A session is bound to the password it began with, and so ends with it.
    person.set_unusable_password()
    person.save(update_fields=["password"])
    post.hold_back(by, person=person)
    return _end_access(by, person, timezone.now())


def _end_access(by: Person, person: Person, at: datetime) -> list[str]:
    """End the roles, tokens and whatever the rooms above gave somebody; the roles that ended."""
    grants = person.grants.filter(ended_at=None)
    roles = list(grants.values_list("role", flat=True))
    grants.update(ended_at=at)
    end_keys(person, by=by)
    # By an invitation they would come back without being asked for it.
    factors.forget(person)
    _forget_roles(person)
    access_ended.send(sender=Person, by=by, person=person, at=at)
    return roles


def _keep_an_administrator(leaving: Person) -> None:
    # Locked, so that two administrators who end each other's role at once do not leave the house without one.
    held = RoleGrant.objects.select_for_update(of=("self",)).filter(
        role=Role.ADMINISTRATOR, ended_at=None, person__is_active=True
    )
    holders = {grant.person_id for grant in held}
    if holders == {leaving.pk}:
        raise Refused(f"{leaving.name} is the only administrator; make somebody else administrator first.")


# --- passwords and tokens ---------------------------------------------------------------------------------------------


def change_password(by: Person, *, old: str, new: str, keep: bool = False) -> None:
    """The person's own password, for which they must know the one they have.

    Whoever knew the old one may have made tokens and calendar links, so those end unless they are kept on purpose.
    """
    confirm_password(by, old, to="change the password", so="it is not changed", field="old")
    with transaction.atomic():
        _set_password(by, new, field="new")
        by.save(update_fields=["password"])
        journal.record("person.password_changed", by, by=by, after={"tokens and links kept": keep})
        if not keep:
            end_keys(by)


@transaction.atomic
def reset_password(person: Person, *, password: str) -> None:
    """The password chosen by a mailed link. Tokens and calendar links end: their maker may have been somebody else."""
    person.set_password(password)
    person.save(update_fields=["password"])
    journal.record("person.password_reset", person, by=person)
    end_keys(person)


@transaction.atomic
def end_keys(person: Person, *, by: Person | None = None) -> None:
    """End at once all that opens a door in the person's name without a password: API tokens, calendar links."""
    by = by or person
    names = list(ApiToken.objects.filter(user=person).order_by("created").values_list("name", flat=True))
    if names:
        ApiToken.objects.filter(user=person).delete()
        journal.record("tokens.ended", person, by=by, before={"names": names})
    keys_ended.send(sender=Person, person=person, by=by)


@transaction.atomic
def make_token(by: Person, *, name: str, days: int) -> tuple[ApiToken, str]:
    """A token for the API and its text, which is never shown again. It ends after so many days."""
    if not by.roles:
        raise NotAllowed("Only somebody with a role may make a token.")
    name = line(name, field="name", most=80)
    if not 1 <= days <= TOKEN_MOST_DAYS:
        raise Refused(f"A token is good for 1 to {TOKEN_MOST_DAYS} days, not {days}.", field="days")
    held = list(live_tokens(Person.objects.select_for_update().get(pk=by.pk)))
    if len(held) >= TOKENS_A_PERSON:
        raise Refused(f"You have {len(held)} tokens; revoke one you no longer use.", field="name")
    if any(token.name == name for token in held):
        raise Refused(f"You already have a token called {name}.", field="name")
    token, text = ApiToken.objects.create(by, expiry=timedelta(days=days), name=name)
    journal.record("token.made", by, by=by, after={"name": name, "key": token.token_key, "expires": token.expiry})
    return token, text


@transaction.atomic
def revoke_token(by: Person, *, token_key: str) -> None:
    """End one's own token at once."""
    found = ApiToken.objects.filter(user=by, token_key=token_key).first()
    if found is None or not ApiToken.objects.filter(pk=found.pk).delete()[0]:
        raise Conflict("You have no such token any more.")
    journal.record("token.revoked", by, by=by, before={"name": found.name, "key": token_key})


# --- small parts ------------------------------------------------------------------------------------------------------


def _set_password(person: Person, password: str, field: str = "password") -> None:
    try:
        validate_password(password, person)
    except ValidationError as fault:
        raise Refused([Fault(message, field) for message in fault.messages]) from None
    person.set_password(password)


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _choice(value: str, choices: type[Organisation.Kind | Role], *, field: str) -> str:
    if value not in choices.values:
        raise Refused(f"Choose one of: {', '.join(str(label).lower() for label in choices.labels)}.", field=field)
    return str(value)


def _role(by: Person, role: str, *, to: str) -> str:
    """The role as text, once it is clear that the person may give, end or invite to it."""
    require(by, Role.ADMINISTRATOR, Role.QUALITY_MANAGER, to=to)
    role = _choice(role, Role, field="role")
    if role in HIGH_ROLES and not by.has_role(Role.ADMINISTRATOR):
        raise NotAllowed(f"The role of {Role(role).label.lower()} is for an administrator to give and to end.")
    return role


def _suits(role: str, organisation: Organisation) -> None:
    kinds = KINDS_FOR[Role(role)]
    if organisation.kind not in kinds:
        names = " or ".join(sorted(Organisation.Kind(kind).label.lower() for kind in kinds))
        raise Refused(f"{Role(role).label} is a role for people of an organisation of the kind {names}.", field="role")


def _forget_roles(person: Person) -> None:
    person.__dict__.pop("roles", None)
