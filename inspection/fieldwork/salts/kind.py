"""Soluble salts as a kind of record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from inspection.fieldwork.asked import Choice, Number, Rows, Words, plain
from inspection.fieldwork.declared import Declared, Given, limits_of
from inspection.fieldwork.kind import Column, Discipline, Facts, RecordKind, Reliance
from inspection.fieldwork.salts.models import SaltsRecord
from inspection.foundation.refusals import Fault, Refused
from inspection.instruments.models import Gauge
from inspection.projects.coating import CoatingSystem, SaltsAs
from inspection.standards import InputFault, calculate
from inspection.standards.salts import BLANK_AT_MOST_US_CM, CHLORIDE, MIXED, SODIUM_CHLORIDE
from inspection.standards.salts_patches import DECLARED as DECLARED_NUMBER
from inspection.standards.salts_patches import EACH, MEAN

SALTS = {SaltsAs.MIXED: MIXED, SaltsAs.SODIUM_CHLORIDE: SODIUM_CHLORIDE, SaltsAs.CHLORIDE: CHLORIDE}
US_CM_PER_MS_M = 10
# IMO MSC.215(82), Table 1: at most 50 mg/m² as sodium chloride, by ISO 8502-9 (stored source).
IMO_LIMIT_MG_M2 = 50
# Results that agree this well are rarer than one typed several times; our own limit.
ALL_EQUAL = 3

ASKED = (
    Choice(
        name="conductivity_unit", label="Conductivities are in", choices=SaltsRecord.Unit.choices,
        help="1 mS/m is 10 µS/cm. Of the blank and of every patch.",
    ),
    Number(name="blank", label="Blank", most=1000, places=2, help="The water before, in the same patch and syringe."),
    Rows(
        name="patches", label="Patches, a line for each", one="patch", most=200,
        of=(
            Number(name="conductivity", label="Conductivity", most=100_000, places=2, required=False),
            Number(name="solution_c", label="Solution", unit="°C", most=60, places=1, required=False),
            Choice(name="lost", label="Liquid", choices=[("lost", "Lost, no result")], required=False),
        ),
        help="Place, colon, conductivity as the meter showed it, such as Frame 3: 48. Where the meter does not "
        "compensate, the temperature of the solution after it: Frame 3: 48 18.5. Frame 4: lost where liquid was lost.",
    ),
    Number(name="volume_ml", label="Water in each patch", unit="ml", least=1, most=1000, places=2),
    Number(name="patch_cm2", label="Area of a patch", unit="cm²", least=1, most=10_000, places=2, help="Often 12.5."),
    Choice(
        name="reference_c", label="Conductivity at", choices=SaltsRecord.Reference.choices,
        help="The temperature your meter refers to.",
    ),
    Number(
        name="coefficient_pct_per_k", label="Temperature coefficient", unit="%/K", most=5, places=2, required=False,
        help="Only with temperatures of solutions; met: 1.9 to 2.1 for dilute salts.",
    ),
    Choice(
        name="salt", label="Expressed as", choices=SaltsAs.choices, required=False,
        help="Empty: as the coating system’s limit is. The same conductivity gives another figure for each.",
    ),
    Choice(
        name="judged_by", label="The limit holds for", choices=SaltsRecord.JudgedBy.choices, required=False,
        help="By the specification. Empty: for each patch.",
    ),
    Number(
        name="tests_wanted", label="Patches asked for on this area", least=1, most=1000, required=False,
        help="Empty where the specification gives no number.",
    ),
    Number(name="minutes", label="Time of extraction", unit="min", most=1000, places=1, required=False),
    Words(name="patch_batch", label="Batch of the patches", required=False),
)  # fmt: skip


def _limits(system: CoatingSystem) -> dict[str, Any]:
    limit: Any = system.salts_max_mg_m2
    salt = system.salts_as
    if system.of_ballast_tanks:
        limit, salt = IMO_LIMIT_MG_M2 if limit is None else limit, salt or SaltsAs.SODIUM_CHLORIDE.value
    return limits_of(limit_mg_m2=limit, salt=salt)


def salt_of(record: SaltsRecord) -> str:
    """What the result is expressed as. Raises Refused where nobody says it."""
    salt = record.salt or record.asked_for.get("salt", "")
    if not salt:
        raise Refused("Say as which salt it is expressed; the coating system does not.", field="salt")
    if record.asked_for.get("salt", salt) != salt:
        wanted = SaltsAs(record.asked_for["salt"]).label.lower()
        raise Refused(f"The limit of the coating system is expressed as {wanted}; express the result so.", field="salt")
    return str(salt)


def _us_cm(record: SaltsRecord, value: Any) -> int | float:
    return plain(plain(value) * (US_CM_PER_MS_M if record.conductivity_unit == SaltsRecord.Unit.MS_M else 1))


def _common(record: SaltsRecord) -> dict[str, Any]:
    """What decides the figure of every patch."""
    coefficient = record.coefficient_pct_per_k
    return {
        "species": SALTS[SaltsAs(salt_of(record))], "volume_ml": plain(record.volume_ml),
        "patch_cm2": plain(record.patch_cm2), "blank_us_cm": _us_cm(record, record.blank),
        "reference_c": int(record.reference_c),
        **({} if coefficient is None else {"coefficient_pct_per_k": plain(coefficient)}),
    }  # fmt: skip


def _patch(record: SaltsRecord, patch: dict[str, Any], number: int) -> dict[str, Any]:
    if patch["conductivity"] is None and not patch["lost"]:
        raise Refused(Fault("Give its conductivity, or say that liquid was lost.", "patches", number))
    return {
        "conductivity_us_cm": _us_cm(record, patch["conductivity"] or 0),
        "liquid_lost": "yes" if patch["lost"] else "no",
        **({"place": patch["place"]} if patch["place"] else {}),
        **({} if patch["solution_c"] is None else {"solution_c": patch["solution_c"]}),
    }


def _given(record: SaltsRecord) -> Given:
    patches = [_patch(record, patch, number) for number, patch in enumerate(record.patches, start=1)]
    common = _common(record)
    if "limit_mg_m2" not in record.asked_for:
        return Given("", {}, "The coating system of this area gives no limit for soluble salts, so it was not judged.")
    return Given(
        "salts-patches",
        {
            **common, "judged_by": MEAN if record.judged_by == SaltsRecord.JudgedBy.MEAN else EACH,
            "plan": DECLARED_NUMBER, "tests": record.tests_wanted or 1, "patches": patches,
            "limit_mg_m2": record.asked_for["limit_mg_m2"],
        },
    )  # fmt: skip


def _figures(record: SaltsRecord) -> list[float]:
    """The density of each patch that has a result, in mg/m²; the same with and without a limit."""
    found = []
    for number, patch in enumerate(record.patches, start=1):
        if not patch["lost"]:
            temperature = {} if patch["solution_c"] is None else {"solution_c": patch["solution_c"]}
            of_one = _common(record) | temperature | {"conductivity_us_cm": _us_cm(record, patch["conductivity"])}
            if not temperature:
                of_one.pop("coefficient_pct_per_k", None)
            try:
                found.append(float(calculate("salts-bresle", of_one)["density_mg_m2"]))
            except InputFault as wrong:
                raise Refused(Fault(fault.message, "patches", number) for fault in wrong.faults) from wrong
    return found


def _found(record: SaltsRecord) -> None:
    """Keep mean and highest, and say how sure the decision is."""
    found = _figures(record)
    record.mean_mg_m2, record.highest_mg_m2 = (sum(found) / len(found), max(found)) if found else (None, None)
    compared = record.mean_mg_m2 if record.judged_by == SaltsRecord.JudgedBy.MEAN else record.highest_mg_m2
    limit = record.asked_for.get("limit_mg_m2")
    if compared is None or limit is None:
        return
    salt = SALTS[SaltsAs(salt_of(record))]
    sure = calculate(
        "salts-decision",
        {"observed_mg_m2": compared, "observed_as": salt, "limit_mg_m2": limit, "limit_as": salt},
    )
    record.result |= {"how_sure": {"compared_mg_m2": compared, **_kept(sure)}}


def _kept(sure: dict[str, Any]) -> dict[str, Any]:
    names = ("probability_above_limit", "standard_uncertainty_mg_m2", "sure_below_mg_m2", "precision_known", "advice")
    return {name: sure[name] for name in names}


def _doubts(record: SaltsRecord) -> Iterator[Fault]:
    read = [patch["conductivity"] for patch in record.patches if patch["conductivity"] is not None]
    if _us_cm(record, record.blank) > BLANK_AT_MOST_US_CM:
        yield Fault(f"The blank conducts more than {BLANK_AT_MOST_US_CM} µS/cm: use cleaner water.", "blank")
    if any(plain(value) == plain(record.blank) for value in read):
        yield Fault("A patch conducts exactly as the blank does: no salt at all is rare. Check both.", "patches")
    if len(read) >= ALL_EQUAL and len(set(read)) == 1:
        yield Fault("All patches read the same; is each its own reading?", "patches")


def _shown(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f} mg/m²"


def _facts(record: SaltsRecord) -> Facts:
    limit = record.asked_for.get("limit_mg_m2")
    found = [
        ("Highest", _shown(record.highest_mg_m2)),
        ("Mean", _shown(record.mean_mg_m2)),
        ("Calculated as", SaltsAs(salt_of(record)).label),
        ("Limit", "none specified" if limit is None else f"{limit} mg/m²"),
    ]
    if sure := record.result.get("how_sure"):
        share = f"{100 * sure['probability_above_limit']:.0f} %"
        found.append(("Probability that it lies above the limit", f"{share}. {sure['advice']}"))
    return [*found, *DECLARED.facts(record)]


DECLARED = Declared(
    model=SaltsRecord,
    one="soluble salts record",
    asked=ASKED,
    limits=_limits,
    given=_given,
    doubts=_doubts,
    told=lambda record: {"patches": len(record.patches), "highest_mg_m2": record.highest_mg_m2},
    fields={"blank_us_cm": "blank", "species": "salt"},
    instrument=Gauge.Kind.SALTS,
    consumable="patches",
    found=_found,
)

KIND = RecordKind(
    name=SaltsRecord.KIND,
    title="Soluble salts",
    one=DECLARED.one,
    many="soluble salts records",
    lead="What patches drew out of prepared steel, by its conductivity.",
    model=SaltsRecord,
    instrument=Gauge.Kind.SALTS,
    reliance=Reliance.CERTIFIED,
    discipline=Discipline.PREPARATION,
    of_coat="",
    columns=(
        Column("Patches", lambda record: str(len(record.patches)), is_number=True),
        Column("Highest", lambda record: _shown(record.highest_mg_m2), is_number=True),
    ),
    sentence=lambda record: (
        f"{len(record.patches)} patch{'es' if len(record.patches) > 1 else ''}, "
        f"highest {_shown(record.highest_mg_m2)} as {SaltsAs(salt_of(record)).label.lower()}"
    ),
    facts=_facts,
    digest=DECLARED.digest,
    verdict=DECLARED.verdict,
    warnings=DECLARED.warnings,
    doubts=DECLARED.all_doubts,
    parts=DECLARED.parts,
    taken=DECLARED.taken(),
    reach="Conductivity is not chloride, and one result is good to some ±8 mg/m² (NACE SP0508, 30 to 80 mg/m²). "
    "A test that failed stays; what is measured after washing stands beside it.",
    caution="Needles prick, and cleaned steel lies in blast areas and tanks: permit, air and safe access first.",
)
