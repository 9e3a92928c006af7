"""The records that the chains of earlier decisions name, as rows beside those decisions; the evidence stays as it is."""

from itertools import islice
from uuid import UUID

from django.db import migrations


def keep(apps, schema_editor):
    decisions, records = apps.get_model("holdpoints", "Decision"), apps.get_model("fieldwork", "Record")
    decided_on = apps.get_model("holdpoints", "DecidedOn")
    rows = decisions.objects.order_by("pk").values_list("pk", "record", "evidence").iterator(chunk_size=500)
    while some := list(islice(rows, 500)):
        named = {
            (decision, UUID(link["on"]))
            for decision, record, evidence in some
            for link in evidence.get("chain", ())
            if link.get("on") and link["on"] != str(record)
        }
        known = set(records.objects.filter(pk__in={on for _, on in named}).values_list("pk", flat=True))
        decided_on.objects.bulk_create(
            [decided_on(decision_id=decision, record_id=on) for decision, on in sorted(named) if on in known],
            ignore_conflicts=True,
        )


class Migration(migrations.Migration):
    dependencies = [("holdpoints", "0009_one_word_for_where_a_point_lies"), ("fieldwork", "0001_initial")]

    operations = [migrations.RunPython(keep, migrations.RunPython.noop)]
