"""Check values from the world outside, as data: what is asked, what a published source answers, and how we know.

Every ``test_*.py`` here holds a list ``CHECKS`` and one test parametrized over it, which calls :func:`holds`.
Because the checks are data, ``python -m tests.reference`` can count them and write ``docs/reference-checks.md``.
"""

from __future__ import annotations

import importlib
import json
import math
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from inspection.standards import calculate

HERE = Path(__file__).parent
STORED, MEMORY, COMMON, COMPUTED = "stored source", "from memory", "common practice, no source", "computed"
PROVENANCES = (STORED, MEMORY, COMMON, COMPUTED)


@dataclass(frozen=True)
class Check:
    """One check value.

    ``calculation`` is the registered name; ``source`` names the publication (standard, handbook, library) as a reader
    would cite it; ``provenance`` says how the value was got (one of PROVENANCES). ``expected`` holds the part of the
    answer that the source states; numbers must agree within ``tolerance[name]`` (absolute, default exact).
    ``compute`` replaces the registered calculation where the source speaks about a function beneath it.
    """

    calculation: str
    source: str
    provenance: str
    inputs: Mapping[str, Any]
    expected: Mapping[str, Any]
    tolerance: Mapping[str, float] = field(default_factory=dict)
    note: str = ""
    compute: Callable[[Mapping[str, Any]], Mapping[str, Any]] | None = None

    def __post_init__(self) -> None:
        assert self.provenance in PROVENANCES, f"{self.provenance!r} is not one of {PROVENANCES}"
        assert self.source
        assert self.expected

    def __str__(self) -> str:
        return f"{self.calculation}: {self.source}"[:100]


def holds(check: Check) -> None:
    """Assert that our answer agrees with the source."""
    answer = check.compute(check.inputs) if check.compute else calculate(check.calculation, check.inputs)
    for name, value in check.expected.items():
        assert name in answer, f"{check}: the answer has no {name}: {sorted(answer)}"
        _agree(answer[name], value, check.tolerance.get(name, 0), f"{check}: {name}")


def _agree(got: Any, wanted: Any, tolerance: float, where: str) -> None:
    if isinstance(wanted, Mapping):
        for key, part in wanted.items():
            _agree(got[key], part, tolerance, f"{where}.{key}")
    elif isinstance(wanted, list | tuple):
        assert len(got) == len(wanted), f"{where}: {len(got)} values instead of {len(wanted)}"
        for index, part in enumerate(wanted):
            _agree(got[index], part, tolerance, f"{where}[{index}]")
    elif isinstance(wanted, bool) or not isinstance(wanted, int | float):
        assert got == wanted, f"{where}: {got!r}, the source says {wanted!r}"
    else:
        near = math.isclose(got, wanted, rel_tol=1e-12, abs_tol=tolerance)
        assert near, f"{where}: {got!r}, the source says {wanted!r} within {tolerance}"


def vectors(topic: str) -> Iterator[dict[str, Any]]:
    """The rows of vectors.json about one topic, with ``provenance`` reduced to one of PROVENANCES."""
    for row in json.loads((HERE / "vectors.json").read_text(encoding="utf-8")):
        if row["topic"] == topic:
            yield {**row, "provenance": _provenance(row["provenance"])}


def _provenance(words: str) -> str:
    if "memory" in words:
        return MEMORY
    return STORED if words.startswith(("published", "wording seen")) else COMPUTED


def from_vectors(topic: str, calculation: str = "") -> list[Check]:
    """Checks straight from the rows of one topic."""
    return [
        Check(calculation or topic, row["source"], row["provenance"], row["inputs"], row["expected"], row["tolerance"],
              row["note"])
        for row in vectors(topic)
    ]  # fmt: skip


_NUMBERED = re.compile(
    r"SSPC-[A-Z]+ \d+|ISO \d+(?:-\d+)?|ASTM [A-Z]\d+|IMO MSC\.\d+|MIL-HDBK-\d+|UFGS \d+|NACE SP\d+|JCGM \d+|FIPS \d+"
    r"|GOST \d+|WMO-No\. \d+|NBS Handbook \d+|NIST GMP \d+|NORSOK M-\d+|EA-4/02|ILAC-G24|FHWA-RD-98-084|AS 3894\.\d"
    r"|IMO MSC\.1/Circ\.\d+|Directive \d+/\d+/EC"
)
_NAMED = (
    "NIST/SEMATECH e-Handbook", "NIST Statistical Reference Datasets", "ASHRAE Handbook Fundamentals 2017",
    "CRC Handbook of Chemistry and Physics", "FAO Irrigation and Drainage Paper 56", "EURACHEM/CITAC QUAM",
    "US Army TM 5-3610-285-14", "Typical meteorological year", "PsychroLib", "meteorological library", "Montgomery",
    "Glantz and Slinker", "Lawrence 2005", "Published comparison of DFT standards", "Training slides on SSPC-PA 2",
    "AIAG MSA",
)  # fmt: skip


def publications_of(checks: list[Check]) -> set[str]:
    """The standards, handbooks and libraries that the sources name; a remark without one counts for nothing."""
    text = "\n".join(check.source for check in checks)
    return set(_NUMBERED.findall(text)) | {name for name in _NAMED if name in text}


def as_document(checks: list[Check]) -> str:
    """The table of docs/reference-checks.md."""
    lines = [
        "# Check values from the world outside",
        "",
        "Written by `python -m tests.reference` from `tests/reference/`; a test fails when it is out of date.",
        "",
        f"{len(checks)} checks of {len({check.calculation for check in checks})} calculations,",
        f"from {len(publications_of(checks))} standards, handbooks, articles and libraries:",
        ", ".join(sorted(publications_of(checks))) + ".",
        "",
        "Provenance: *stored* was read in a public text; *from memory* was recalled, not seen;",
        "*common practice* has no source; *computed* is the arithmetic of a published rule.",
        "",
        "| calculation | checks | stored | from memory | common practice | computed |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    for name in sorted({check.calculation for check in checks}):
        lines.append(_row(f"`{name}`", [check for check in checks if check.calculation == name]))
    lines += [_row("all", checks), "", "## Sources, by calculation", ""]
    for name in sorted({check.calculation for check in checks}):
        lines += [f"### {name}", ""]
        sources = Counter((check.source, check.provenance) for check in checks if check.calculation == name)
        lines += [f"- {source} — {count} × {provenance}" for (source, provenance), count in sorted(sources.items())]
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _row(name: str, checks: list[Check]) -> str:
    counts = Counter(check.provenance for check in checks)
    cells = [str(counts[provenance]) for provenance in (STORED, MEMORY, COMMON, COMPUTED)]
    return f"| {name} | {len(checks)} | {' | '.join(cells)} |"


def all_checks() -> list[Check]:
    """The checks of every module here."""
    found: list[Check] = []
    for path in sorted(HERE.glob("test_*.py")):
        found += getattr(importlib.import_module(f"tests.reference.{path.stem}"), "CHECKS", [])
    return found
