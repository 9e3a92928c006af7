"""A rule of thickness that the project declares itself, as a coat keeps it and as `dft-custom` takes it.

Its limits are shares of the thicknesses specified, so that one declaration serves every coat: what is counted from
them is the film through all coats up to it. Nothing that is not declared is judged.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from decimal import Decimal
from itertools import pairwise
from typing import Any

from inspection.foundation.refusals import Fault
from inspection.projects.limits import Limits
from inspection.standards.thickness_custom import AT_MOST, FEWER_THAN, readings_asked

COUNTED_FROM = ("nominal", "minimum")
SHARE_MEANS = (AT_MOST, FEWER_THAN)
MOST_PCT = 1_000
# Larger than any area that can be stored.
LARGEST_M2, MOST_READINGS, MOST_ROWS = 10**7, 10_000, 30
FLOORS = ("mean_at_least_pct", "each_at_least_pct")
CEILINGS = ("mean_at_most_pct", "each_at_most_pct")


@dataclass(frozen=True, kw_only=True)
class DeclaredRule:
    """Floors in % of the thickness `counted_from`, ceilings in % of the maximum, areas in m².

    `table` says how many readings an area up to so many m² asks for; beyond it, `further_readings` for each further
    `further_m2`.
    """

    name: str
    document: str
    counted_from: str = "nominal"
    mean_at_least_pct: Decimal | None = None
    each_at_least_pct: Decimal | None = None
    share_below_pct: Decimal | None = None
    share_means: str = AT_MOST
    mean_at_most_pct: Decimal | None = None
    each_at_most_pct: Decimal | None = None
    table: tuple[tuple[Decimal, int], ...] = ()
    further_m2: Decimal | None = None
    further_readings: int | None = None

    @classmethod
    def read(cls, name: str, document: str, stored: dict[str, Any]) -> DeclaredRule:
        given: dict[str, Any] = {
            field: Decimal(stored[field])
            for field in (*FLOORS, *CEILINGS, "share_below_pct", "further_m2")
            if stored.get(field) is not None
        }
        given |= {
            field: stored[field] for field in ("counted_from", "share_means", "further_readings") if field in stored
        }
        table = tuple((Decimal(largest), readings) for largest, readings in stored.get("table", ()))
        return cls(name=name, document=document, table=table, **given)

    def stored(self) -> dict[str, Any]:
        """Its figures, without those that are not declared; the words have columns of their own."""
        figures = {field: value for field, value in asdict(self).items() if value not in (None, ())}
        del figures["name"], figures["document"]
        plain = {field: str(value) if isinstance(value, Decimal) else value for field, value in figures.items()}
        return plain | ({"table": [[str(m2), readings] for m2, readings in self.table]} if self.table else {})

    @property
    def needs(self) -> frozenset[str]:
        """The limits of the coats it counts from, by name."""
        floors = any(getattr(self, field) is not None for field in (*FLOORS, "share_below_pct"))
        ceilings = any(getattr(self, field) is not None for field in CEILINGS)
        return frozenset([self.counted_from] * floors + ["maximum"] * ceilings)

    def readings_asked(self, area_m2: Decimal) -> int | None:
        """How many readings it asks for on an area; None where it declares no sampling table."""
        return readings_asked(self.table, self.further_m2, self.further_readings, area_m2)

    def each(self, through: Limits) -> tuple[Decimal | None, Decimal | None]:
        """What one reading is held to, in nm: least and greatest."""
        return (
            share_of(getattr(through, self.counted_from), self.each_at_least_pct),
            share_of(through.maximum, self.each_at_most_pct),
        )

    def inputs(self, through: Limits, area_m2: Decimal) -> dict[str, Any]:
        """What `dft-custom` is given besides readings."""
        base = getattr(through, self.counted_from)
        least, greatest = self.each(through)
        limits = {
            "minimum_mean_um": share_of(base, self.mean_at_least_pct),
            "maximum_mean_um": share_of(through.maximum, self.mean_at_most_pct),
            "minimum_each_um": least,
            "maximum_each_um": greatest,
            "nominal_um": base if self.share_below_pct is not None else None,
        }
        found: dict[str, Any] = {
            "rule": self.name, "edition": self.document,
            **{field: _number(Decimal(nm) / 1_000) for field, nm in limits.items() if nm is not None},
        }  # fmt: skip
        if self.share_below_pct is not None:
            found |= {"share_below_pct": _number(self.share_below_pct), "share_meaning": self.share_means}
        if self.table:
            found["plan"] = [{"up_to_m2": _number(m2), "readings": readings} for m2, readings in self.table]
            found["area_m2"] = float(area_m2)
        if self.table and self.further_m2 is not None:
            found |= {"further_m2": _number(self.further_m2), "further_readings": self.further_readings}
        return found

    def faults(self) -> Iterator[Fault]:
        """What is wrong with it, by field."""
        if not self.name:
            yield Fault("Give the name the project has for its rule.", "declared_name")
        if not self.document:
            yield Fault("Say in which document, edition and clause the rule stands.", "declared_document")
        if self.counted_from not in COUNTED_FROM:
            yield Fault("Floors are counted from the nominal or the minimum thickness.", "counted_from")
        if self.share_means not in SHARE_MEANS:
            yield Fault(f"The share is {AT_MOST} or {FEWER_THAN}.", "share_means")
        if not self.needs:
            yield Fault("The rule declares no limit; give a floor, a ceiling or the share below.", "mean_at_least_pct")
        for field in (*FLOORS, *CEILINGS):
            value = getattr(self, field)
            if value is not None and not 0 < value <= MOST_PCT:
                yield Fault(f"Give more than 0 and at most {MOST_PCT} %.", field)
        if self.share_below_pct is not None and not 0 <= self.share_below_pct <= 100:
            yield Fault("Give 0 to 100 %.", "share_below_pct")
        yield from self._sampling_faults()

    def _sampling_faults(self) -> Iterator[Fault]:
        sizes = [m2 for m2, _ in self.table]
        if any(later <= before for before, later in pairwise([Decimal(0), *sizes])):
            yield Fault(
                "Each row of the sampling table reaches further than the row before, from more than 0 m².", "table"
            )
        if len(self.table) > MOST_ROWS or any(not 0 < readings <= MOST_READINGS for _, readings in self.table):
            yield Fault(f"Give at most {MOST_ROWS} rows, of 1 to {MOST_READINGS} readings.", "table")
        beyond = (self.further_m2, self.further_readings)
        if None in beyond and beyond != (None, None):
            lacks = "further_m2" if self.further_m2 is None else "further_readings"
            yield Fault("Readings and m² beyond the table belong together; give both or neither.", lacks)
        elif beyond != (None, None) and not self.table:
            yield Fault("Give the sampling table that this goes on from.", "table")
        elif self.further_m2 is not None and self.further_readings is not None:
            if not 0 < self.further_m2 <= LARGEST_M2:
                yield Fault("Give more than 0 m².", "further_m2")
            if not 0 < self.further_readings <= MOST_READINGS:
                yield Fault(f"Give 1 to {MOST_READINGS} readings.", "further_readings")
        elif sizes and sizes[-1] < LARGEST_M2:
            yield Fault(
                f"Say how many further readings an area beyond {sizes[-1].normalize():f} m² asks for, and for each how "
                f"many m²; or let the last row reach to {LARGEST_M2} m².",
                "further_m2",
            )


def share_of(nm: int | None, pct: Decimal | None) -> Decimal | None:
    """A share in % of a thickness, in nm; None where either is."""
    return None if nm is None or pct is None else nm * pct / 100


def _number(value: Decimal) -> int | float:
    """A JSON number that reads back exactly."""
    return int(value) if value == value.to_integral_value() else float(value)
