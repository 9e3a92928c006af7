from inspection.foundation.triggers import append_only
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("reports", "0006_reminded")]

    operations = [append_only("reports_reminded")]
