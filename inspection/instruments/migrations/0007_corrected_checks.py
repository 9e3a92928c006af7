import django.db.models.deletion
from inspection.foundation.triggers import append_only
from django.conf import settings
from django.db import migrations, models

# SQLite remakes a table for a column that points elsewhere, and loses its triggers: off before, and back after.
guard = append_only("instruments_verification")


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("instruments", "0006_chosen_rules_append_only"),
    ]

    operations = [
        migrations.RunPython(guard.reverse_code, guard.code),
        migrations.AddField(
            "verification",
            "confirmed",
            models.JSONField(blank=True, default=list, help_text="What was asked of its readings before it was stored"),
        ),
        migrations.AddField(
            "verification",
            "replaces",
            models.OneToOneField(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="replaced_by",
                to="instruments.verification",
            ),
        ),
        migrations.AddField("verification", "replacement_reason", models.TextField(blank=True, default=""), False),
        migrations.AddField(
            "verification",
            "corrected_by",
            models.ForeignKey(
                blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        guard,
    ]
