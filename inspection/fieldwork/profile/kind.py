"""Surface profile as a kind of record."""

from __future__ import annotations

from typing import Any

from inspection.fieldwork.kind import Column, Discipline, Facts, Parts, RecordKind, Reliance, TakenByForm
from inspection.fieldwork.models import ThicknessRecord
from inspection.fieldwork.profile import forms, serializers
from inspection.fieldwork.profile.correction import correction_of
from inspection.fieldwork.profile.models import ProfileRecord
from inspection.fieldwork.profile.recording import doubts_of, judged_again, profile_digest, record_profile, warnings_of
from inspection.foundation.refusals import Refused
from inspection.foundation.units import Unit, in_unit, with_unit
from inspection.instruments.models import Gauge


def _mean(record: ProfileRecord) -> str:
    return with_unit(record.mean_nm, record.project.unit)


def _limits(record: ProfileRecord) -> str:
    """As the record was judged by; the specification may have changed since."""
    unit = record.project.unit
    low, high = (
        with_unit(round(record.inputs[name] * 1000), unit) if name in record.inputs else ""
        for name in ("minimum_um", "maximum_um")
    )
    if low and high:
        return f"{low} to {high}"
    return f"at least {low}" if low else f"at most {high}" if high else "no limits specified"


def _sentence(record: ProfileRecord) -> str:
    many = len(record.locations)
    return f"{record.get_method_display()}, {many} location{'s' if many > 1 else ''}, mean {_mean(record)}"


def _facts(record: ProfileRecord) -> Facts:
    unit = record.project.unit
    span = ", ".join(with_unit(nm, unit) for nm in (record.lowest_nm, record.highest_nm))
    film = [("Film of the tape, subtracted", with_unit(record.film_nm, unit))] if record.film_nm else []
    return [
        ("Method", record.get_method_display()),
        ("Value of a location", record.get_location_value_display()),
        ("Specified", _limits(record)),
        ("Mean of the locations", _mean(record)),
        ("Lowest and highest location", span),
        *film,
        *_tape(record),
        *([("Abrasive", record.get_abrasive_display())] if record.abrasive else []),
        *_given_to_thickness(record),
    ]


def _tape(record: ProfileRecord) -> Facts:
    last = record.consumable_expires
    told = (
        ("Grade of the tape", record.get_tape_grade_display()), ("Batch of the tape", record.consumable_batch),
        ("Last day of the tape", f"{last:%Y-%m-%d}" if last else ""),
    )  # fmt: skip
    return [(label, value) for label, value in told if value]


def _given_to_thickness(record: ProfileRecord) -> Facts:
    """What thickness readings can take from it, by each way."""
    found = []
    for way in (ThicknessRecord.ProfileWay.CORRECTION, ThicknessRecord.ProfileWay.BASE_METAL):
        try:
            given = correction_of(record, way)
        except Refused:
            continue
        found.append((f"Gives thickness, {way.label[0].lower()}{way.label[1:]}",
                      f"{with_unit(given.nm, record.project.unit)} ({given.words})"))  # fmt: skip
    return found


def _parts(record: ProfileRecord) -> Parts:
    unit = record.project.unit
    rows = [
        (str(number), at["apparatus"] or "–", " ".join(in_unit(nm, unit) for nm in at["readings_nm"]))
        for number, at in enumerate(record.locations, start=1)
    ]
    caption = f"Readings as the instrument showed them, in {Unit(unit).label}"
    return Parts(caption, ("Location", "Apparatus", "Readings"), tuple(rows))


def _as_recorded(record: ProfileRecord) -> dict[str, Any]:
    named = ("taken_at", "method", "location_value", "readings_a_location", "note")
    film = in_unit(record.film_nm, record.project.unit, 2) if record.film_nm else ""
    return {name: getattr(record, name) for name in named} | {
        "film": film,
        "locations": forms.locations_as_typed(record),
        "abrasive": record.abrasive,
        "tape_grade": record.tape_grade,
        "consumable_batch": record.consumable_batch,
        "consumable_expires": record.consumable_expires,
        "base_metal": forms.heights_as_typed(record.base_metal_nm, record.project.unit),
        "base_metal_gauge": record.base_metal_gauge_id,
    }


KIND = RecordKind(
    name=ProfileRecord.KIND,
    title="Surface profile",
    one="surface profile record",
    many="surface profile records",
    lead="The roughness of blasted steel, by locations of about 15 × 15 cm.",
    model=ProfileRecord,
    instrument=Gauge.Kind.PROFILE,
    reliance=Reliance.CERTIFIED,
    discipline=Discipline.PREPARATION,
    of_coat="",
    columns=(
        Column("Method", lambda record: record.get_method_display()),
        Column("Locations", lambda record: str(len(record.locations)), is_number=True),
        Column("Mean", _mean, is_number=True),
    ),
    sentence=_sentence,
    facts=_facts,
    digest=profile_digest,
    verdict=judged_again,
    warnings=warnings_of,
    doubts=doubts_of,
    parts=_parts,
    taken=TakenByForm(
        form=forms.Profile,
        correction=forms.ProfileCorrection,
        record=record_profile,
        as_recorded=_as_recorded,
        sent=serializers.ProfileSent,
        shown=serializers.ProfileSerializer,
        detail=serializers.ProfileDetailSerializer,
        answer=serializers.ProfileAnswer,
        fields={"film_nm": "film", "base_metal_nm": "base_metal"},
    ),
    reach="Locations are judged, never single readings. What to do with a bad one is the contract’s: too low is "
    "usually blasted again, too high needs agreement.",
)
