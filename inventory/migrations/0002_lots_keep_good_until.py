from django.db import migrations, models


def copy_use_by(apps, schema_editor):
    apps.get_model("inventory", "Lot").objects.update(good_until=models.F("use_by"))


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_first_rows")]

    operations = [
        migrations.AddField(
            model_name="lot",
            name="good_until",
            field=models.DateField(blank=True, editable=False, null=True, verbose_name="good until"),
        ),
        migrations.RunPython(copy_use_by, migrations.RunPython.noop),
        migrations.AlterField(
            model_name="lot",
            name="opened_on",
            field=models.DateField(blank=True, help_text="Empty: still closed.", null=True, verbose_name="opened on"),
        ),
        migrations.AddIndex(
            model_name="lot",
            index=models.Index(
                condition=models.Q(("quantity_left__gt", 0)), fields=["material"], name="lots_that_hold_something"
            ),
        ),
    ]
