from inspection.foundation.triggers import append_only
from django.db import migrations, models

# The table is filled here; its triggers come back by themselves.
guard = append_only("instruments_certificate")

# What a file was called where it came first is known only where it came once; the others are called by their digest.
NAMED = """
UPDATE instruments_certificate SET file_name = CASE
    WHEN (SELECT COUNT(DISTINCT number) FROM instruments_certificate other
          WHERE other.file_id = instruments_certificate.file_id) = 1
    THEN (SELECT name FROM accounts_storedfile WHERE digest = instruments_certificate.file_id)
    ELSE SUBSTR(file_id, 1, 12) END
WHERE file_id IS NOT NULL
"""


class Migration(migrations.Migration):
    dependencies = [("instruments", "0007_corrected_checks"), ("accounts", "0001_initial")]

    operations = [
        migrations.RunPython(guard.reverse_code, guard.code),
        migrations.AddField("certificate", "file_name", models.CharField(blank=True, default="", max_length=200), False),
        migrations.RunSQL(NAMED, migrations.RunSQL.noop),
    ]
