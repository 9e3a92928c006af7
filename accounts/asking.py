"""A form whose action may ask whether what is doubtful is meant."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms

from accounts.forms import carried_out
from inspection.foundation.refusals import Asked


def stored_or_asked(form: forms.Form, act: Callable[[dict[str, Any]], Any]) -> tuple[bool, list[str]]:
    """Run the action with the form's values: whether it was done, and what it asks, if anything.

    What it refuses is shown in the form.
    """
    asking: list[str] = []

    def surely(values: dict[str, Any]) -> None:
        try:
            act(values)
        except Asked as question:
            asking.extend(fault.message for fault in question.faults)

    done = carried_out(form, surely)
    return done and not asking, asking
