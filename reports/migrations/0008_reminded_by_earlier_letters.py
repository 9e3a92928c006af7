"""What earlier letters told, one a thing and threshold, is kept as rows, so that nobody is told it again."""

from uuid import UUID

from django.db import migrations

MODELS = {
    "certificate-expiry": ("certificate", ("instruments", "Certificate")),
    "qualification-expiry": ("qualification", ("accounts", "Qualification")),
}
AT_ONCE = 1000


def keep(apps, schema_editor):
    Reminded = apps.get_model("reports", "Reminded")
    letters = apps.get_model("accounts", "Letter").objects.exclude(person=None)
    for letter_kind, (kind, model) in MODELS.items():
        due = dict(apps.get_model(*model).objects.values_list("pk", "expires"))
        rows = []
        for letter in letters.filter(kind=letter_kind).defer("body").iterator(AT_ONCE):
            thing, threshold = letter.about.split(":")
            if UUID(thing) in due:
                rows.append(
                    Reminded(
                        person_id=letter.person_id, kind=kind, thing=UUID(thing), due=due[UUID(thing)],
                        threshold=int(threshold), day=letter.written_at.date(), letter=letter,
                    )
                )
        # A person whose address has changed since may have had two letters about one thing.
        Reminded.objects.bulk_create(rows, AT_ONCE, ignore_conflicts=True)


class Migration(migrations.Migration):
    dependencies = [
        ("accounts", "0003_tokens"),
        ("instruments", "0001_initial"),
        ("reports", "0007_reminded_append_only"),
    ]

    operations = [migrations.RunPython(keep, migrations.RunPython.noop)]
