from inspection.foundation.triggers import append_only
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("fieldwork", "0001_initial")]

    operations = [append_only("fieldwork_thicknessrecord", "fieldwork_reading", "fieldwork_climaterecord")]
