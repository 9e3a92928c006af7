from inspection.foundation.triggers import append_only
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("trace", "0002_recall_by_a_worker")]

    operations = [append_only("trace_recall")]
