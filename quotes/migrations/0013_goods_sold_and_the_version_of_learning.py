"""Lines of a counter sale know what they took off the shelf; what was learned says in which version it is kept."""

from collections import defaultdict

from django.db import migrations, models

SOLD = "sold at the counter"  # what the ledger wrote beside every sale before lines knew their movements


def link_sales(apps, schema_editor):
    """Sales made before: the acts recorded at the invoice's own moment, by name and amount."""
    Invoice = apps.get_model("quotes", "Invoice")
    Movement = apps.get_model("inventory", "Movement")
    for invoice in Invoice.objects.filter(kind="invoice", jobs__isnull=True).prefetch_related("lines"):
        acts = defaultdict(list)
        moved = Movement.objects.filter(kind="use", reason=SOLD, recorded_at=invoice.issued_at, by=invoice.by)
        for movement in moved.select_related("material").order_by("pk"):
            acts[movement.act].append(movement)
        for line in invoice.lines.all():
            for act, out in acts.items():
                if out[0].material.name[:400] == line.words and -sum(one.quantity for one in out) == line.quantity:
                    line.movements.set(acts.pop(act))
                    break
    schema_editor.connection.check_constraints()  # PostgreSQL alters no table while checks wait


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0010_weighings_know_what_they_booked"),
        ("quotes", "0012_taps_lines_by_hand_and_the_warmth_of_the_shop"),
    ]

    operations = [
        migrations.AddField(
            model_name="backtest",
            name="version",
            field=models.PositiveSmallIntegerField(default=0, verbose_name="of how it is kept"),
        ),
        migrations.AddField(
            model_name="experience",
            name="version",
            field=models.PositiveSmallIntegerField(default=0, verbose_name="of how it is kept"),
        ),
        migrations.AddField(
            model_name="invoiceline",
            name="movements",
            field=models.ManyToManyField(blank=True, related_name="invoice_lines", to="inventory.movement"),
        ),
        migrations.RunPython(link_sales, migrations.RunPython.noop),
    ]
