"""Mass balance a section and coat: litres used × volume solids against m² × mean film, and the loss between them.

What does not agree is asked about as a question with its arithmetic, never judged.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from inspection.standards import calculate
from inspection.works.lots.progress import Line

# Points of loss by which what was found may differ from what is declared before it is asked about (our own limit).
MAY_DIFFER_PCT = 15
UM_NM = 1_000


@dataclass(frozen=True)
class Balance:
    """Of one section and coat. Films in µm, loss as a share of the paint used in %."""

    line: Line
    greatest_um: float
    loss_pct: float | None
    question: str = ""


def balances(lines: Iterable[Line], declared_pct: Decimal | None) -> list[Balance]:
    """Of each section and coat of which litres were told and m² were coated."""
    return [_balance(line, declared_pct) for line in lines if line.coat and line.litres > 0 and line.claimed_m2 > 0]


def _balance(line: Line, declared_pct: Decimal | None) -> Balance:
    coat, mean = line.coat, line.mean_um
    if coat is None:
        raise ValueError("a balance is of a coat")
    aim = coat.nominal_nm or coat.minimum_nm
    # The film specified changes nothing of what is asked here; the rule wants one.
    answer = calculate(
        "paint-consumption",
        {
            "area_m2": float(line.claimed_m2), "volume_solids_pct": float(coat.volume_solids_pct),
            "dry_film_um": aim / UM_NM if aim else 1, "used_litres": float(line.litres),
            **({"measured_mean_um": mean} if mean and mean > 0 else {}),
        },
    )  # fmt: skip
    greatest, loss = float(answer["greatest_mean_um"]), answer.get("implied_loss_pct")
    question = _question(mean, greatest, None if loss is None else float(loss), declared_pct)
    return Balance(line, greatest, None if loss is None else float(loss), question)


def _question(mean: float | None, greatest: float, loss: float | None, declared: Decimal | None) -> str:
    if mean is None:
        return ""
    if mean > greatest:
        return (
            f"{mean:.0f} µm were measured, and the paint used holds at most {greatest:.0f} µm on these m². Are litres, "
            "m² and the profile under the readings right?"
        )
    if loss is None or declared is None:
        return ""
    if abs(loss - float(declared)) > MAY_DIFFER_PCT:
        more = "more" if loss > float(declared) else "less"
        return (
            f"{loss:.0f} % were lost by these figures, and {declared.normalize():f} % are declared, "
            f"{abs(loss - float(declared)):.0f} points {more}. Are litres, m² and thickness of the same places?"
        )
    return ""
