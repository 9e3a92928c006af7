"""What each signature under a day covers, as rows beside it; its lines stay as they were signed."""

from itertools import islice
from uuid import UUID

import django.db.models.deletion
from django.db import migrations, models

TRACED = {"check": "verification", "entry": "diaryentry", "lot": "lot", "nonconformance": "nonconformance"}


def keep(apps, schema_editor):
    signatures, signed = apps.get_model("diary", "DaySignature"), apps.get_model("diary", "SignedThing")
    records, decisions = apps.get_model("fieldwork", "Record"), apps.get_model("holdpoints", "Decision")
    rows = signatures.objects.order_by("pk").values_list("pk", "content").iterator(chunk_size=50)
    while some := list(islice(rows, 50)):
        ids = {line["id"] for _, lines in some for line in lines if line["kind"] in ("record", "decision")}
        named = {str(pk): (kind, pk) for pk, kind in records.objects.filter(pk__in=ids).values_list("pk", "kind")}
        points = decisions.objects.filter(pk__in=ids).values_list("pk", "point")
        named |= {str(pk): ("holdpoint", point) for pk, point in points}
        found = set()
        for signature, lines in some:
            for line in lines:
                if line["kind"] in TRACED:
                    found.add((signature, TRACED[line["kind"]], UUID(line["id"])))
                elif line["id"] in named:
                    found.add((signature, *named[line["id"]]))
        signed.objects.bulk_create(
            [signed(signature_id=signature, kind=kind, thing=thing) for signature, kind, thing in sorted(found)],
            batch_size=500,
        )


class Migration(migrations.Migration):

    dependencies = [
        ('diary', '0001_days'),
        ('fieldwork', '0001_initial'),
        ('holdpoints', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='SignedThing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(help_text='As a trace names it: of a record its kind', max_length=40)),
                ('thing', models.UUIDField()),
                ('signature', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='things', to='diary.daysignature')),
            ],
            options={
                'indexes': [models.Index(fields=['thing', 'kind', 'signature'], name='diary_signe_thing_1de9f4_idx')],
                'constraints': [models.UniqueConstraint(fields=('signature', 'kind', 'thing'), name='signed_thing_once_a_signature')],
            },
        ),
        migrations.RunPython(keep, migrations.RunPython.noop),
    ]
