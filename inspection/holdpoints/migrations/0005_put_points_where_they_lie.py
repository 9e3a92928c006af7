"""Where each point lies on the board, as its facts said on the day of the upgrade; kept from then on as they change."""

from contextlib import nullcontext

from django.db import migrations
from django.db.models import Case, Exists, F, IntegerField, OuterRef, Q, Subquery, Value, When

from inspection.foundation import triggers

READY, UNREADY, DOUBT, REFUSED, RELEASED, CLOSED = 10, 40, 20, 50, 60, 90


def keep(apps, schema_editor):
    points = apps.get_model("holdpoints", "HoldPoint").objects
    if not points.exists():
        return
    stands = apps.get_model("fieldwork", "Latest").objects.filter(
        area=OuterRef("area"), coat=OuterRef("coat"), kind="thickness"
    )
    open_ones = apps.get_model("nonconformance", "Nonconformance").objects.filter(
        area=OuterRef("area"), coat=OuterRef("coat"), state="open"
    )
    reliable = Q(standing="sound") | Q(standing="provisional", project__provisional_releases=True)
    holds = Q(verdict="pass", further="met", is_open=False) & (Q(fresh_from=None) | Q(began__gte=F("fresh_from")))
    told = points.annotate(
        verdict=Subquery(stands.values("record__verdict")),
        standing=Subquery(stands.values("record__standing__state")),
        began=Subquery(stands.values("record__taken_at")),
        is_open=Exists(open_ones),
        said=Case(
            When(state="closed", then=Value(CLOSED)),
            When(state="refused", then=Value(REFUSED)),
            When(state="released", doubted_at__isnull=False, then=Value(DOUBT)),
            When(state="released", then=Value(RELEASED)),
            When(holds & reliable, then=Value(READY)),
            default=Value(UNREADY),
            output_field=IntegerField(),
        ),
    )
    database = schema_editor.connection
    table = points.model._meta.db_table
    guarded = any(of == table for of, _ in triggers.present(database).values())
    with triggers.lifted(database, table) if guarded else nullcontext():
        for place in (READY, DOUBT, REFUSED, RELEASED, CLOSED):
            points.filter(pk__in=list(told.filter(said=place).values_list("pk", flat=True))).update(lies=place)


class Migration(migrations.Migration):
    dependencies = [
        ("holdpoints", "0004_where_points_lie"),
        ("fieldwork", "0003_upload_kept_as_read"),
        ("nonconformance", "0001_initial"),
        ("standing", "0001_initial"),
    ]

    operations = [migrations.RunPython(keep, migrations.RunPython.noop)]
