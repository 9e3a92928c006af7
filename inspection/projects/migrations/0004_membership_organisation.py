from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import OuterRef, Subquery


def fill(apps: Any, schema_editor: Any) -> None:
    """For the client's people the project's client, of which they were when they came; for others where they are now."""
    membership, project = apps.get_model("projects", "Membership"), apps.get_model("projects", "Project")
    person = apps.get_model("accounts", "Person")
    client = project.objects.filter(pk=OuterRef("project")).values("client")
    present = person.objects.filter(pk=OuterRef("person")).values("organisation")
    membership.objects.filter(role="client").update(organisation=Subquery(client))
    membership.objects.exclude(role="client").update(organisation=Subquery(present))


class Migration(migrations.Migration):
    dependencies = [("accounts", "0007_former_names"), ("projects", "0003_qualifications_asked")]

    operations = [
        migrations.AddField(
            "membership", "organisation",
            models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="accounts.organisation"
            ),
        ),
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]  # fmt: skip
