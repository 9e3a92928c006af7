"""Gauges, shims and other reference standards: what each thing is, in what state, and who holds it."""

from __future__ import annotations

from decimal import Decimal
from functools import reduce
from operator import or_

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.ids import new_id
from inspection.foundation.text_columns import ShortText
from inspection.foundation.units import Unit, in_unit
from inspection.projects.models import Project

# Of standard solutions, at 25 °C.
SOLUTION_UNIT = "µS/cm"


def stated(nm: int | None, uncertainty_nm: int | None, value: Decimal | None, uncertainty: Decimal | None) -> str:
    """A thickness, or the conductivity of a solution, with its uncertainty and unit; empty where there is neither."""
    if value is not None and uncertainty is not None:
        return f"{value.normalize():f} ± {uncertainty.normalize():f} {SOLUTION_UNIT}"
    if nm is None or uncertainty_nm is None:
        return ""
    return f"{in_unit(nm, Unit.UM)} ± {in_unit(uncertainty_nm, Unit.UM, 2)} {Unit.UM.label}"


class EquipmentQuerySet(models.QuerySet):
    """The company's equipment. Its own people see all of it; outsiders what was used on their projects."""

    # The ways from a thing to the projects on which it was used.
    used_on: tuple[str, ...] = ()

    def visible_to(self, person: Person) -> EquipmentQuerySet:
        if not person.roles:
            return self.none()
        if person.is_company:
            return self
        if person.is_contractors:
            return self.none()
        seen, rows = Project.objects.visible_to(person), self.model._default_manager
        used = (rows.filter(**{f"{way}__in": seen}).values("pk") for way in self.used_on)
        return self.filter(reduce(or_, (Q(pk__in=each) for each in used)))


class Equipment(models.Model):
    class State(models.TextChoices):
        IN_SERVICE = "in_service", "In service"
        QUARANTINED = "quarantined", "Quarantined"
        AT_LABORATORY = "at_laboratory", "At the laboratory"
        RETIRED = "retired", "Retired"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    identity = ShortText(max_length=40, unique=True, help_text="The company's own number on its label")
    maker = ShortText(max_length=80, blank=True)
    model = ShortText(max_length=80, blank=True)
    serial = ShortText(max_length=60, blank=True)
    state = models.CharField(max_length=14, choices=State, default=State.IN_SERVICE)
    # A check made before the state changed still counts when it arrives later.
    state_since = models.DateTimeField(default=timezone.now, editable=False)
    holder = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        abstract = True
        ordering = ("identity",)

    def __str__(self) -> str:
        return self.identity


class GaugeQuerySet(EquipmentQuerySet):
    # What is not checked on site is used where it was recorded with.
    used_on = ("verifications__project", "records__project")


class Gauge(Equipment):
    """Any inspection instrument. Thickness gauges have a range and a stated accuracy of ± a % ± b µm."""

    class Kind(models.TextChoices):
        THICKNESS = "thickness", "Coating thickness gauge"
        CLIMATE = "climate", "Climate meter"
        PROFILE = "profile", "Surface profile gauge"
        SALTS = "salts", "Soluble salts kit"
        HOLIDAY = "holiday", "Holiday detector"
        ADHESION = "adhesion", "Adhesion tester"
        HARDNESS = "hardness", "Hardness tester"

    kind = models.CharField(max_length=10, choices=Kind, default=Kind.THICKNESS)
    range_from_nm = models.PositiveIntegerField(null=True, blank=True)
    range_to_nm = models.PositiveIntegerField(null=True, blank=True)
    accuracy_pct = models.DecimalField(
        max_digits=5, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(50)]
    )
    accuracy_nm = models.PositiveIntegerField(null=True, blank=True)
    # A thickness gauge always is; of other instruments it is chosen, and a choice does not reach back.
    checked_since = models.DateTimeField(
        null=True, blank=True,
        help_text="From when on it is checked on site before and after work; null: its certificate alone, or always",
    )  # fmt: skip
    check_tolerance_pct = models.DecimalField(
        max_digits=5, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(50)],
        help_text="± share of the reference; null: what is usual for its kind",
    )  # fmt: skip
    check_tolerance = models.DecimalField(
        max_digits=9, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(0)],
        help_text="± fixed part, in the unit of its kind",
    )  # fmt: skip

    objects = GaugeQuerySet.as_manager()

    class Meta(Equipment.Meta):
        constraints = (
            models.CheckConstraint(
                condition=Q(range_to_nm=None) | Q(range_to_nm__gt=F("range_from_nm")), name="gauge_range_upwards"
            ),
            models.CheckConstraint(
                condition=~Q(kind="thickness")
                | Q(
                    range_from_nm__isnull=False,
                    range_to_nm__isnull=False,
                    accuracy_pct__isnull=False,
                    accuracy_nm__isnull=False,
                ),
                name="thickness_gauge_states_range_and_accuracy",
            ),
        )


class StandardQuerySet(EquipmentQuerySet):
    used_on = ("certified_values__uses__point__verification__project",)


class ReferenceStandard(Equipment):
    class Kind(models.TextChoices):
        SHIM = "shim", "Shim"
        COATED = "coated", "Coated reference standard"
        ZERO = "zero", "Zero plate"
        SOLUTION = "solution", "Standard solution"
        INSTRUMENT = "instrument", "Reference instrument, such as a voltmeter"

    kind = models.CharField(max_length=10, choices=Kind, default=Kind.SHIM)
    nominal_nm = models.PositiveIntegerField(
        null=True, blank=True, help_text="The thickness it is sold as; its certificate gives the value"
    )
    nominal = models.DecimalField(
        max_digits=12, decimal_places=3, null=True, blank=True, validators=[MinValueValidator(0)],
        help_text="Of a standard solution the conductivity it is sold as, in µS/cm at 25 °C",
    )  # fmt: skip

    objects = StandardQuerySet.as_manager()

    class Meta(Equipment.Meta):
        constraints = (
            models.CheckConstraint(
                condition=Q(kind__in=("solution", "instrument")) | Q(nominal_nm__isnull=False, nominal=None),
                name="standard_of_thickness_has_nominal",
            ),
            models.CheckConstraint(
                condition=~Q(kind="solution") | Q(nominal_nm=None, nominal__isnull=False),
                name="standard_solution_has_nominal",
            ),
            models.CheckConstraint(
                condition=~Q(kind="instrument") | Q(nominal_nm=None, nominal=None),
                name="reference_instrument_has_no_nominal",
            ),
        )

    @property
    def certified_told(self) -> str:
        """What the certificate in force states, as a register reads it beside each standard; empty without one."""
        names = ("certified_nm", "uncertainty_nm", "certified_value", "uncertainty_value")
        return stated(*(getattr(self, name, None) for name in names))

    @property
    def sold_as(self) -> str:
        """What it is sold as, with its unit; empty of a zero plate and of an instrument."""
        if self.kind == self.Kind.SOLUTION and self.nominal is not None:
            return f"{self.nominal.normalize():f} {SOLUTION_UNIT}"
        return f"{in_unit(self.nominal_nm, Unit.UM)} {Unit.UM.label}" if self.nominal_nm else ""
