import django.db.models.deletion
from inspection.foundation.triggers import append_only
from django.db import migrations, models

KINDS = {"thickness": "thickness", "climate": "climate", "verifications": "verification", "points": "holdpoint"}
# SQLite may remake a table that loses a column, and with it lose its triggers: taken off before, put back after.
guard = append_only("reports_reportissue")


def copy(apps, schema_editor):
    issues, basis = apps.get_model("reports", "ReportIssue"), apps.get_model("reports", "Basis")
    basis.objects.bulk_create(
        basis(issue=issue, kind=KINDS[name], thing=thing)
        for issue in issues.objects.all()
        for name, things in issue.rests_on.items()
        for thing in things
    )
    # PostgreSQL alters no table while checks of rows that refer to it are put off.
    schema_editor.connection.check_constraints()


class Migration(migrations.Migration):
    dependencies = [("reports", "0003_job_messages")]

    operations = [
        migrations.CreateModel(
            name="Basis",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("thickness", "Thickness record"),
                            ("climate", "Climate record"),
                            ("verification", "Verification"),
                            ("holdpoint", "Hold point"),
                        ],
                        max_length=12,
                    ),
                ),
                ("thing", models.UUIDField()),
                (
                    "issue",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="basis", to="reports.reportissue"
                    ),
                ),
            ],
            options={
                "indexes": [models.Index(fields=["thing", "kind"], name="reports_bas_thing_686808_idx")],
                "constraints": [models.UniqueConstraint(fields=("issue", "kind", "thing"), name="basis_once_an_issue")],
            },
        ),
        migrations.RunPython(copy, migrations.RunPython.noop),
        append_only("reports_basis"),
        migrations.RunPython(guard.reverse_code, guard.code),
        migrations.RemoveField("reportissue", "rests_on"),
        guard,
    ]
