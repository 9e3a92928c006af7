"""People, the organisations they belong to and the roles they hold."""

from __future__ import annotations

from datetime import date, datetime
from functools import cached_property
from typing import ClassVar
from uuid import UUID

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q
from django.utils import timezone

from inspection.foundation.ids import new_id
from inspection.foundation.text_columns import LongText, ShortText


class HasHadNames(models.Model):
    """Somebody or something that may be renamed; what was recorded under a former name is shown under it."""

    # Oldest first, each with the moment until which it was the name.
    former_names = models.JSONField(default=list, blank=True, editable=False)

    class Meta:
        abstract = True

    def name_at(self, at: datetime) -> str:
        """The name borne at the moment, without asking the database."""
        former = (each["name"] for each in self.former_names if at < datetime.fromisoformat(each["until"]))
        return str(next(former, self.name))  # type: ignore[attr-defined]  # each heir has a name


class Organisation(HasHadNames):
    class Kind(models.TextChoices):
        COMPANY = "company", "Inspection company"
        CLIENT = "client", "Client, owner, class or maker"
        CONTRACTOR = "contractor", "Painting contractor"
        AUDITOR = "auditor", "Audit body"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    name = ShortText(max_length=120, unique=True)
    kind = models.CharField(max_length=12, choices=Kind)

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(fields=("kind",), condition=Q(kind="company"), name="one_inspection_company"),
        )

    def __str__(self) -> str:
        return self.name


class PersonManager(BaseUserManager["Person"]):
    def get_by_natural_key(self, email: str | None) -> Person:
        return self.get(email__iexact=email)


class Role(models.TextChoices):
    INSPECTOR = "inspector", "Inspector"
    QUALITY_MANAGER = "quality_manager", "Quality manager"
    CLIENT = "client", "Client"
    CONTRACTOR = "contractor", "Contractor"
    AUDITOR = "auditor", "Auditor"
    ADMINISTRATOR = "administrator", "Administrator"


# Whose sight is not bound to the projects they take part in.
SEES_EVERYTHING = (Role.QUALITY_MANAGER, Role.ADMINISTRATOR)
# Who may follow what a thing rests on, and what rests on it.
TRACERS = (Role.AUDITOR, Role.QUALITY_MANAGER, Role.INSPECTOR)


class Person(HasHadNames, AbstractBaseUser):  # type: ignore[django-manager-missing]  # the plugin does not follow the mixed-in base
    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    email = models.EmailField(max_length=254, unique=True)
    name = ShortText(max_length=120)
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT, related_name="people")
    is_active = models.BooleanField(default=True)
    # The company demands a second factor of them and they have none: kept by accounts.factors.settle.
    factor_due = models.BooleanField(default=False)
    joined_at = models.DateTimeField(default=timezone.now)
    invited_by = models.ForeignKey("self", on_delete=models.PROTECT, null=True, editable=False, related_name="+")
    # Until somebody answers for them, the roles of a person of another organisation hold nothing.
    confirmed_at = models.DateTimeField(null=True, editable=False)
    confirmed_by = models.ForeignKey("self", on_delete=models.PROTECT, null=True, editable=False, related_name="+")
    # How they came to be believed, in the words and names of that time; each decision keeps a copy.
    admission = models.TextField(blank=True, editable=False)

    objects: ClassVar[PersonManager] = PersonManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name

    def get_full_name(self) -> str:
        return self.name

    @cached_property
    def roles(self) -> frozenset[str]:
        """The roles held now, which is none until the person is confirmed; read once a request."""
        return (
            frozenset(self.grants.filter(ended_at=None).values_list("role", flat=True))
            if self.is_active and self.confirmed_at
            else frozenset()
        )

    def has_role(self, *roles: Role) -> bool:
        return not self.roles.isdisjoint(roles)

    @property
    def waits(self) -> bool:
        """Whether nobody has confirmed yet that the person is of their organisation."""
        return self.is_active and self.confirmed_at is None

    @property
    def is_company(self) -> bool:
        """Whether the person works for the inspection company that runs the site."""
        return self.organisation.kind == Organisation.Kind.COMPANY

    @property
    def sees_every_project(self) -> bool:
        return self.has_role(*SEES_EVERYTHING)

    @property
    def may_trace(self) -> bool:
        """Whether what a thing rests on, and what rests on it, is theirs to follow."""
        return self.has_role(*TRACERS)

    @property
    def is_contractors(self) -> bool:
        """Whether the person sees of a project only what its painting contractor must know."""
        return self.has_role(Role.CONTRACTOR)

    def names_no_contractor(self, organisation: UUID | None) -> bool:
        """Whether the organisation is a contractor that the person is not told of: another than their own."""
        return self.is_contractors and organisation != self.organisation_id


class RoleGrant(models.Model):
    """A role given to a person and, later, ended. Never deleted."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="grants")
    role = models.CharField(max_length=16, choices=Role)
    begun_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("person", "role"), condition=Q(ended_at=None), name="one_open_grant_a_role"
            ),
        )


class Invitation(models.Model):
    """A link mailed to somebody, good once and until it expires. Only the digest of its token is kept."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    email = models.EmailField(max_length=254)
    name = ShortText(max_length=120)
    organisation = models.ForeignKey(Organisation, on_delete=models.PROTECT)
    role = models.CharField(max_length=16, choices=Role)
    token_digest = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    invited_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-invited_at",)

    def is_open(self, at: datetime | None = None) -> bool:
        return self.accepted_at is None and self.withdrawn_at is None and (at or timezone.now()) < self.expires_at


class Scheme(models.Model):
    """Who certifies people, and as what: one list of the company, from which papers and projects choose."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    name = ShortText(max_length=120, unique=True)
    # Chosen for nothing new any more; the papers under it stay.
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        return self.name


class QualificationQuerySet(models.QuerySet["Qualification"]):
    def standing(self) -> QualificationQuerySet:
        """Without those that were withdrawn; with their schemes, by the day they run out, those that never do last."""
        rows = self.filter(withdrawn_at=None).select_related("scheme")
        return rows.order_by(models.F("expires").asc(nulls_last=True), "issued", "pk")

    def valid_on(self, day: date) -> QualificationQuerySet:
        """Those standing that had been issued by the day and had not run out on it."""
        return self.standing().filter(Q(expires=None) | Q(expires__gte=day), issued__lte=day)


class Qualification(models.Model):
    """A person's certificate of competence, with the date it runs out; some never do."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="qualifications")
    scheme = models.ForeignKey(Scheme, on_delete=models.PROTECT, related_name="qualifications")
    level = ShortText(max_length=60, blank=True)
    number = ShortText(max_length=60)
    issued = models.DateField()
    expires = models.DateField(null=True, blank=True, help_text="Nothing: it never runs out")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawal_reason = LongText(blank=True)

    objects = QualificationQuerySet.as_manager()

    class Meta:
        ordering = ("expires",)
        constraints = (
            models.CheckConstraint(
                condition=Q(expires=None) | Q(expires__gt=models.F("issued")), name="qualification_expires_after_issue"
            ),
        )

    def __str__(self) -> str:
        return f"{self.scheme} {self.level}".strip()
