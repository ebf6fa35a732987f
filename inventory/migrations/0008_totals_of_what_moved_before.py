from zoneinfo import ZoneInfo

from django.db import migrations, models
from django.db.models.functions import Coalesce, TruncDate, TruncWeek


def totals_of_what_moved_before(apps, schema_editor):
    """As the ledger would have kept them, had there been these totals."""
    profile = apps.get_model('shop', 'Profile').objects.first()
    zone = ZoneInfo(profile.timezone) if profile else ZoneInfo('UTC')
    movements = apps.get_model('inventory', 'Movement').objects.order_by().annotate(
        side=Coalesce('reverses__kind', 'kind'),
        recorded_on=TruncDate('recorded_at', tzinfo=zone),
        week=TruncWeek(Coalesce('reverses__happened_at', 'happened_at'), tzinfo=zone),
    )
    total, use = apps.get_model('inventory', 'DayTotal'), apps.get_model('inventory', 'WeekUse')
    days = movements.values('material_id', 'side', 'recorded_on')
    total.objects.bulk_create(
        (
            total(quantity=row.pop('moved'), value=row.pop('worth'), **row)
            for row in days.annotate(moved=models.Sum('quantity'), worth=models.Sum('value'))
        ),
        batch_size=1000,
    )
    weeks = movements.filter(side__in=['use', 'return']).values('material_id', 'week')
    use.objects.bulk_create(
        (
            use(material_id=row['material_id'], week=row['week'].date(), quantity=-row['moved'])
            for row in weeks.annotate(moved=models.Sum('quantity'))
        ),
        batch_size=1000,
    )


def no_totals(apps, schema_editor):
    for name in ('DayTotal', 'WeekUse'):
        apps.get_model('inventory', name).objects.all().delete()


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0007_use_by_week'),
    ]

    operations = [
        migrations.RunPython(totals_of_what_moved_before, no_totals),
    ]
