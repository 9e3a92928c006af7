"""The calculators: every calculation of the standards core with a form, its answer explained. Sign-in is enough."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from accounts.middleware import SignedIn
from inspection.fieldwork.calculator_form import CalculatorForm
from inspection.fieldwork.showing import checks_shown
from inspection.standards import InputFault, all_calculations, calculate, get
from inspection.standards.fields import UNITS_BY_SUFFIX
from inspection.standards.registry import Calculation, UnknownCalculation
from inspection.standards.units import shown

TOLD_APART = frozenset({"verdict", "rule", "edition", "checks", "notes", "sources", "caution"})
MOST_LISTED = 60


@dataclass(frozen=True)
class Figure:
    """One output with its label: a value as text, or rows of a small table."""

    label: str
    text: str = ""
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


@require_safe
def calculators(request: SignedIn) -> HttpResponse:
    by_group = sorted(all_calculations(), key=lambda one: (one.group, one.title))
    groups = [(name, list(found)) for name, found in groupby(by_group, key=lambda one: one.group)]
    return render(request, "fieldwork/calculators.html", {"groups": groups})


@require_http_methods(["GET", "HEAD", "POST"])
def calculator(request: SignedIn, name: str) -> HttpResponse:
    """One calculation: its form and, on POST, the answer. Nothing is stored."""
    try:
        calculation = get(name)
    except UnknownCalculation as unknown:
        raise Http404(str(unknown)) from None
    form = CalculatorForm(calculation, request.POST.dict() if request.method == "POST" else None)
    if request.method != "POST" and "example" in request.GET:
        form = form.fill(calculation.example)
    answer = None
    if request.method == "POST" and not form.asks_for_rows:
        answer = _answer(calculation, form)
    context = {"calculation": calculation, "form": form, "answer": answer}
    if answer:
        context |= {
            "figures": list(_figures(calculation, answer, form.unit)),
            "checks": checks_shown(answer, form.unit) if "checks" in answer else [],
        }
    return render(request, "fieldwork/calculator.html", context, status=422 if form.faults else 200)


def _answer(calculation: Calculation, form: CalculatorForm) -> dict[str, Any] | None:
    given = form.given()
    if given is None:
        return None
    try:
        return calculate(calculation.name, given)
    except InputFault as refused:
        form.mark(refused)
        return None


def _figures(calculation: Calculation, answer: Mapping[str, Any], unit: str) -> Iterator[Figure]:
    for spec in calculation.outputs:
        for name in spec.names:
            if name in answer and name not in TOLD_APART:
                sign = "mil" if unit == "mil" and spec.is_thickness else spec.unit
                yield _figure(spec.label, answer[name], sign)


def _figure(label: str, value: Any, sign: str) -> Figure:
    if isinstance(value, list) and value and isinstance(value[0], Mapping):
        names = list(dict.fromkeys(name for row in value for name in row))
        rows = tuple(tuple(_text(row.get(name)) for name in names) for row in value[:MOST_LISTED])
        return Figure(label, heads=tuple(_head(name) for name in names), rows=rows)
    text = _text(value)
    return Figure(label, f"{text} {sign}" if sign and text not in ("", "none") else text)


def _head(name: str) -> str:
    stem, _, suffix = name.rpartition("_")
    unit = UNITS_BY_SUFFIX.get(suffix, "") if stem else ""
    return f"{stem.replace('_', ' ')}, {unit}" if unit else name.replace("_", " ")


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        more = f" and {len(value) - MOST_LISTED} more" if len(value) > MOST_LISTED else ""
        return (", ".join(_text(part) for part in value[:MOST_LISTED]) + more) or "none"
    if isinstance(value, Mapping):
        return "; ".join(f"{_head(str(name))}: {_text(part)}" for name, part in value.items())
    return shown(value)
