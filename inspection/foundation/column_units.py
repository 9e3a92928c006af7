"""The unit that the head of a column names, or a cell: its figures turned into the column's own unit, exactly."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from fractions import Fraction

# By the unit of a column, how many of it are in one of another. The foot is 0.3048 m, the mil 25.4 µm, both exactly
# (NIST SP 811, B.8).
FOOT, INCH = Fraction("0.3048"), Fraction("0.0254")
IN_OURS: dict[str, dict[str, Fraction]] = {
    "m2": {
        "m2": Fraction(1), "sqm": Fraction(1), "qm": Fraction(1), "squaremetres": Fraction(1), "dm2": Fraction(1, 100),
        "cm2": Fraction(1, 10_000), "mm2": Fraction(1, 1_000_000), "ft2": FOOT**2, "sqft": FOOT**2,
        "squarefeet": FOOT**2, "in2": INCH**2, "sqin": INCH**2,
    },
    "m": {
        "m": Fraction(1), "dm": Fraction(1, 10), "cm": Fraction(1, 100), "mm": Fraction(1, 1000), "km": Fraction(1000),
        "ft": FOOT, "feet": FOOT, "inch": INCH, "inches": INCH,
    },
    "um": {
        "um": Fraction(1), "micron": Fraction(1), "microns": Fraction(1), "micrometre": Fraction(1),
        "micrometres": Fraction(1), "mm": Fraction(1000), "nm": Fraction(1, 1000),
    },
    "mil": {"mil": Fraction(1), "mils": Fraction(1)},
    "c": {"c": Fraction(1), "celsius": Fraction(1), "degc": Fraction(1), "f": Fraction(5, 9), "degf": Fraction(5, 9),
          "fahrenheit": Fraction(5, 9)},
}  # fmt: skip
SHOWN = {
    "m2": "m²", "um": "µm", "c": "°C", "cm2": "cm²", "mm2": "mm²", "dm2": "dm²", "ft2": "ft²", "in2": "in²", "f": "°F",
}  # fmt: skip
FIGURE = re.compile(r"([±\s]*)([-+]?\d[\d.,]*)\s*(.*)")
THOUSANDS = re.compile(r"[-+]?[1-9]\d{0,2}[.,]\d{3}")
# A figure that does not end is written so far, below a hundred-thousandth of any unit here.
DIGITS = 6
# What no column measures stays as it is written, and is told beside its row; so does what is longer than any figure.
TOO_MUCH, LONGEST = 10**15, 60


def split(head: str, ours: str) -> tuple[str, str]:
    """A head in plain words without its unit, and the unit; empty where it names none of what the column measures."""
    plain = head.strip().casefold().replace("²", "2").replace("^2", "2").replace("µ", "u").replace("\u03bc", "u")
    words = re.findall(r"[^\W_]+", plain)
    for last in (2, 1):
        unit = "".join(words[-last:])
        if len(words) >= last and unit in IN_OURS[ours]:
            return " ".join(words[:-last]), unit
    return " ".join(words), ""


def in_ours(cell: str, ours: str, of_head: str = "") -> str:
    """A cell's figure in the unit of its column; what is no figure stays as it is, to be told beside its row."""
    found = FIGURE.fullmatch(cell.strip())
    base, in_cell = split(found[3], ours) if found else ("", "")
    if not found or base or len(found[2]) > LONGEST:
        return cell
    unit, sign, text = in_cell or of_head or ours, found[1].strip(), found[2]
    if IN_OURS[ours][unit] == 1:
        return f"{sign}{text}"
    figure = _figure(text)
    if figure is None:
        return cell
    if ours != "um" and THOUSANDS.fullmatch(text):
        # 12,500 cm² is one thing or a thousandth of it; beside its row it is asked for otherwise. No film is 1250 mm.
        return f"{sign}{text} {shown(unit)}"
    if ours == "c":
        # A storage temperature is kept to a tenth.
        return f"{round(float((figure - 32) * IN_OURS[ours][unit]), 1)}"
    return f"{sign}{_written(figure * IN_OURS[ours][unit])}"


def _figure(text: str) -> Fraction | None:
    """As it is written, with a point or a comma; None of what no column here measures."""
    try:
        found = Fraction(Decimal(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text))
    except InvalidOperation:
        return None
    return found if abs(found) < TOO_MUCH else None


def _written(exact: Fraction) -> str:
    figure = Decimal(exact.numerator) / Decimal(exact.denominator)
    text = f"{round(figure, DIGITS).normalize():f}"
    # Three digits after the point would be taken for thousands, which a computed figure has not.
    return f"{text}0" if text[-4:-3] == "." else text


def shown(unit: str) -> str:
    return SHOWN.get(unit, unit)
