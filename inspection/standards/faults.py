"""What is wrong with an input, said field by field."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong: the field as the sender wrote it (``spots_um[2][0]``) and what would be right."""

    field: str
    message: str

    def __str__(self) -> str:
        return f"{self.field}: {self.message}"


class InputFault(ValueError):
    """An input cannot be used. ``faults`` lists everything wrong; ``str()`` gives one line per fault."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    @classmethod
    def at(cls, field: str, message: str) -> InputFault:
        """A single fault."""
        return cls([Fault(field, message)])
