from inspection.foundation.triggers import append_only
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("reports", "0001_initial")]

    operations = [append_only("reports_reportissue")]
