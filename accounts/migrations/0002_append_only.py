from inspection.foundation.triggers import append_only
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("accounts", "0001_initial")]

    operations = [append_only("accounts_journalentry")]
