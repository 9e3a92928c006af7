from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("accounts", "0013_second_factors_demanded")]

    operations = [migrations.AddField("letter", "project_id", models.UUIDField(blank=True, null=True))]
