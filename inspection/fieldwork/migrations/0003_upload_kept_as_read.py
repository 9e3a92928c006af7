"""A kept upload holds what was read from it, so that storing it reads and judges nothing again."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("fieldwork", "0002_surface_profile")]

    operations = [
        migrations.AddField("keptupload", "read", models.BinaryField(null=True)),
    ]
