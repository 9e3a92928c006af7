"""One word for where a point lies; and of a line that nobody holds, passed instead of ready."""

from django.db import migrations, models

READY, PASSED = 10, 65


def pass_those_that_nobody_holds(apps, schema_editor):
    points = apps.get_model("holdpoints", "HoldPoint").objects
    points.filter(lies=READY, kind="witness", line__isnull=False).update(lies=PASSED)


def put_back(apps, schema_editor):
    apps.get_model("holdpoints", "HoldPoint").objects.filter(lies=PASSED).update(lies=READY)


class Migration(migrations.Migration):
    dependencies = [("holdpoints", "0008_notified_for")]

    operations = [
        migrations.AlterField(
            model_name='decision',
            name='left',
            field=models.CharField(choices=[('waiting', 'Waiting'), ('released', 'Released'), ('refused', 'Refused'), ('waived', 'Waived'), ('closed', 'Not applicable')], max_length=8, null=True),
        ),
        migrations.AlterField(
            model_name='decision',
            name='outcome',
            field=models.CharField(choices=[('released', 'Released'), ('refused', 'Refused'), ('presented', 'Presented again'), ('closed', 'Not applicable'), ('withdrawn', 'Refusal or waiver taken back'), ('waived', 'Waived'), ('attended', 'Attended'), ('absent', 'Did not come'), ('due', 'Presented'), ('not_due', 'Presentation taken back')], max_length=9),
        ),
        migrations.AlterField(
            model_name='holdpoint',
            name='lies',
            field=models.PositiveSmallIntegerField(choices=[(10, 'Ready'), (20, 'In doubt'), (30, 'Passed over'), (35, 'Notified'), (40, 'Not ready'), (50, 'Refused'), (60, 'Released'), (65, 'Passed'), (70, 'Waived'), (90, 'Not applicable')], default=40),
        ),
        migrations.AlterField(
            model_name='holdpoint',
            name='state',
            field=models.CharField(choices=[('waiting', 'Waiting'), ('released', 'Released'), ('refused', 'Refused'), ('waived', 'Waived'), ('closed', 'Not applicable')], default='waiting', max_length=8),
        ),
        migrations.RunPython(pass_those_that_nobody_holds, put_back),
    ]
