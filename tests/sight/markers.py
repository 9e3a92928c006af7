"""A marker word in every text of every table, so that a text which crosses from one project to another is found.

The columns are read from the models. A table that is new must be given its way to a project, or be named as the
company's own; a text column gets its word by itself, unless it is named as one that holds no writing. What is found in
an answer leads back to its column.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from django.apps import apps
from django.db import connection, models, transaction

from tests.past_triggers import no_triggers

if TYPE_CHECKING:
    from tests.sight.world import Place

ROOMS = ("accounts", "inspection", "reports")

# By table, how its rows lead to what is of one place: to its project, its people, or what was used there.
PROJECT, CLIENT, ORGANISATION, INSPECTOR, TOOL = "project", "client", "organisation", "inspector", "tool"
WAYS: dict[str, tuple[str, str]] = {
    "accounts.Organisation": (ORGANISATION, "pk"),
    "accounts.Person": (CLIENT, "pk"),
    "accounts.Invitation": (ORGANISATION, "organisation"),
    "accounts.Qualification": (INSPECTOR, "person"),
    "accounts.StoredFile": ("file", "pk"),
    "accounts.JournalEntry": (PROJECT, "project_id"),
    "accounts.Letter": (CLIENT, "person"),
    "accounts.Tiding": (CLIENT, "person"),
    "accounts.ApiToken": (CLIENT, "user"),
    "projects.Project": (PROJECT, "pk"),
    "projects.Structure": (PROJECT, "project"),
    "projects.Section": (PROJECT, "structure__project"),
    "projects.CoatingSystem": (PROJECT, "project"),
    "projects.Coat": (PROJECT, "system__project"),
    "projects.DataSheet": (PROJECT, "project"),
    "projects.DataSheetRow": (PROJECT, "sheet__project"),
    "projects.StripeCoat": (PROJECT, "coat__system__project"),
    "projects.Specification": (PROJECT, "project"),
    "projects.SpecificationRevision": (PROJECT, "specification__project"),
    "projects.Deviation": (PROJECT, "specification__project"),
    "projects.DeviationAnswer": (PROJECT, "deviation__specification__project"),
    "projects.InspectionArea": (PROJECT, "structure__project"),
    "instruments.Gauge": (TOOL, "pk"),
    "instruments.ReferenceStandard": ("shim", "pk"),
    "instruments.Certificate": ("certificate", "pk"),
    "instruments.Custody": (TOOL, "gauge"),
    "instruments.GaugeIncident": (TOOL, "gauge"),
    "instruments.Verification": (PROJECT, "project"),
    "fieldwork.Record": (PROJECT, "project"),
    "fieldwork.ClimateRecord": (PROJECT, "project"),
    "fieldwork.ProfileRecord": (PROJECT, "project"),
    "fieldwork.PullOffRecord": (PROJECT, "project"),
    "fieldwork.WetSpongeRecord": (PROJECT, "project"),
    "fieldwork.HighVoltageRecord": (PROJECT, "project"),
    "fieldwork.CutTestRecord": (PROJECT, "project"),
    "fieldwork.CureRecord": (PROJECT, "project"),
    "fieldwork.HardnessRecord": (PROJECT, "project"),
    "fieldwork.DefectsRecord": (PROJECT, "project"),
    "fieldwork.WetFilmRecord": (PROJECT, "project"),
    "fieldwork.CleanlinessRecord": (PROJECT, "project"),
    "fieldwork.SteelworkRecord": (PROJECT, "project"),
    "fieldwork.AirRecord": (PROJECT, "project"),
    "fieldwork.AbrasiveRecord": (PROJECT, "project"),
    "fieldwork.LookRecord": (PROJECT, "project"),
    "fieldwork.SaltsRecord": (PROJECT, "project"),
    "fieldwork.DustRecord": (PROJECT, "project"),
    "fieldwork.ThicknessRecord": (PROJECT, "project"),
    "fieldwork.Reading": (PROJECT, "record__project"),
    "works.Crew": (PROJECT, "project"),
    "works.Lot": (PROJECT, "project"),
    "works.PaintBatch": (PROJECT, "project"),
    "works.BatchStep": (PROJECT, "batch__project"),
    "works.Mix": (PROJECT, "project"),
    "projects.Station": (PROJECT, "project"),
    "fieldwork.LoggerFile": (PROJECT, "station__project"),
    "fieldwork.Sheet": (PROJECT, "project"),
    "fieldwork.SheetReading": (PROJECT, "sheet__project"),
    "fieldwork.PrintedSheet": (PROJECT, "project"),
    "fieldwork.PrintedArea": (PROJECT, "sheet__project"),
    "fieldwork.KeptUpload": (INSPECTOR, "person"),
    "fieldwork.ToldShape": (TOOL, "gauge"),
    "projects.ToldTable": (ORGANISATION, "organisation"),
    "projects.StoredTable": (ORGANISATION, "organisation"),
    "standing.Standing": (PROJECT, "record__project"),
    "holdpoints.HoldPoint": (PROJECT, "project"),
    "holdpoints.Decision": (PROJECT, "point__project"),
    "holdpoints.PointLetter": (PROJECT, "point__project"),
    "notices.Notice": (PROJECT, "project"),
    "notices.NoticePlace": (PROJECT, "notice__project"),
    "notices.NoticeStep": (PROJECT, "notice__project"),
    "photos.Photo": (PROJECT, "project"),
    "photos.PhotoLayer": (PROJECT, "photo__project"),
    "drawings.Drawing": (PROJECT, "project"),
    "drawings.DrawingRevision": (PROJECT, "drawing__project"),
    "drawings.DrawingNote": (PROJECT, "drawing__project"),
    "diary.DiaryEntry": (PROJECT, "project"),
    "diary.DaySignature": (PROJECT, "project"),
    "nonconformance.Nonconformance": (PROJECT, "project"),
    "nonconformance.Disposition": (PROJECT, "nonconformance__project"),
    "nonconformance.ExtentSpot": (PROJECT, "nonconformance__project"),
    "nonconformance.RepairedPart": (PROJECT, "nonconformance__project"),
    "nonconformance.Remainder": (PROJECT, "repaired__nonconformance__project"),
    "nonconformance.ReworkItem": (PROJECT, "project"),
    "nonconformance.ReworkEntry": (PROJECT, "item__project"),
    "plan.Plan": (PROJECT, "project"),
    "plan.PlanRevision": (PROJECT, "plan__project"),
    "plan.PlanLine": (PROJECT, "revision__plan__project"),
    "plan.Intervention": (PROJECT, "line__revision__plan__project"),
    "plan.Approval": (PROJECT, "revision__plan__project"),
    "plan.LegendLetter": (PROJECT, "project"),
    "plan.ClosedDay": (PROJECT, "project"),
    "recall.Recall": ("certificate", "certificate"),
    "recall.AskedRecall": ("certificate", "certificate"),
    "reports.DailyReport": (PROJECT, "project"),
    "reports.ReportIssue": (PROJECT, "report__project"),
    "reports.SetAside": (PROJECT, "issue__report__project"),
    "reports.ClientWord": (PROJECT, "issue__report__project"),
    "reports.ProjectHead": (PROJECT, "project"),
    "reports.Reporting": (PROJECT, "project"),
    "reports.Review": (PROJECT, "report__project"),
    "reports.Job": ("job", "pk"),
    "reports.ReadingQuestion": (PROJECT, "project"),
    "reports.ReadingAnswer": (PROJECT, "question__project"),
    "reports.CalendarLink": (CLIENT, "person"),
}
# Those of instruments, which the company's inspectors share: their words are hidden from other organisations only.
SHARED = ("instruments.Gauge", "instruments.ReferenceStandard", "instruments.Certificate", "instruments.Custody",
          "instruments.GaugeIncident", "recall.Recall", "recall.AskedRecall")  # fmt: skip
OF_THE_COMPANY = {
    "accounts.FactorRule": "which roles the company asks a second factor of",
    "accounts.ChainLink": "codes over the journal, computed from its entries",
    "photos.PhotoPart": "bytes of photos that are under way, told of to their sender alone",
    "fieldapp.DoneOnce": "keys and digests of acts that were done, shown to nobody",
    "accounts.Guesses": "counts of wrong passwords, under digests",
    "accounts.Scheme": "the company's list of schemes, chosen from by every project",
    "instruments.InstrumentRules": "the company's own choice, told to everybody who may read it",
    "reports.CompanyHead": "the company's own address, which its papers bear",
    "reports.Heartbeat": "which process is alive",
}
# Columns that hold no writing of anybody: codes, digests, figures, and what the standards core says of figures.
NO_WRITING = {
    "accounts.Person.password", "accounts.Invitation.token_digest", "accounts.StoredFile.digest",
    "accounts.StoredFile.media_type", "accounts.JournalEntry.verb", "accounts.JournalEntry.object_type",
    "accounts.JournalEntry.object_id", "accounts.JournalEntry.request_id", "accounts.JournalEntry.digest",
    "accounts.Letter.kind", "accounts.Letter.about", "accounts.Tiding.kind", "accounts.Tiding.about",
    "accounts.PostChoice.kind", "accounts.ApiToken.digest", "accounts.ApiToken.token_key",
    "accounts.Organisation.former_names", "accounts.Person.former_names",
    "projects.InspectionArea.tank_sizes", "projects.CoatingSystem.sent_digest", "projects.Coat.declared",
    "drawings.DrawingRevision.digest", "drawings.DrawingNote.digest",
    "diary.DiaryEntry.digest", "diary.DaySignature.digest", "diary.DaySignature.content",
    "fieldapp.DoneOnce.digest", "photos.PhotoPart.digest",
    "works.Lot.digest", "works.PaintBatch.digest", "works.Mix.digest",
    "projects.Project.time_zone", "projects.Project.shift_starts",
    "instruments.Verification.inputs", "instruments.Verification.result", "instruments.Verification.digest",
    "instruments.VerificationPoint.readings_nm", "instruments.VerificationPoint.readings",
    "fieldwork.LoggerFile.time_zone", "fieldwork.PrintedSheet.code",
    "fieldwork.Record.kind", "fieldwork.Record.digest", "fieldwork.Latest.kind", "fieldwork.ClimateRecord.inputs",
    "fieldwork.ThicknessRecord.inputs", "fieldwork.ThicknessRecord.calculation", "fieldwork.KeptUpload.digest",
    "fieldwork.ToldShape.head_digest", "fieldwork.ToldShape.shape",
    "projects.StoredTable.table", "projects.StoredTable.file_digest", "projects.StoredTable.rows_digest",
    "projects.ToldTable.table", "projects.ToldTable.head_digest", "projects.ToldTable.shape",
    "fieldwork.SteelworkRecord.calculation", "fieldwork.AirRecord.calculation",
    "fieldwork.AbrasiveRecord.calculation", "fieldwork.LookRecord.calculation",
    "fieldwork.CleanlinessRecord.calculation", "fieldwork.SaltsRecord.calculation", "fieldwork.DustRecord.calculation",
    "fieldwork.ProfileRecord.base_metal_nm",
    "fieldwork.ProfileRecord.calculation", "fieldwork.PullOffRecord.calculation", "fieldwork.PullOffRecord.method",
    "fieldwork.WetSpongeRecord.calculation", "fieldwork.HighVoltageRecord.calculation",
    "fieldwork.CutTestRecord.calculation", "fieldwork.CutTestRecord.scale", "fieldwork.CutTestRecord.worst",
    "fieldwork.CureRecord.calculation", "fieldwork.CureRecord.method", "fieldwork.DefectsRecord.calculation",
    "fieldwork.WetFilmRecord.calculation",
    "fieldwork.HardnessRecord.calculation", "fieldwork.HardnessRecord.method",
    "holdpoints.Requirement.kind", "holdpoints.Decision.evidence_digest",
    "holdpoints.PointLetter.letter",
    "nonconformance.Disposition.covers", "nonconformance.ExtentSpot.readings_nm",
    "nonconformance.RepairedPart.digest", "nonconformance.RepairedPart.left_out", "nonconformance.RepairedPart.extent",
    "nonconformance.Remainder.digest", "nonconformance.Remainder.inputs", "nonconformance.Remainder.result",
    "plan.PlanRevision.digest", "plan.Approval.digest", "plan.PlanLine.order_key",
    "notices.Notice.sent_digest", "plan.LineRequirement.kind", "plan.Intervention.letter",
    "plan.LegendLetter.letter", "plan.WorkingCalendar.weekdays", "reports.Basis.kind", "diary.SignedThing.kind",
    "recall.AskedRecall.values", "reports.DailyReport.facts_digest", "reports.ReportIssue.facts_digest",
    "reports.Review.facts_digest",
    "reports.Basis.told", "reports.Job.kind", "reports.Job.about", "reports.CalendarLink.token_digest",
    "reports.ReadingQuestion.figures",
}  # fmt: skip


def text_columns() -> list[tuple[type[models.Model], Any]]:
    """Every column of ours that can hold words: text and JSON, without those that hold one of a few codes."""
    kinds = (models.CharField, models.TextField, models.JSONField)
    return [
        (model, field)
        for model in apps.get_models()
        if model.__module__.split(".")[0] in ROOMS
        for field in model._meta.local_concrete_fields
        if isinstance(field, kinds) and not field.choices
    ]


def name_of(model: type[models.Model], field: Any = None) -> str:
    return f"{model._meta.label}.{field.attname}" if field else str(model._meta.label)


def marked() -> list[tuple[type[models.Model], Any]]:
    return [
        (model, field)
        for model, field in text_columns()
        if name_of(model) not in OF_THE_COMPANY and name_of(model, field) not in NO_WRITING
    ]


def found_in(text: str, secret: str) -> list[str]:
    """Each way in which the secret stands in the text; a marker with the column it was written into."""
    columns = marked()
    return [
        f"{word} ({name_of(*columns[int(word[len(secret) + 1 :])])})" if word != secret else word
        for word in sorted(set(re.findall(rf"{re.escape(secret)}(?:x\d+)?", text)))
    ]


def rows_of(place: Place, model: type[models.Model]) -> models.QuerySet[Any]:
    whose, path = WAYS[name_of(model)]
    value = {
        PROJECT: place.site.project.pk, CLIENT: place.client.pk, INSPECTOR: place.inspector.pk,
        ORGANISATION: place.client.organisation_id, TOOL: place.things["gauge"].pk,
    }.get(whose) or place.things[whose].pk  # fmt: skip
    return model._base_manager.filter(**{path: value}).order_by("pk")


def fill(place: Place) -> None:
    """Write the place's marker into every text of every row of the place."""
    with transaction.atomic(), no_triggers(connection):
        for number, (model, field) in enumerate(marked()):
            word = f"{place.tools if name_of(model) in SHARED else place.mark}x{number}"
            for row in rows_of(place, model):
                told = with_word(field, field.value_from_object(row), word)
                model._base_manager.filter(pk=row.pk).update(**{field.attname: told})


def _is_text(name: str, part: Any) -> bool:
    """Whether it is words: the shape drawn over a photo is one of a few codes."""
    return isinstance(part, str) and name != "shape"


def with_word(field: Any, value: Any, word: str) -> Any:
    if not isinstance(field, models.JSONField):
        joint = "." if isinstance(field, models.EmailField) else " "
        return f"{word}{joint}{value}"[: field.max_length] if value else word
    if isinstance(value, list) and value and isinstance(value[0], dict):
        first = {name: word if _is_text(name, part) else part for name, part in value[0].items()}
        return [first, *value[1:]]
    if isinstance(value, list):
        return [*value, word]
    if isinstance(value, dict) and isinstance(value.get("notes"), list):
        return {**value, "notes": [*value["notes"], word]}
    return {**(value or {}), word: word}
