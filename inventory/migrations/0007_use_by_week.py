import importlib

import django.db.models.deletion
import shop.fields
from django.db import migrations, models


def no_totals(apps, schema_editor):
    """They are worked out anew by the next migration; a table that is changed must not have just been written to."""
    apps.get_model('inventory', 'DayTotal').objects.all().delete()


def as_they_were(apps, schema_editor):
    importlib.import_module('inventory.migrations.0006_totals_by_day').totals_of_what_moved_before(apps, schema_editor)


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0006_totals_by_day'),
    ]

    operations = [
        migrations.RunPython(no_totals, as_they_were),
        migrations.CreateModel(
            name='WeekUse',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('week', models.DateField()),
                ('quantity', shop.fields.QuantityField(places=6, verbose_name='quantity used')),
                ('material', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.material')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.UniqueConstraint(fields=('material', 'week'), name='one_use_a_week')],
            },
        ),
        migrations.RemoveConstraint(
            model_name='daytotal',
            name='one_total_a_day_and_side',
        ),
        migrations.RemoveIndex(
            model_name='daytotal',
            name='what_was_used_by_day',
        ),
        migrations.RemoveField(
            model_name='daytotal',
            name='happened_on',
        ),
        migrations.AddConstraint(
            model_name='daytotal',
            constraint=models.UniqueConstraint(fields=('material', 'side', 'recorded_on'), name='one_total_a_day_and_side'),
        ),
    ]
