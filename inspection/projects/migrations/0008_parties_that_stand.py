from django.db import migrations
from django.utils import timezone

from inspection.foundation.ids import new_id


def make(apps, schema_editor):
    """Client, painting contractor and the company of every project, since it was opened."""
    projects, party = apps.get_model("projects", "Project").objects, apps.get_model("projects", "Party")
    opened = dict(
        apps.get_model("accounts", "JournalEntry")
        .objects.filter(verb="project.opened")
        .values_list("project_id", "at")
    )
    company = apps.get_model("accounts", "Organisation").objects.filter(kind="company").values_list("pk", flat=True)
    inspection = company.first()
    now = timezone.now()
    rows = [
        party(
            id=new_id(), project_id=project, organisation_id=organisation, kind=kind,
            begun_at=opened.get(project, now),
        )
        for project, client, contractor in projects.values_list("pk", "client", "contractor").iterator()
        for kind, organisation in (("client", client), ("contractor", contractor), ("inspection", inspection))
        if organisation
    ]
    party.objects.bulk_create(rows, batch_size=1_000)


class Migration(migrations.Migration):
    dependencies = [("projects", "0007_parties"), ("accounts", "0001_initial")]

    operations = [migrations.RunPython(make, migrations.RunPython.noop)]
