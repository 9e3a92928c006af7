from inspection.foundation.triggers import append_only
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("instruments", "0005_what_the_company_chose")]

    operations = [append_only("instruments_instrumentrules")]
