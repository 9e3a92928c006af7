import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    """Apart from the copying before it: PostgreSQL alters no table with rows that were changed in the transaction."""

    dependencies = [("accounts", "0008_schemes_of_the_company")]

    operations = [
        migrations.RemoveField("qualification", "scheme_name"),
        migrations.RemoveConstraint("qualification", "qualification_expires_after_issue"),
        migrations.AlterField(
            "qualification",
            "expires",
            models.DateField(blank=True, null=True, help_text="Nothing: it never runs out"),
        ),
        migrations.AddField("qualification", "withdrawn_at", models.DateTimeField(blank=True, null=True)),
        migrations.AddField("qualification", "withdrawal_reason", models.TextField(blank=True, default=""), False),
        migrations.AlterField(
            "qualification",
            "scheme",
            models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="qualifications", to="accounts.scheme"
            ),
        ),
        migrations.AddConstraint(
            "qualification",
            models.CheckConstraint(
                condition=models.Q(expires=None) | models.Q(expires__gt=models.F("issued")),
                name="qualification_expires_after_issue",
            ),
        ),
    ]
