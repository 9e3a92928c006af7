"""Holiday testing with a wet sponge at low voltage: how far each document reaches, and the voltages it allows."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from inspection.standards.holiday import WETTING_AGENT_ABOVE_UM
from inspection.standards.registry import (
    Check,
    Judged,
    Source,
    calculation,
    choice,
    judged,
    number,
    result,
    thickness,
)
from inspection.standards.units import UM_PER_MIL

D5162 = Source("ASTM D5162", "2021, wet sponge to 0.5 mm (20 mil)", "abstract", "stored source")
UNDER_75_V = Source("ASTM D5162; NACE SP0188", "below 75 V; devices of 67.5 V", "", "from memory")
HANDBOOK = Source("MIL-HDBK-1110", "low voltage 30 to 90 V to 20 mil", "", "stored source")
G62 = Source(
    "ASTM G62", "under 100 V; 0.025 to 0.254 mm, to 0.508 mm with a wetting agent", "method A", "stored source"
)
AS_3894 = Source("AS 3894.2", "2002, wet sponge for films under 250 µm", "catalogue", "stored source")
ISO_29601 = Source("ISO 29601", "2011, the film's thickness chooses the device", "abstract", "stored source")
ISO_VOLTAGES = Source("ISO 29601", "9 V to 300 µm, 90 V from 300 to 500 µm: uncertain, not used", "", "from memory")

CAUTION = (
    "The film must be cured and dry. Prove the earth and the device on a bare place first; move the sponge at about "
    "0.3 m/s at most, to and fro (from memory); dry the surface before a second pass. The sponge does not find thin "
    "places. Ask the coating's maker; local codes and the specification come first."
)
UNKNOWN = {
    "ISO 29601": "Remembered and not verified: 9 V to 300 µm and 90 V from 300 to 500 µm. Take both from your own copy "
    "of the standard.",
    "NACE SP0188": "How thick a film SP0188 lets the sponge test is not known here: take it from your own copy.",
    "AS 3894.2": "The voltage of AS 3894.2 is not known here: take it from your own copy.",
}


D5162_MM_UM, D5162_INCH_UM = Fraction(500), 20 * UM_PER_MIL


@dataclass(frozen=True)
class Document:
    """What one document is known to say. Films in µm, None where unknown; ``text`` says a border as the document does.

    ``reach_included`` and ``most_included`` tell whether the border itself still belongs.
    """

    clause: str
    reach_um: Fraction | None = None
    reach_included: bool = True
    least_v: int | None = None
    most_v: int | None = None
    most_included: bool = True


DOCUMENTS = {
    "ASTM D5162": Document("ASTM D5162-21; voltage from memory", D5162_MM_UM, most_v=75, most_included=False),
    "NACE SP0188": Document("NACE SP0188 (from memory)", most_v=75, most_included=False),
    "ISO 29601": Document("ISO 29601:2011"),
    "AS 3894.2": Document("AS 3894.2:2002", Fraction(250), reach_included=False),
    "ASTM G62": Document("ASTM G62, method A", Fraction(508), most_v=100, most_included=False),
    "MIL-HDBK-1110": Document("MIL-HDBK-1110", Fraction(508), least_v=30, most_v=90),
}


@dataclass(frozen=True, kw_only=True)
class SpongeIn:
    dry_film_um: Fraction = thickness("Dry film", above=0, maximum=25_400)
    standard: str = choice("Standard", tuple(DOCUMENTS))
    voltage_v: Fraction | None = number(
        "Voltage of the device", help="As the specification or the standard names it.", above=0, maximum=100,
        optional=True,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class SpongeOut(Judged):
    reach_um: Fraction | None = result("Sponge test reaches to a film of", optional=True)
    least_v: int | None = result("Least voltage", optional=True)
    most_v: int | None = result("Voltage at most, or below", optional=True)
    wetting_agent: bool = result("Wetting agent in the water")
    notes: tuple[str, ...] = result("Notes")


@calculation(
    "holiday-sponge",
    title="Wet-sponge holiday test, low voltage",
    group="Tests",
    sources=(D5162, UNDER_75_V, HANDBOOK, G62, AS_3894, ISO_29601, ISO_VOLTAGES),
    example={"dry_film_um": 300, "standard": "ASTM D5162", "voltage_v": 67.5},
    caution=CAUTION,
)
def holiday_sponge(inputs: SpongeIn) -> SpongeOut:
    """Does the wet-sponge test of a document reach this film, and does the device's voltage keep to it?

    Films from above 0 to 25 400 µm, voltages to 100 V. What a document is not known to say is not judged, and then the
    verdict is "not judged": the voltage is the specification's or that of your own copy. A wetting agent is asked for
    above 254 µm (ASTM G62).
    """
    document = DOCUMENTS[inputs.standard]
    checks = [check for check in (_reach(inputs, document), *_voltage(inputs, document)) if check]
    known = document.reach_um is not None and document.most_v is not None and not _between_the_figures(inputs)
    verdict = judged(checks)
    return SpongeOut(
        verdict=verdict if (known and inputs.voltage_v is not None) or verdict == "fail" else "not judged",
        rule=document.clause,
        edition="",
        checks=tuple(checks),
        reach_um=document.reach_um,
        least_v=document.least_v,
        most_v=document.most_v,
        wetting_agent=inputs.dry_film_um > WETTING_AGENT_ABOVE_UM,
        notes=tuple(_notes(inputs)),
    )


def _reach(inputs: SpongeIn, document: Document) -> Check | None:
    if document.reach_um is None or _between_the_figures(inputs):
        return None
    film, border = inputs.dry_film_um, document.reach_um
    passed = film <= border if document.reach_included else film < border
    sentence = "The film must not be thicker than the sponge test of this document reaches."
    if not document.reach_included:
        sentence = "The film must be thinner than the border of the sponge test of this document."
    return Check("reach of the sponge", document.clause, sentence, border, film, passed, unit="um", counted_in="film")


def _between_the_figures(inputs: SpongeIn) -> bool:
    """ASTM D5162 writes 0.5 mm (20 mil), and 20 mil is 508 µm: between the two it says both yes and no."""
    return inputs.standard == "ASTM D5162" and D5162_MM_UM < inputs.dry_film_um <= D5162_INCH_UM


def _voltage(inputs: SpongeIn, document: Document) -> list[Check]:
    volts, checks = inputs.voltage_v, []
    if volts is None:
        return []
    if document.least_v is not None:
        sentence = "The device must have at least the least voltage of the document."
        checks.append(Check("least voltage", document.clause, sentence, document.least_v, volts,
                            volts >= document.least_v, unit="V", counted_in="device"))  # fmt: skip
    if document.most_v is not None:
        passed = volts <= document.most_v if document.most_included else volts < document.most_v
        word = "not be above" if document.most_included else "stay below"
        sentence = f"The voltage of the device must {word} that of the document."
        checks.append(Check("greatest voltage", document.clause, sentence, document.most_v, volts, passed,
                            unit="V", counted_in="device"))  # fmt: skip
    return checks


def _notes(inputs: SpongeIn) -> list[str]:
    notes = [UNKNOWN[inputs.standard]] if inputs.standard in UNKNOWN else []
    if _between_the_figures(inputs):
        notes.append("Above 0.5 mm and within 20 mil (508 µm) the two figures of the standard disagree: ask.")
    if inputs.voltage_v is None:
        notes.append("No voltage was given, so none is judged.")
    if inputs.dry_film_um > WETTING_AGENT_ABOVE_UM:
        notes.append("Above 0.254 mm add a wetting agent to the water (ASTM G62).")
    return notes
