from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("holdpoints", "0002_append_only")]

    operations = [
        migrations.AddField(
            model_name="holdpoint",
            name="doubted_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
    ]
