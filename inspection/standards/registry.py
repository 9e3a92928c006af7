"""The one list of calculations, and the only way to run one from named values.

A calculation is a function from one frozen dataclass to another, registered once by name::

    @calculation("wet-film", title="Wet film thickness", group="Film", sources=(Source(...),), example={...})
    def wet_film(inputs: Inputs) -> Outputs: ...

Pages, API, command line and tests all go through :func:`calculate`.
"""

from __future__ import annotations

import dataclasses
import importlib
import importlib.util
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from fractions import Fraction
from functools import cache
from types import MappingProxyType
from typing import Any, TypeVar

from inspection.standards.faults import Fault, InputFault
from inspection.standards.fields import (
    FieldSpec,
    Reader,
    choice,
    dated_values,
    day,
    fields_of,
    flag,
    items,
    number,
    numbers,
    result,
    shares,
    text,
    texts,
    thickness,
    thickness_lists,
    thicknesses,
    timed_values,
)
from inspection.standards.units import UM_PER_MIL, exact, plain, plain_apart

__all__ = [
    "Calculation", "Check", "Fault", "FieldSpec", "InputFault", "Judged", "Source", "UnknownCalculation",
    "all_calculations", "calculate", "calculation", "choice", "dated_values", "day", "exact", "flag", "get", "items",
    "judged", "number", "numbers", "result", "shares", "text", "texts", "thickness", "thickness_lists", "thicknesses",
    "timed_values",
]  # fmt: skip

PROVENANCES = ("stored source", "from memory", "common practice, no source", "computed")

MODULES = (
    "thickness_pa2", "thickness_iso19840", "thickness_imo", "thickness_custom", "guidance", "sampling",
    "sampling_choice", "extent", "verification", "verification_shims", "site_check", "climate", "surface", "film",
    "holiday", "adhesion", "metrology", "drift", "site_climate", "drying", "profile", "salts", "curing", "conformity",
    "control_charts", "intervals", "lateness",
    "thickness_statistics", "profile_locations", "gauge_comparison", "gauge_study",
    "thickness_iso1461", "thickness_iso2063", "imo_counts", "water_jetting", "salts_patches",
    "adhesion_x_cut",
    "holiday_sponge", "holiday_high", "pull_off_field", "rust_and_blisters", "ballast_condition",
    "mixing", "pot_life", "voc", "drying_log", "recoat_clock", "holiday_result", "adhesion_cuts", "cure_tests",
    "hardness", "visual_defects", "cleanliness", "before_paint", "area_conformance", "wet_film_comb",
)  # fmt: skip


@dataclass(frozen=True)
class Source:
    """Where a rule or a value comes from, and whether its text was seen."""

    standard: str
    edition: str = ""
    clause: str = ""
    provenance: str = "from memory"

    def __post_init__(self) -> None:
        if self.provenance not in PROVENANCES:
            raise ValueError(f"provenance must be one of {PROVENANCES}")

    def __str__(self) -> str:
        return ", ".join(part for part in (self.standard, self.edition, self.clause) if part) + f" ({self.provenance})"


@dataclass(frozen=True)
class Check:
    """One condition of a verdict.

    ``limit`` and ``observed`` are micrometres when ``unit`` is "um" (shown in the call's unit), else as ``unit`` says;
    the sentence therefore names no thickness. ``decided_by`` holds the indexes of what decided (see ``counted_in``):
    those that break the limit, or, when it is kept, those nearest to it; empty means all of them together.
    ``passed`` is None while the sample is not complete and nothing of it breaks the limit for good.
    ``decides_alone``: one value breaks it for good, whatever is measured further.
    """

    name: str
    clause: str
    sentence: str
    limit: Fraction | float | int | str | None
    observed: Fraction | float | int | str | None
    passed: bool | None
    decided_by: tuple[int, ...] = ()
    unit: str = ""
    counted_in: str = "reading"
    where: str = ""
    decides_alone: bool = False


@dataclass(frozen=True, kw_only=True)
class Judged:
    """What every judging calculation answers; its output dataclass inherits from this one."""

    verdict: str = result("Verdict")
    rule: str = result("Rule")
    edition: str = result("Edition")
    checks: tuple[Check, ...] = result("Checks")


def judged(checks: Sequence[Check]) -> str:
    """ "pass" if every check of a complete sample passed, else "fail"."""
    return "pass" if all(check.passed for check in checks) else "fail"


@dataclass(frozen=True)
class Calculation:
    """A registered calculation with all that is said about it."""

    name: str
    title: str
    group: str
    sources: tuple[Source, ...]
    caution: str
    example: Mapping[str, Any]
    function: Callable[[Any], Any]
    input_type: type
    output_type: type

    @property
    def inputs(self) -> tuple[FieldSpec, ...]:
        return fields_of(self.input_type)

    @property
    def outputs(self) -> tuple[FieldSpec, ...]:
        return fields_of(self.output_type)

    @property
    def judges(self) -> bool:
        return issubclass(self.output_type, Judged)

    @property
    def summary(self) -> str:
        """The first paragraph of the function's docstring."""
        return " ".join((self.function.__doc__ or "").strip().split("\n\n")[0].split())

    def run(self, given: Mapping[str, Any], *, explain: bool = False) -> dict[str, Any]:
        """Read, compute and write out; raises InputFault."""
        reader = Reader()
        inputs = reader.read(self.input_type, given)
        try:
            output = self.function(inputs)
        except InputFault as wrong:
            raise InputFault(Fault(reader.spoken(fault.field), fault.message) for fault in wrong.faults) from None
        answer: dict[str, Any] = _written(output, mil=reader.unit == "mil")
        if explain:
            answer["sources"] = [dataclasses.asdict(source) for source in self.sources]
            answer["caution"] = self.caution
        return answer


class UnknownCalculation(LookupError):
    """No calculation of that name."""


_registered: dict[str, Calculation] = {}
F = TypeVar("F", bound=Callable[..., Any])


def calculation(
    name: str,
    *,
    title: str,
    group: str,
    sources: tuple[Source, ...],
    caution: str = "",
    example: Mapping[str, Any] = MappingProxyType({}),
) -> Callable[[F], F]:
    """Register a function under a name; its input and output types are read from its annotations.

    ``example`` is a mapping that the calculation accepts: forms show it, tests start from it.
    """

    def register(function: F) -> F:
        hints = typing.get_type_hints(function)
        output_type = hints.pop("return")
        (input_type,) = hints.values()
        if name in _registered:
            raise ValueError(f"calculation {name} is registered twice")
        _registered[name] = Calculation(
            name, title, group, sources, caution, example, function, input_type, output_type
        )
        return function

    return register


@cache
def _load() -> None:
    for module in MODULES:
        if importlib.util.find_spec(f"inspection.standards.{module}"):
            importlib.import_module(f"inspection.standards.{module}")


def all_calculations() -> tuple[Calculation, ...]:
    """Every calculation, by name."""
    _load()
    return tuple(_registered[name] for name in sorted(_registered))


def get(name: str) -> Calculation:
    """The calculation of that name; raises UnknownCalculation, which names the nearest one."""
    _load()
    try:
        return _registered[name]
    except KeyError:
        near = get_close_matches(name, _registered, n=1)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise UnknownCalculation(f"there is no calculation named {name[:100]!r}{hint}") from None


def calculate(name: str, given: Mapping[str, Any], *, explain: bool = False) -> dict[str, Any]:
    """Run a calculation on named values and answer with values fit for JSON.

    Thicknesses come back in the unit they were given in. ``explain`` adds ``sources`` and ``caution``.
    Raises UnknownCalculation and InputFault.
    """
    return get(name).run(given, explain=explain)


_AS_THEY_ARE = frozenset({str, int, float, bool, type(None)})


def _written(value: Any, *, mil: bool) -> Any:
    # What a large answer holds most of is asked about first.
    if type(value) in _AS_THEY_ARE:
        return value
    if type(value) is Fraction:
        return plain(value)
    if isinstance(value, list | tuple):
        return [_written(part, mil=mil) for part in value]
    if isinstance(value, Check):
        return _written_check(value, mil=mil)
    return _written_rarely(value, mil=mil)


def _written_rarely(value: Any, *, mil: bool) -> Any:
    match value:
        case str() | int() | float():
            return value
        case date():
            return value.isoformat()
        case Mapping():
            return {name: _written(part, mil=mil) for name, part in value.items()}
        case _:
            return _written_record(value, mil=mil)


def _written_record(record: Any, *, mil: bool) -> dict[str, Any]:
    answer = {}
    kind: Any = type(record)
    for spec in fields_of(kind):
        name = spec.attribute
        value = getattr(record, name)
        if value is None:
            continue
        if mil and name.endswith("_um"):
            answer[name.removesuffix("_um") + "_mil"] = _written(_in_mil(value), mil=mil)
        else:
            answer[name] = _written(value, mil=mil)
    return answer


def _written_check(check: Check, *, mil: bool) -> dict[str, Any]:
    limit, observed, unit = check.limit, check.observed, check.unit
    if unit == "um":
        unit = "mil" if mil else "µm"
        limit, observed = (_in_mil(limit), _in_mil(observed)) if mil else (limit, observed)
    if isinstance(limit, int | Fraction) and isinstance(observed, int | Fraction):
        limit, observed = plain_apart(Fraction(limit), Fraction(observed))
    answer = {
        "name": check.name, "clause": check.clause, "sentence": check.sentence, "limit": _written(limit, mil=mil),
        "observed": _written(observed, mil=mil), "unit": unit, "passed": check.passed,
        "decided_by": list(check.decided_by), "counted_in": check.counted_in,
    }  # fmt: skip
    if check.where:
        answer["where"] = check.where
    return answer


def _in_mil(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return [_in_mil(part) for part in value]
    if isinstance(value, int | Fraction) and not isinstance(value, bool):
        return Fraction(value) / UM_PER_MIL
    if isinstance(value, float):
        return value / float(UM_PER_MIL)
    return value
