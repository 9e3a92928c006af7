from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("holdpoints", "0006_what_was_decided_before")]

    operations = [
        migrations.AddField(
            "decision", "admitted",
            models.TextField(
                null=True,
                help_text="How whoever signed was admitted, as known then: invited by whom, confirmed by whom, when",
            ),
        )
    ]  # fmt: skip
