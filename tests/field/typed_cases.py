"""Generated figures as people type them, and what is subtracted for the profile."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from random import Random
from types import SimpleNamespace
from typing import Any, cast

from django.core.exceptions import ValidationError

from inspection.fieldwork.forms import HumidityField
from inspection.fieldwork.profile import correction
from inspection.foundation.form_fields import Figure
from inspection.foundation.refusals import Fault, Refused
from inspection.foundation.units import Unit, in_unit, to_nm
from tests.field.comparing import Case, refused


def corrections(seed: int, count: int) -> Iterator[Case]:
    """Profiles at each segment and a nanometre beside it; base metal readings whose mean is halfway."""
    rnd = Random(seed)
    for _ in range(count):
        profile = {
            "mean_nm": rnd.choice((25, 40, 60, 70, 100, 150)) * 1000 + rnd.choice((-1, 0, 1)),
            "abrasive": rnd.choice(("grit", "shot", "")),
            "base_metal_nm": [rnd.randrange(8_000, 16_000) for _ in range(rnd.choice((0, 2, 10)))],
        }
        way, typed = rnd.choice(("correction", "base_metal", "adjusted")), rnd.choice((0, 0, 25_000, 12_345))
        record = cast("Any", SimpleNamespace(area_id=1, **profile))
        try:
            want: Any = correction.settled_correction(area=cast("Any", 1), way=way, correction_nm=typed, profile=record)
        except Refused as wrong:
            want = refused(wrong.faults)
        yield Case("settledCorrection", [{"way": way, "correction_nm": typed, "profile": profile}], want)


TYPED = ("{0}.{1}", "{0},{1}", "{0}", " {0}.{1} ", "+{0}.{1}", "-{0}.{1}", ".{1}", "{0}.", "{0},{1},{1}", "{0} {1}",
         "{0}e{1}", "0{0}.{1}0", "", "about {0}", "nan", "inf", "{0}.{1}.{1}", "−{0}", "1,{0}.{1}",
         "{0}µm")  # fmt: skip


def figures(seed: int, count: int) -> Iterator[Case]:
    """Figures as people type them: comma and point, too many digits, the largest that is measured, words."""
    rnd = Random(seed)
    field, tenth = Figure(), Decimal("0.1")
    for _ in range(count):
        whole = rnd.choice((0, 7, 84, 100_000, 100_001, 3_937, 3_938, 10**8, 10**9, rnd.randrange(2_000)))
        text = rnd.choice(TYPED).format(whole, rnd.choice(("0", "5", "25", "08", "001", "1234", "7000")))
        unit = rnd.choice(list(Unit))
        try:
            yield Case("toNm", [text, str(unit)], to_nm(text, unit))
        except Refused as wrong:
            yield Case("toNm", [text, str(unit)], refused(wrong.faults))
        nm = rnd.randrange(-2_000, 400_000) * rnd.choice((1, 25, 50, 127))
        yield Case("inUnit", [nm, str(unit)], in_unit(nm, unit))
        try:
            number = field.to_python(text)
            wrong_digits = number is not None and number != number.quantize(tenth) if _fits(number) else True
            told = f"{_pointed(text)[:20]} has too many digits; give at most one after the point."
            want: Any = refused([Fault(told)]) if wrong_digits else None if number is None else _pointed(text)
        except ValidationError as invalid:
            want = refused([Fault(invalid.messages[0])])
        yield Case("toDecimal", [text, {"places": 1, "example": "12.5"}], want)
        percent = text + rnd.choice(("", "", " %"))
        yield Case("toHumidity", [percent, {"example": "12.5"}], _humidity(percent) or want)


def _humidity(text: str) -> dict[str, Any] | None:
    """What the office's page says of a humidity with its sign or as a share of one; None of any other figure."""
    try:
        HumidityField().to_python(text)
    except ValidationError as invalid:
        if any(words in invalid.messages[0] for words in ("%", "share of one")):
            return refused([Fault(invalid.messages[0])])
    return None


def _fits(number: Decimal | None) -> bool:
    return number is None or abs(number) < 10**20


def _pointed(text: str) -> str:
    text = text.strip().replace("−", "-")
    return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text
