"""Second factors: how the library is fitted to the house, who must have one, and what happens when one is lost.

The library (allauth's MFA) does codes from an authenticator app (TOTP, RFC 6238), passkeys (WebAuthn) and recovery
codes. Here are its keys at rest, its words, and what the company demands.
"""

from __future__ import annotations

from base64 import urlsafe_b64encode
from io import BytesIO
from typing import Any

import segno
from allauth.core.internal.cryptokit import compare_user_code
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value, yield_hotp_counters_from_time
from allauth.mfa.utils import decrypt
from cryptography.fernet import Fernet, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from accounts import journal, post
from accounts.models import FactorRule, Person, Role, RoleGrant
from accounts.queries import company_name
from accounts.rights import require
from inspection.foundation.refusals import Refused

# What is asked for at sign-in; recovery codes alone are no factor.
MAIN = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
KINDS = {
    Authenticator.Type.TOTP: "authenticator app",
    Authenticator.Type.WEBAUTHN: "passkey",
    Authenticator.Type.RECOVERY_CODES: "recovery codes",
}


# --- secrets at rest --------------------------------------------------------------------------------------------------


def _derived(secret: str) -> Fernet:
    """A key of its own for these secrets (HKDF, RFC 5869), so that no other use of the site's key opens them."""
    key = HKDF(SHA256(), 32, salt=None, info=b"stripecoat: secrets of second factors").derive(secret.encode())
    return Fernet(urlsafe_b64encode(key))


def _keys() -> MultiFernet:
    """Writes with today's key, reads with those before it (SECRET_KEY_FALLBACKS) too."""
    return MultiFernet([_derived(secret) for secret in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)])


@transaction.atomic
def encrypt_again() -> int:
    """Write every secret with today's key, so that an earlier one can be given up; how many there were."""
    keys, done = _keys(), 0
    for row in Authenticator.objects.select_for_update().exclude(type=Authenticator.Type.WEBAUTHN):
        for name in {"secret", "seed"} & set(row.data):
            row.data[name] = keys.rotate(row.data[name].encode()).decode()
            done += 1
        row.save(update_fields=["data"])
    return done


class Factors(DefaultMFAAdapter):
    error_messages = {
        **DefaultMFAAdapter.error_messages,
        "incorrect_code": "This code is not right, or was used before.",
        "cannot_generate_recovery_codes": "Recovery codes come with an authenticator app or a passkey; add one first.",
    }

    def encrypt(self, text: str) -> str:
        return _keys().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        return _keys().decrypt(encrypted_text.encode()).decode()

    def get_totp_issuer(self) -> str:
        return company_name()

    def build_totp_svg(self, url: str) -> str:
        """On white whatever the page's colours: cameras read no light squares on dark."""
        picture = BytesIO()
        segno.make(url, error="m").save(picture, kind="svg", scale=5, border=4, light="#fff")
        return picture.getvalue().decode()

    def get_public_key_credential_rp_entity(self) -> dict[str, str]:
        return {**super().get_public_key_credential_rp_entity(), "name": company_name()}

    def generate_authenticator_name(self, user: Person, type: Any) -> str:  # noqa: A002 - the library's name
        return f"Passkey {Authenticator.objects.filter(user=user, type=type).count() + 1}"

    def send_notification_mail(self, *args: Any, **kwargs: Any) -> None:
        """Our own letters go out by the outbox (accounts/receivers.py)."""


@transaction.atomic
def code_is_good(authenticator: Authenticator, code: str) -> bool:
    """Whether it is a code of now that was not used before (RFC 6238, 5.2), by the row and not by a cache."""
    row = Authenticator.objects.select_for_update().get(pk=authenticator.pk)
    if row.type != Authenticator.Type.TOTP:
        return bool(row.wrap().validate_code(code))
    secret = decrypt(row.data["secret"])
    for counter in yield_hotp_counters_from_time():
        right = compare_user_code(actual=code, expected=format_hotp_value(hotp_value(secret, counter)))
        if right and counter > row.data.get("last", -1):
            row.data["last"] = counter
            row.save(update_fields=["data"])
            return True
    return False


# --- what the company demands -----------------------------------------------------------------------------------------


def demanded_roles() -> frozenset[str]:
    """The roles of which the company demands a second factor now."""
    newest = FactorRule.objects.order_by("-pk").values_list("roles", flat=True).first()
    return frozenset(newest or ())


@transaction.atomic
def demand(by: Person, *, roles: list[str]) -> FactorRule:
    """Demand a second factor of everybody who holds one of the roles; nobody of them gets on without."""
    require(by, Role.ADMINISTRATOR, to="say of whom a second factor is demanded")
    unknown = sorted(set(roles) - set(Role.values))
    if unknown:
        raise Refused(f"There is no role called {', '.join(unknown)}.", field="roles")
    before = demanded_roles()
    rule = FactorRule.objects.create(roles=sorted(set(roles)), chosen_by=by)
    journal.record("factor.demanded", rule, by=by, before={"roles": sorted(before)}, after={"roles": rule.roles})
    settle(Person.objects.all())
    return rule


def forget(person: Person) -> list[str]:
    """Take all of the person's factors away; which kinds there were."""
    found = Authenticator.objects.select_for_update().filter(user=person)
    kinds = sorted({KINDS[Authenticator.Type(row.type)] for row in found})
    found.delete()
    return kinds


def settle(people: QuerySet[Person]) -> None:
    """Note on each of the people whether they must set up a second factor before anything else."""
    roles = demanded_roles()
    if not roles:
        people.filter(factor_due=True).update(factor_due=False)
        return
    held = RoleGrant.objects.filter(person=OuterRef("pk"), ended_at=None, role__in=roles)
    factor = Authenticator.objects.filter(user=OuterRef("pk"), type__in=MAIN)
    due = Q(Exists(held)) & ~Q(Exists(factor))
    people.filter(due, factor_due=False).update(factor_due=True)
    people.filter(factor_due=True).exclude(due).update(factor_due=False)


@transaction.atomic
def reset(by: Person, *, person: Person) -> None:
    """Take away the second factors of somebody who has lost theirs; they are told, and set up new ones."""
    require(by, Role.ADMINISTRATOR, to="reset somebody's second factor")
    if person.pk == by.pk:
        raise Refused("Nobody resets their own second factor here; ask another administrator, or use a recovery code.")
    kinds = forget(person)
    if not kinds:
        raise Refused(f"{person.name} has no second factor.")
    entry = journal.record("factor.reset", person, by=by, before={"kinds": kinds})
    tell(person, f"Your second factor was taken away by {by.name}", str(entry.pk))


def tell(person: Person, what: str, about: str) -> None:
    """A letter to the person: whoever did not do this themselves should hear of it at once."""
    post.write(
        "second-factor", about, to=person, subject=what,
        body=f"{person.name},\n\n{what}, on {timezone.now():%Y-%m-%d %H:%M} UTC.\n\n"
        f"If you did not do or ask for this, change your password and tell your administrator: {settings.SITE_URL}\n",
    )  # fmt: skip
