import inspection.foundation.ids
import django.db.models.deletion
from django.db import migrations, models


def make_schemes(apps, schema_editor):
    """A scheme for every name that was typed; names that differ in capitals or spaces only are one."""
    schemes = apps.get_model("accounts", "Scheme").objects
    known = {}
    for paper in apps.get_model("accounts", "Qualification").objects.order_by("issued", "pk"):
        typed = " ".join(paper.scheme_name.split())
        if typed.casefold() not in known:
            known[typed.casefold()] = schemes.create(name=typed)
        paper.scheme = known[typed.casefold()]
        paper.save(update_fields=["scheme"])


def name_schemes(apps, schema_editor):
    for paper in apps.get_model("accounts", "Qualification").objects.select_related("scheme"):
        paper.scheme_name = paper.scheme.name
        paper.save(update_fields=["scheme_name"])


class Migration(migrations.Migration):
    dependencies = [("accounts", "0007_former_names")]

    operations = [
        migrations.CreateModel(
            name="Scheme",
            fields=[
                ("id", models.UUIDField(default=inspection.foundation.ids.new_id, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(max_length=120, unique=True)),
                ("retired_at", models.DateTimeField(blank=True, null=True)),
            ],
            options={"ordering": ("name",)},
        ),
        migrations.RenameField("qualification", "scheme", "scheme_name"),
        migrations.AlterField("qualification", "scheme_name", models.CharField(max_length=120, default="")),
        migrations.AddField(
            "qualification",
            "scheme",
            models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="qualifications",
                to="accounts.scheme",
            ),
        ),
        migrations.RunPython(make_schemes, name_schemes),
    ]
