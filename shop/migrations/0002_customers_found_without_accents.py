from django.db import migrations, models

from shop.text.writing import folded


def fold_names(apps, schema_editor):
    for customer in apps.get_model("shop", "Customer").objects.only("pk", "name").iterator():
        customer.name_folded = folded(customer.name)[:400]
        customer.save(update_fields=["name_folded"])


class Migration(migrations.Migration):
    dependencies = [("shop", "0001_first_rows")]

    operations = [
        migrations.AddField(
            model_name="customer",
            name="name_folded",
            field=models.CharField(blank=True, editable=False, max_length=400),
            preserve_default=True,
        ),
        migrations.RunPython(fold_names, migrations.RunPython.noop, elidable=True),
    ]
