from inspection.foundation.triggers import append_only
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("instruments", "0001_initial")]

    operations = [append_only("instruments_verification", "instruments_verificationpoint", "instruments_standarduse")]
