"""The main menu: what each role comes for, in the order they need it."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from accounts.models import Person, Role

COMPANY = frozenset({Role.INSPECTOR, Role.QUALITY_MANAGER, Role.ADMINISTRATOR})
EVERYONE = frozenset(Role)
# Who acts for a party of a project.
DECIDERS = frozenset({Role.CLIENT, Role.CONTRACTOR, Role.INSPECTOR, Role.QUALITY_MANAGER})
BUT_CONTRACTORS = EVERYONE - {Role.CONTRACTOR}

ITEMS: tuple[tuple[str, str, frozenset[Role]], ...] = (
    ("today", "Today", frozenset({Role.INSPECTOR})),
    ("decisions", "Decisions", frozenset({Role.QUALITY_MANAGER})),
    ("asked_of_us", "Asked of you", frozenset({Role.CONTRACTOR})),
    ("field-app", "Field", frozenset({Role.INSPECTOR, Role.CONTRACTOR})),
    ("points_awaited", "Waits for you", DECIDERS),
    ("board", "Hold points", EVERYONE),
    ("notice_list", "Notices", EVERYONE),
    ("photo_list", "Photos", EVERYONE),
    ("project_list", "Projects", EVERYONE),
    ("equipment", "Instruments", COMPANY | {Role.AUDITOR}),
    ("nonconformance_list", "Nonconformances", EVERYONE),
    ("report_list", "Reports", BUT_CONTRACTORS),
    ("trace", "Trace", frozenset({Role.QUALITY_MANAGER, Role.AUDITOR})),
    ("journal", "Journal", frozenset({Role.QUALITY_MANAGER, Role.AUDITOR})),
    ("calculators", "Calculators", EVERYONE),
    ("our_people", "Our people", frozenset({Role.CLIENT, Role.CONTRACTOR})),
    ("people", "People", frozenset({Role.ADMINISTRATOR, Role.QUALITY_MANAGER})),
)


@dataclass(frozen=True)
class MenuItem:
    address: str
    label: str
    # "page" on the page itself, "true" on a page below it, empty elsewhere: the values of aria-current.
    current: str


def menu_for(person: Person, request: HttpRequest) -> list[MenuItem]:
    items = [(name, label) for name, label, roles in ITEMS if not person.roles.isdisjoint(roles)]
    return [_item(reverse(name), label, request) for name, label in [*items, ("me", person.name)]]


def _item(address: str, label: str, request: HttpRequest) -> MenuItem:
    current = "page" if request.path == address else "true" if request.path.startswith(address) else ""
    return MenuItem(address, label, current)
