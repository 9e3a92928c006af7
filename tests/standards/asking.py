"""Short ways to ask a calculation in tests."""

from __future__ import annotations

from typing import Any

import pytest

from inspection.standards import InputFault, calculate


def faults(name: str, given: Any) -> dict[str, str]:
    """What is wrong with an input, by field; fails when nothing is."""
    with pytest.raises(InputFault) as caught:
        calculate(name, given)
    return {fault.field: fault.message for fault in caught.value.faults}


def checks(name: str, **given: Any) -> dict[str, dict[str, Any]]:
    """The checks of a verdict by name."""
    return {check["name"]: check for check in calculate(name, given)["checks"]}
