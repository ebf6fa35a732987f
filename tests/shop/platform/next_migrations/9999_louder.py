"""A column with something worked out from rows of before."""

from django.db import migrations, models

from tests.shop.platform.next_migrations import LAST


def shout(apps, schema_editor):
    for customer in apps.get_model("shop", "Customer").objects.all():
        customer.loud = customer.name.upper()
        customer.save(update_fields=["loud"])
    schema_editor.connection.check_constraints()


class Migration(migrations.Migration):
    dependencies = [("shop", LAST)]

    operations = [
        migrations.AddField("customer", "loud", models.CharField(max_length=200, default="")),
        migrations.RunPython(shout, migrations.RunPython.noop),
    ]
