from inspection.foundation.triggers import append_only
from django.db import migrations, models

# A record is never changed; a new column is filled while the table is open, and SQLite remakes it besides.
guard = append_only("fieldwork_thicknessrecord")

# What a file was called where it came first is known only where it came once; the others are called by their digest.
NAMED = """
UPDATE fieldwork_thicknessrecord SET file_name = CASE
    WHEN (SELECT COUNT(*) FROM fieldwork_thicknessrecord other WHERE other.file_id = fieldwork_thicknessrecord.file_id) = 1
    THEN (SELECT name FROM accounts_storedfile WHERE digest = fieldwork_thicknessrecord.file_id)
    ELSE SUBSTR(file_id, 1, 12) END
WHERE file_id IS NOT NULL
"""


class Migration(migrations.Migration):
    dependencies = [("fieldwork", "0007_uploads_kept_as_rows"), ("accounts", "0001_initial")]

    operations = [
        migrations.RunPython(guard.reverse_code, guard.code),
        migrations.AddField("thicknessrecord", "file_name", models.CharField(blank=True, default="", max_length=200), False),
        migrations.RunSQL(NAMED, migrations.RunSQL.noop),
        guard,
    ]
