"""Forms of a revision of a coating system."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from inspection.foundation.form_fields import set_up
from inspection.projects.coating_forms import AddSystem, CoatRow, DeclaredFields
from inspection.projects.forms import Because
from inspection.projects.models import Coat, CoatingSystem, SpecificationRevision
from inspection.projects.revisions import RevisedCoat, SystemSpec


class ReviseSystem(Because, AddSystem):
    """What a revision says of the system apart from its coats, and from which day it applies."""

    # Made when the form is first shown, so that sending it twice issues one revision.
    id = forms.UUIDField(widget=forms.HiddenInput)
    applies_from = forms.DateField(
        label="Applies from", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="A day of the project; unfinished coats move to it when that day begins.",
    )  # fmt: skip
    specification_revision = forms.ModelChoiceField(
        SpecificationRevision.objects.none(), label="By revision of the specification", required=False,
        empty_label="None recorded",
    )  # fmt: skip
    begun_stay = forms.BooleanField(
        label="Coats begun but not judged stay with the former revision", required=False,
        help_text="Begun: anything is recorded after the coat, such as its climate. Tick it where the paint is on.",
    )  # fmt: skip

    field_order = ("id", "applies_from", "specification_revision", *AddSystem.base_fields, "begun_stay", "reason")

    def __init__(self, *args: Any, system: CoatingSystem, **kwargs: Any) -> None:
        initial = {name: _shown(value) for name, value in SystemSpec.of(system).columns().items()}
        initial |= {"specification_revision": system.specification_revision_id} | kwargs.pop("initial", {})
        super().__init__(*args, project=system.project, initial=initial, **kwargs)
        # A revision keeps the name of the system.
        del self.fields["name"]
        standing = SpecificationRevision.objects.filter(specification__project=system.project_id, withdrawn_at=None)
        set_up(self, "specification_revision", queryset=standing.select_related("specification"))

    def main(self) -> list[forms.BoundField]:
        return [field for field in super().main() if not field.is_hidden]

    def asked(self) -> dict[str, Any]:
        """What the action is asked, apart from the coats."""
        given = dict(self.cleaned_data)
        of_system = SystemSpec(**{name: given.pop(name) for name in SystemSpec.__dataclass_fields__})
        return {**given, "of_system": of_system}


class RevisedRow(CoatRow):
    """A coat of a revision: which one it carries on, and what is specified of it now."""

    carries_on = forms.TypedChoiceField(label="The same step as", coerce=int, empty_value=None, required=False)

    def main(self) -> list[forms.BoundField]:
        return [self["carries_on"], *super().main()]

    def limits(self) -> list[forms.BoundField]:
        return [field for field in super().limits() if field.name != "carries_on"]

    def __init__(self, data: Any = None, *, system: CoatingSystem, order: int) -> None:
        super().__init__(data, project=system.project, order=order)
        coats = {coat.order: coat for coat in system.coats.all()}
        set_up(self, "carries_on", choices=[("", "a new coat"), *((each, str(coat)) for each, coat in coats.items())])
        if order in coats:
            self.initial = _specified(coats[order]) | {"carries_on": order}

    def revised(self) -> RevisedCoat:
        self.cleaned_data = dict(self.cleaned_data)
        carries_on = self.cleaned_data.pop("carries_on")
        return RevisedCoat(self.spec(), carries_on)


def revised_rows(system: CoatingSystem, count: int, data: Any = None) -> list[RevisedRow]:
    return [RevisedRow(data, system=system, order=order) for order in range(1, count + 1)]


def _specified(coat: Coat) -> dict[str, Any]:
    """A stored coat as it is typed."""
    names = [name for name in CoatRow.base_fields if hasattr(coat, name) and name not in DeclaredFields.base_fields]
    given = {name: _shown(getattr(coat, name)) for name in names}
    given |= {"for_control": not coat.decides, "data_sheet": coat.data_sheet_id}
    rule = coat.declaration
    if rule is None:
        return given
    told = {name: _shown(getattr(rule, name)) for name in DeclaredFields.base_fields if hasattr(rule, name)}
    table = "\n".join(f"{up_to.normalize():f}: {readings}" for up_to, readings in rule.table)
    return given | told | {"declared_name": rule.name, "declared_document": rule.document, "table": table}


def _shown(value: Any) -> Any:
    return f"{value.normalize():f}" if isinstance(value, Decimal) else value
