from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models
from django.utils import timezone

BEFORE = "here before confirmation was kept"


def confirm(apps: Any, schema_editor: Any) -> None:
    """Whoever is here goes on as before, and it is said that nobody confirmed them."""
    apps.get_model("accounts", "Person").objects.filter(confirmed_at=None).update(
        confirmed_at=timezone.now(), admission=BEFORE
    )


def person() -> Any:
    return models.ForeignKey(
        editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+",
        to=settings.AUTH_USER_MODEL,
    )  # fmt: skip


class Migration(migrations.Migration):
    dependencies = [("accounts", "0011_chain_over_the_journal")]

    operations = [
        migrations.AddField("person", "invited_by", person()),
        migrations.AddField("person", "confirmed_at", models.DateTimeField(editable=False, null=True)),
        migrations.AddField("person", "confirmed_by", person()),
        migrations.AddField("person", "admission", models.TextField(blank=True, default="", editable=False), False),
        migrations.RunPython(confirm, migrations.RunPython.noop),
    ]
