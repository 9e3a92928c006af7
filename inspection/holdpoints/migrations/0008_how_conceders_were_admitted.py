from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("holdpoints", "0007_how_signers_were_admitted")]

    operations = [
        migrations.AddField(
            "disposition", "admitted",
            models.TextField(
                null=True,
                help_text="How whoever signed was admitted, as known then: invited by whom, confirmed by whom, when",
            ),
        )
    ]  # fmt: skip
