"""Disposition rows for what was recorded before there were any, and since when a refused point wants fresh evidence."""

from typing import Any

from inspection.foundation.triggers import append_only
from django.db import migrations

BEFORE = "Closed before rework and concessions were recorded one by one"


def tell(apps: Any, schema_editor: Any) -> None:
    Nonconformance = apps.get_model("holdpoints", "Nonconformance")
    Disposition = apps.get_model("holdpoints", "Disposition")
    records = apps.get_model("fieldwork", "ThicknessRecord").objects.filter(verdict="fail", replaced_by=None)
    entries = apps.get_model("accounts", "JournalEntry").objects.filter(verb="nonconformance.repaired").order_by("pk")
    for row in Nonconformance.objects.select_related("closed_by__organisation").iterator():
        repaired = entries.filter(object_id=str(row.pk)).last()
        if row.state == "closed":
            failing = records.filter(area=row.area_id, coat=row.coat_id)
            who = row.closed_by
            Disposition.objects.create(
                nonconformance=row, kind="closure", text=row.repair or BEFORE, at=row.closed_at or row.raised_at,
                covers=[str(pk) for pk in failing.values_list("pk", flat=True)] if row.record_id else [], person=who,
                signed_as=f"{who.name}, {who.organisation.name}" if who else "the platform",
            )  # fmt: skip
        elif row.repair and repaired:
            # When it was done nobody had to say; it was recorded then.
            Disposition.objects.create(
                nonconformance=row, kind="rework", text=row.repair, done_by="not recorded", done_at=repaired.at,
                at=repaired.at, person_id=repaired.actor_id, signed_as=repaired.actor_text[:240],
            )  # fmt: skip
    for point in apps.get_model("holdpoints", "HoldPoint").objects.filter(decisions__outcome="refused").distinct():
        last = point.decisions.filter(outcome="refused").order_by("number").last()
        type(point).objects.filter(pk=point.pk).update(fresh_from=last.at)


class Migration(migrations.Migration):
    dependencies = [
        ("holdpoints", "0005_rework_and_concessions"),
        ("fieldwork", "0004_read_many_records_from_an_index"),
        ("accounts", "0001_initial"),
    ]

    operations = [
        migrations.RunPython(tell, migrations.RunPython.noop),
        append_only("holdpoints_disposition"),
    ]
