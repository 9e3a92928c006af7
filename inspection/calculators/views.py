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
from inspection.calculators.forms import CalculatorForm
from inspection.fieldwork.verdicts_shown import checks_shown
from inspection.standards import InputFault, all_calculations, calculate, get
from inspection.standards.fields import UNITS_BY_SUFFIX
from inspection.standards.registry import Calculation, UnknownCalculation
from inspection.standards.units import legible

TOLD_APART = frozenset({"verdict", "rule", "edition", "checks", "notes", "sources", "caution"})
MOST_LISTED = 60
LONGEST_SEARCH = 100


@dataclass(frozen=True)
class Figure:
    """One output with its label: a value as text, or rows of a small table."""

    label: str
    text: str = ""
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


@require_safe
def calculators(request: SignedIn) -> HttpResponse:
    """All calculators by their groups, or those that a search and a group leave."""
    every = sorted(all_calculations(), key=lambda one: (one.group, one.title))
    words = " ".join(request.GET.get("q", "").split())[:LONGEST_SEARCH]
    group = request.GET.get("group", "")
    found = [one for one in every if group in ("", one.group) and _matches(one, words)]
    context = {
        "groups": [(name, list(inside)) for name, inside in groupby(found, key=lambda one: one.group)],
        "names": list(dict.fromkeys(one.group for one in every)),
        "words": words,
        "group": group,
        "count": len(found),
        "all_count": len(every),
        "narrowed": bool(words or group),
    }
    return render(request, "calculators/calculators.html", context)


def _matches(calculation: Calculation, words: str) -> bool:
    """Every word stands in the name, the title, the summary or a source; ISO19840 finds ISO 19840."""
    told = (calculation.name, calculation.title, calculation.group, calculation.summary, *calculation.sources)
    text = " ".join(map(str, told)).casefold()
    return all(word in text or word in text.replace(" ", "") for word in words.casefold().split())


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
        figures = list(_figures(calculation, answer, form.unit))
        checks = checks_shown(answer, form.unit) if "checks" in answer else []
        details = checks or any(figure.rows for figure in figures)
        context |= {"figures": figures, "checks": checks, "details": details}
    return render(request, "calculators/calculator.html", context, status=422 if form.faults else 200)


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
        rows = tuple(tuple(_text(row.get(name), _unit(name)) for name in names) for row in value[:MOST_LISTED])
        return Figure(label, heads=tuple(_head(name) for name in names), rows=rows)
    text = _text(value, sign)
    return Figure(label, f"{text}\N{NO-BREAK SPACE}{sign}" if sign and text not in ("", "none") else text)


def _unit(name: str) -> str:
    stem, _, suffix = name.rpartition("_")
    return UNITS_BY_SUFFIX.get(suffix, "") if stem else ""


def _head(name: str) -> str:
    unit = _unit(name)
    return f"{name.rpartition('_')[0].replace('_', ' ')}, {unit}" if unit else name.replace("_", " ")


def _text(value: Any, unit: str = "") -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        more = f" and {len(value) - MOST_LISTED} more" if len(value) > MOST_LISTED else ""
        return (", ".join(_text(part, unit) for part in value[:MOST_LISTED]) + more) or "none"
    if isinstance(value, Mapping):
        return "; ".join(f"{_head(str(name))}: {_text(part, _unit(str(name)))}" for name, part in value.items())
    return legible(value, unit)
