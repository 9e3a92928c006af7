"""What the company chooses for its instruments: each choice is a new version, and none is ever changed."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from accounts import journal
from accounts.models import Organisation, Person, Role
from accounts.rights import require
from inspection.foundation.refusals import Conflict, Fault, Refused
from inspection.instruments.models import InstrumentRules
from inspection.projects.preconditions import row_faults

CHOSEN = ("overdue", "combination", "escalate_after_days", "cost_of_a_reading", "currency")
LONGEST_REASON = 1000


@transaction.atomic
def choose_rules(
    by: Person,
    *,
    overdue: str,
    combination: str,
    escalate_after_days: int,
    cost_of_a_reading: Decimal | None,
    currency: str,
    reason: str,
    seen_at: datetime | None = None,
) -> InstrumentRules:
    """Choose what holds from now on, whole; checks judged before keep the combination they were judged by.

    With `seen_at`, the moment at which the chooser looked, a choice that somebody made since is a Conflict.
    """
    require(by, Role.QUALITY_MANAGER, to="choose the rules for instruments")
    # One chooser at a time, so that the journal's before is what held before.
    Organisation.objects.select_for_update(no_key=True).get(pk=by.organisation_id)
    held = InstrumentRules.now()
    if seen_at and held.chosen_by_id and held.chosen_at > seen_at:
        told = f"{held.chosen_by} chose anew at {held.chosen_at:%Y-%m-%d %H:%M} UTC, after you opened this page."
        raise Conflict(f"{told} Open it again, and choose with that in view.")
    rules = InstrumentRules(
        overdue=overdue, combination=combination, escalate_after_days=escalate_after_days,
        cost_of_a_reading=cost_of_a_reading, currency=currency.strip().upper(), reason=reason.strip(), chosen_by=by,
    )  # fmt: skip
    faults = _faults(rules) or _nothing_changed(held, rules)
    if faults:
        raise Refused(faults)
    rules.save(force_insert=True)
    journal.record(
        "instrument_rules.chosen", rules, by=by, before=chosen(held), after=chosen(rules), reason=rules.reason
    )
    return rules


def chosen(rules: InstrumentRules) -> dict[str, Any]:
    return {name: getattr(rules, name) for name in CHOSEN}


def _faults(rules: InstrumentRules) -> list[Fault]:
    faults = []
    if rules.overdue not in InstrumentRules.Overdue.values:
        faults.append(Fault("Choose block or warn.", "overdue"))
    if rules.combination not in InstrumentRules.Combination.values:
        faults.append(Fault("Choose root-sum-square or sum.", "combination"))
    if not rules.reason:
        faults.append(Fault("Say why; whoever works by these rules reads it.", "reason"))
    elif len(rules.reason) > LONGEST_REASON:
        faults.append(Fault(f"Give at most {LONGEST_REASON} characters; these are {len(rules.reason)}.", "reason"))
    if rules.cost_of_a_reading is not None and not _is_currency(rules.currency):
        faults.append(Fault("Name the currency of the cost by its three letters, such as EUR.", "currency"))
    if rules.cost_of_a_reading is None and rules.currency:
        faults.append(Fault("A currency without a cost says nothing; give the cost, or neither.", "cost_of_a_reading"))
    told = {fault.field for fault in faults}
    return faults + [fault for fault in row_faults(rules) if fault.field not in told]


def _is_currency(code: str) -> bool:
    return len(code) == 3 and code.isascii() and code.isalpha()


def _nothing_changed(held: InstrumentRules, rules: InstrumentRules) -> list[Fault]:
    if chosen(held) != chosen(rules):
        return []
    return [Fault("This is what holds already; change something, or leave it as it is.")]
