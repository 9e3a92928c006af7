import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("projects", "0004_membership_organisation")]

    operations = [
        migrations.AlterField(
            "membership", "organisation",
            models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="accounts.organisation"
            ),
        )
    ]  # fmt: skip
