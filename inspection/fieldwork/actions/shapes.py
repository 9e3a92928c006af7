"""Keeping how the files of a gauge were told to be read, and forgetting it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from accounts import journal
from accounts.models import Person, Role
from accounts.rights import require
from inspection.fieldwork.models import ToldShape
from inspection.foundation.cells import Sheet
from inspection.foundation.shaping import Shape, fingerprint, lasting
from inspection.instruments.models import Gauge


@transaction.atomic
def tell_shape(
    by: Person, *, gauge: Gauge, sheet: Sheet, shape: Shape, remember: bool = True, at: datetime | None = None
) -> None:
    """Keep the shape as the answer for files of this gauge with this head, in place of an earlier one; or forget it."""
    require(by, Role.INSPECTOR, Role.QUALITY_MANAGER, to="tell how a file is read")
    digest = fingerprint(sheet, shape)
    kept = lasting(shape)
    known = ToldShape.objects.filter(gauge=gauge, head_digest=digest).first()
    before = known.shape if known else None
    if before == (kept if remember else None):
        return
    if remember:
        values = {"shape": kept, "told_by": by, "told_at": at or timezone.now()}
        ToldShape.objects.update_or_create(gauge=gauge, head_digest=digest, defaults=values)
    elif known:
        known.delete()
    journal.record(
        "gauge.file_shape_told" if remember else "gauge.file_shape_forgotten", gauge, by=by,
        before={"shape": before, "head": digest}, after={"shape": kept if remember else None, "head": digest},
    )  # fmt: skip
