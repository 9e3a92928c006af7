"""Keeping how tables were told to be read, finding it again by their head, and forgetting it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.foundation.asked_tables import Columns, likely_noise
from inspection.foundation.cells import Sheet
from inspection.foundation.refusals import Refused
from inspection.foundation.shaping import Shape, fingerprint, laid_on, lasting, told
from inspection.projects.models import ToldTable

MOST_TOLD = 100


@dataclass(frozen=True)
class Offered:
    """The answer of an earlier table with the same head, laid upon this one."""

    shape: Shape
    kept: ToldTable


def offered(by: Person, columns: Columns, content: bytes) -> Offered | None:
    """What somebody of the person's organisation told of such a table with the same head. Raises Refused for none."""
    rows = ToldTable.objects.filter(organisation=by.organisation_id, table=columns.name).select_related("told_by")
    known = list(rows.order_by("-told_at")[:MOST_TOLD])
    for separator in sorted({str(each.shape.get("separator", "")) for each in known}):
        sheets, _ = columns.sheets(content, separator)
        for kept in known:
            try:
                shape = told(kept.shape, columns.meanings)
            except Refused:
                # Told to another release, in words that this one has no more.
                continue
            if shape.separator == separator and (found := laid_on(shape, kept.head_digest, sheets)):
                noise = likely_noise(sheets[found.sheet], found, columns)
                return Offered(replace(found, skipped=noise), kept)
    return None


@transaction.atomic
def tell_table(
    by: Person, *, columns: Columns, sheet: Sheet, shape: Shape, remember: bool, at: datetime | None = None
) -> None:
    """Keep the shape as the answer for such tables with this head, in place of an earlier one; or forget it."""
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, Role.CONTRACTOR, to="tell how a table is read")
    key: dict[str, Any] = {
        "organisation": by.organisation,
        "table": columns.name,
        "head_digest": fingerprint(sheet, shape),
    }
    known = ToldTable.objects.filter(**key).first()
    before, after = known.shape if known else None, lasting(shape) if remember else None
    if before == after:
        return
    if remember:
        values = {"shape": after, "told_by": by, "told_at": at or timezone.now()}
        ToldTable.objects.update_or_create(**key, defaults=values)
    elif known:
        known.delete()
    about = {"table": columns.name, "head": key["head_digest"]}
    journal.record(
        "organisation.table_shape_told" if remember else "organisation.table_shape_forgotten", by.organisation, by=by,
        before={**about, "shape": before}, after={**about, "shape": after},
    )  # fmt: skip
