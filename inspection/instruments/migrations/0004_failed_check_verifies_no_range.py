from inspection.foundation.triggers import append_only
from django.db import migrations, models

# SQLite remakes a table whose column changes, and loses its triggers; so they are taken off before and put back after.
guard = append_only("instruments_verification")


class Migration(migrations.Migration):
    dependencies = [("instruments", "0003_state_since")]

    operations = [
        migrations.RunPython(guard.reverse_code, guard.code),
        migrations.AlterField("verification", "verified_from_nm", models.PositiveIntegerField(blank=True, null=True)),
        migrations.AlterField("verification", "verified_to_nm", models.PositiveIntegerField(blank=True, null=True)),
        guard,
    ]
