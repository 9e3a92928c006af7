"""Coating systems: coats with their limits and rules, data sheets of their products, stripe coats."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from operator import and_
from typing import Self

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Exists, F, OuterRef, Q

from accounts.models import Person
from inspection.foundation.ids import new_id
from inspection.foundation.text_columns import LongText, ShortText
from inspection.projects.declared_rule import DeclaredRule
from inspection.projects.limits import Limits, stated_or_summed, summed
from inspection.projects.of_project import OfProject, WithAreas


class DataSheetQuerySet(OfProject):
    def in_scope_of(self, person: Person) -> Self:
        """Those by which a coat of a system that they see is specified."""
        return self.filter(coats__system__in=CoatingSystem.objects.visible_to(person)).distinct()


class DataSheet(models.Model):
    """A product as its maker's data sheet of one revision has it. Temperatures in °C, shares in %, times as named."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="data_sheets")
    product = ShortText(max_length=120)
    revision = ShortText(max_length=60)
    mixing_by_volume = ShortText(max_length=40, blank=True, default="")
    mixing_by_mass = ShortText(max_length=40, blank=True, default="")
    # How far a component may lie from the ratio, as the maker or the specification states it.
    mixing_tolerance_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    induction_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    pot_life_hours = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    pot_life_at_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    thinner = ShortText(max_length=120, blank=True, default="")
    thinner_max_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    air_min_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    air_max_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    surface_min_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    surface_max_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    humidity_min_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    humidity_max_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)

    objects = DataSheetQuerySet.as_manager()

    class Meta:
        ordering = ("product", "revision")
        constraints = (
            models.UniqueConstraint(fields=("project", "product", "revision"), name="data_sheet_once_a_project"),
        )

    def __str__(self) -> str:
        return f"{self.product}, {self.revision}"


class OfDataSheet(OfProject):
    path = "sheet__project"


class DataSheetRow(models.Model):
    """A line of a data sheet's table: at a temperature, before the next product (empty: any), when it may go on."""

    id = models.BigAutoField(primary_key=True)
    sheet = models.ForeignKey(DataSheet, on_delete=models.CASCADE, related_name="rows")
    temperature_c = models.DecimalField(max_digits=4, decimal_places=1)
    next_product = ShortText(max_length=120, blank=True, default="")
    recoat_min_hours = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    recoat_max_hours = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    hard_dry_hours = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    # At this temperature of the paint, whatever comes next.
    pot_life_hours = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)

    objects = OfDataSheet.as_manager()

    class Meta:
        ordering = ("next_product", "temperature_c")
        constraints = (
            models.UniqueConstraint(
                fields=("sheet", "temperature_c", "next_product"), name="data_sheet_row_once_a_temperature_and_next"
            ),
        )


def in_order(minimum: str, nominal: str, maximum: str, *, named: str) -> list[models.CheckConstraint]:
    """Limits that are given lie above zero and in order, whichever are missing."""
    pairs = ((minimum, nominal, "minimum_at_most_nominal"), (nominal, maximum, "maximum_at_least_nominal"),
             (minimum, maximum, "maximum_at_least_minimum"))  # fmt: skip
    return [
        *(
            models.CheckConstraint(
                condition=Q(**{low: None}) | Q(**{high: None}) | Q(**{f"{low}__lte": F(high)}), name=f"{named}_{words}"
            )
            for low, high, words in pairs
        ),
        models.CheckConstraint(
            condition=reduce(
                and_, (Q(**{each: None}) | Q(**{f"{each}__gt": 0}) for each in (minimum, nominal, maximum))
            ),
            name=f"{named}_limits_above_zero",
        ),
    ]


def needs_of(rule: str, declaration: DeclaredRule | None) -> frozenset[str]:
    """The limits a rule judges by: SSPC-PA 2 the minimum, ISO 19840 and IMO the nominal, a declared one what it names.

    A maximum is judged where one is specified, and so is not needed (SSPC-PA 2 and ISO 19840, clauses 9).
    """
    if declaration:
        return declaration.needs
    return frozenset({"minimum"} if rule == Coat.Rule.PA2 else {"nominal"})


class CoatingSystemQuerySet(WithAreas):
    from_area = "system"

    def in_force(self) -> CoatingSystemQuerySet:
        """Those that new work begins under: applied, not taken back, and not followed by a revision that is."""
        later = CoatingSystem.objects.filter(revises=OuterRef("pk"), taken_back_at=None, applied_at__isnull=False)
        return self.filter(
            Q(revises=None) | Q(applied_at__isnull=False), ~Exists(later), taken_back_at=None
        )  # fmt: skip


class SaltsAs(models.TextChoices):
    """What a limit of soluble salts is expressed as; the same conductivity gives another figure for each."""

    MIXED = "mixed", "Mixed salts"
    SODIUM_CHLORIDE = "nacl", "Sodium chloride"
    CHLORIDE = "chloride", "Chloride, if all salt is sodium chloride"


class SteelworkGrade(models.TextChoices):
    P1 = "P1", "P1, light"
    P2 = "P2", "P2, thorough"
    P3 = "P3", "P3, very thorough"


class CoatingSystem(models.Model):
    """A coating system as specified, or a revision of one, which is a row of its own with coats of its own.

    A revision names the one it follows and applies from a day of the project on: areas move to it then, with what is
    unfinished on them, while each coat that was judged before keeps the revision it was judged by (`KeptCoat`).
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    project = models.ForeignKey("projects.Project", on_delete=models.PROTECT, related_name="systems")
    name = ShortText(max_length=120)
    preparation_grade = ShortText(max_length=40, help_text="As the specification writes it, such as Sa 2½")
    profile_min_nm = models.PositiveIntegerField(null=True, blank=True)
    profile_max_nm = models.PositiveIntegerField(null=True, blank=True)
    salts_max_mg_m2 = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    salts_as = models.CharField(
        max_length=8, choices=SaltsAs, blank=True, default="", help_text="The salt that the limit speaks of"
    )
    # Of each tape of dust, ISO 8502-3.
    dust_max_quantity = models.PositiveSmallIntegerField(null=True, blank=True)
    dust_max_size = models.PositiveSmallIntegerField(null=True, blank=True)
    steelwork_grade = models.CharField(
        max_length=2, choices=SteelworkGrade, blank=True, default="", help_text="Of imperfections, ISO 8501-3"
    )
    first_coat_within_h = models.DecimalField(
        max_digits=5, decimal_places=1, null=True, blank=True, help_text="Hours from the blast"
    )
    # Of the whole film, where the specification states them apart from those of the coats.
    total_minimum_nm = models.PositiveIntegerField(null=True, blank=True)
    total_nominal_nm = models.PositiveIntegerField(null=True, blank=True)
    total_maximum_nm = models.PositiveIntegerField(null=True, blank=True)
    specification_revision = models.ForeignKey(
        "projects.SpecificationRevision", on_delete=models.PROTECT, related_name="systems", null=True, blank=True
    )
    # Of a revision: what it follows, which in turn it is, and from which day of the project it applies.
    revises = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="revisions", null=True, blank=True, editable=False
    )
    number = models.PositiveSmallIntegerField(default=0, editable=False)
    applies_from = models.DateField(null=True, blank=True, editable=False)
    why = LongText(blank=True, default="", editable=False)
    # Whether a coat that was begun but not measured to a verdict stays with the revision it was begun under.
    begun_stay = models.BooleanField(default=False, editable=False)
    issued_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True, editable=False
    )
    issued_at = models.DateTimeField(null=True, blank=True, editable=False)
    # Of what was sent, so that the same sent again is known.
    sent_digest = models.CharField(max_length=64, blank=True, default="", editable=False)
    # When the areas moved to it; a revision that applies from a day to come waits for that day.
    applied_at = models.DateTimeField(null=True, blank=True, editable=False)
    taken_back_at = models.DateTimeField(null=True, blank=True, editable=False)
    taken_back_why = LongText(blank=True, default="", editable=False)

    objects = CoatingSystemQuerySet.as_manager()

    class Meta:
        ordering = ("name", "number")
        constraints = (
            models.UniqueConstraint(fields=("project", "name", "number"), name="system_revision_once_a_project"),
            models.UniqueConstraint(
                fields=("revises",), condition=Q(taken_back_at=None), name="system_followed_by_one_revision"
            ),
            models.CheckConstraint(
                condition=Q(number=0, revises=None)
                | Q(number__gt=0, revises__isnull=False, applies_from__isnull=False),
                name="revision_follows_a_system_from_a_day",
            ),
            *in_order("total_minimum_nm", "total_nominal_nm", "total_maximum_nm", named="system_total"),
        )

    def __str__(self) -> str:
        return f"{self.name}, revision {self.number}" if self.number else self.name

    @property
    def of_ballast_tanks(self) -> bool:
        """Whether it is held to IMO PSPC: one of its coats is judged by it."""
        return any(coat.rule == Coat.Rule.IMO_PSPC for coat in self.coats.all())

    @property
    def totals(self) -> Limits:
        """Stated for the whole film; each may be missing."""
        return Limits(self.total_minimum_nm, self.total_nominal_nm, self.total_maximum_nm)

    @property
    def has_totals(self) -> bool:
        return any(limit is not None for limit in self.totals)


class SystemQuerySet(OfProject):
    path = "system__project"

    def in_scope_of(self, person: Person) -> Self:
        return self.filter(system__in=CoatingSystem.objects.visible_to(person))


class Coat(models.Model):
    """One coat of a system: product, its own specified DFT, when and in what climate it may go on, how it is judged.

    A gauge shows the sum of all layers down to the metal, so readings taken after a coat are judged against the sum of
    the specified thicknesses up to it (`through`; common practice, no source). Only what its rule judges by has to be
    specified (`needs`): nothing else is made up.
    """

    # The coats on the steel of one area up to this one, where some are of a former revision; see `steps.film_on`.
    film: Sequence[Coat] | None = None

    class Rule(models.TextChoices):
        PA2 = "dft-pa2", "SSPC-PA 2"
        ISO_19840 = "dft-iso19840", "ISO 19840"
        IMO_PSPC = "dft-imo-pspc", "IMO PSPC 90/10"
        DECLARED = "dft-custom", "Declared rule"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    system = models.ForeignKey(CoatingSystem, on_delete=models.PROTECT, related_name="coats")
    # In a revision: the coat of the one before that is the same step.
    carries_on = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="carried_on_by", null=True, blank=True, editable=False
    )
    order = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(12)])
    name = ShortText(max_length=60)
    product = ShortText(max_length=120)
    colour = ShortText(max_length=60, blank=True)
    minimum_nm = models.PositiveIntegerField(null=True, blank=True)
    nominal_nm = models.PositiveIntegerField(null=True, blank=True)
    maximum_nm = models.PositiveIntegerField(null=True, blank=True)
    volume_solids_pct = models.DecimalField(
        max_digits=4, decimal_places=1, validators=[MinValueValidator(1), MaxValueValidator(100)]
    )
    recoat_min_hours = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    recoat_max_hours = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    air_min_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    air_max_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    surface_min_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    surface_max_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    humidity_min_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    humidity_max_pct = models.DecimalField(max_digits=4, decimal_places=1, default=85)
    margin_min_c = models.DecimalField(max_digits=3, decimal_places=1, default=3)
    rule = models.CharField(max_length=16, choices=Rule)
    pa2_level = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(5)]
    )
    # Of the rule `dft-custom`: its name, where it stands, and its figures; see `declared_rule.py`.
    declared_name = ShortText(max_length=120, blank=True, default="")
    declared_document = ShortText(max_length=160, blank=True, default="")
    declared = models.JSONField(default=dict, blank=True, editable=False)
    # Where not, the coat is measured for control: a failing result stands as such, and nothing hangs on it.
    decides = models.BooleanField(default=True)
    data_sheet = models.ForeignKey(DataSheet, on_delete=models.PROTECT, related_name="coats", null=True, blank=True)

    objects = SystemQuerySet.as_manager()

    class Meta:
        ordering = ("system", "order")
        constraints = (
            models.UniqueConstraint(fields=("system", "order"), name="coat_order_once_a_system"),
            *in_order("minimum_nm", "nominal_nm", "maximum_nm", named="coat"),
            models.CheckConstraint(
                condition=(Q(rule="dft-pa2") & Q(minimum_nm__isnull=False))
                | (Q(rule__in=("dft-iso19840", "dft-imo-pspc")) & Q(nominal_nm__isnull=False))
                | (Q(rule="dft-custom") & ~Q(declared_name="")),
                name="coat_has_what_its_rule_judges_by",
            ),
            models.CheckConstraint(
                condition=(Q(rule="dft-pa2") & Q(pa2_level__range=(1, 5))) | (~Q(rule="dft-pa2") & Q(pa2_level=None)),
                name="coat_level_with_pa2_only",
            ),
        )

    def __str__(self) -> str:
        return f"{self.order}. {self.name}"

    @property
    def told(self) -> str:
        """Its name; of a revision with the number of the revision."""
        return f"{self.name} (revision {self.system.number})" if self.system.number else self.name

    @property
    def rule_name(self) -> str:
        if self.rule == self.Rule.DECLARED:
            return self.declared_name
        label = self.Rule(self.rule).label
        return f"{label}, level {self.pa2_level}" if self.pa2_level else label

    @property
    def declaration(self) -> DeclaredRule | None:
        """What the project declared of the coat's rule; None for a published one."""
        if self.rule != self.Rule.DECLARED:
            return None
        return DeclaredRule.read(self.declared_name, self.declared_document, self.declared)

    @property
    def limits(self) -> Limits:
        """Of this coat alone."""
        return Limits(self.minimum_nm, self.nominal_nm, self.maximum_nm)

    @property
    def needs(self) -> frozenset[str]:
        """The limits that the coat's rule judges by, by name; a maximum only where a declared rule counts from it."""
        return needs_of(self.rule, self.declaration)

    @property
    def summed(self) -> Limits:
        """The limits of all coats up to this one, added up; none where any of them has none."""
        film = self.film or [coat for coat in self.system.coats.all() if coat.order <= self.order]
        return summed(coat.limits for coat in film)

    @property
    def through(self) -> Limits:
        """What the film after this coat is judged by: the sums, and after the last coat the stated totals first."""
        is_last = self.order == max(coat.order for coat in self.system.coats.all())
        return stated_or_summed(self.system.totals, self.summed) if is_last else self.summed

    @property
    def recoat_rows(self) -> list[DataSheetRow]:
        """When it may be painted over: by its data sheet where that says it, else by the coat's own hours, if any."""
        rows = list(self.data_sheet.rows.all()) if self.data_sheet else []
        if rows or (self.recoat_min_hours is None and self.recoat_max_hours is None):
            return rows
        return [DataSheetRow(recoat_min_hours=self.recoat_min_hours, recoat_max_hours=self.recoat_max_hours)]


class OfCoat(OfProject):
    path = "coat__system__project"


class StripeCoat(models.Model):
    """A stripe coat: a step of its own before or after a coat. It adds nothing to the thicknesses specified."""

    class Side(models.TextChoices):
        BEFORE = "before", "Before"
        AFTER = "after", "After"

    class Method(models.TextChoices):
        BRUSH = "brush", "Brush"
        ROLLER = "roller", "Roller"
        SPRAY = "spray", "Spray"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, related_name="stripes")
    side = models.CharField(max_length=6, choices=Side, default=Side.BEFORE)
    name = ShortText(max_length=60)
    product = ShortText(max_length=120)
    method = models.CharField(max_length=6, choices=Method, default=Method.BRUSH)
    welds = models.BooleanField(default=True)
    edges = models.BooleanField(default=True)
    cut_outs = models.BooleanField(default=True)
    bolts = models.BooleanField(default=True)

    objects = OfCoat.as_manager()

    class Meta:
        # Those before a coat come first; "after" sorts before "before".
        ordering = ("coat__order", "-side", "id")
        constraints = (
            models.UniqueConstraint(fields=("coat", "side", "name"), name="stripe_name_once_beside_a_coat"),
            models.CheckConstraint(
                condition=Q(welds=True) | Q(edges=True) | Q(cut_outs=True) | Q(bolts=True), name="stripe_of_something"
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def scope(self) -> list[str]:
        parts = {"welds": self.welds, "edges": self.edges, "cut-outs": self.cut_outs, "bolts": self.bolts}
        return [name for name, is_striped in parts.items() if is_striped]


class KeptCoat(models.Model):
    """A coat that an area keeps of a former revision of its system, because it was judged under it.

    It stands in the place of the coats of the system up to `stands_for`: nothing more is asked for those.
    """

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    area = models.ForeignKey("projects.InspectionArea", on_delete=models.PROTECT, related_name="kept_coats")
    system = models.ForeignKey(
        CoatingSystem, on_delete=models.PROTECT, related_name="+", help_text="The revision that the area has moved to"
    )
    coat = models.ForeignKey(Coat, on_delete=models.PROTECT, related_name="kept_on")
    # Which of the kept coats it is, from 1, in the order they lie on the steel.
    number = models.PositiveSmallIntegerField()
    # The order of the coat of the system that is the same step; 0 where the revision has no such step any more.
    stands_for = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ("area", "number")
        constraints = (
            models.UniqueConstraint(fields=("area", "system", "coat"), name="coat_kept_once_an_area_and_revision"),
        )

    def __str__(self) -> str:
        return f"{self.coat} of {self.coat.system}, kept"
