"""Tax points as rows; papers of before get theirs from their frozen content, as they were made.

Each such row is marked as derived: where a chain of papers was wrong, it is said to the keeper and never changed.
"""

from datetime import date
from decimal import Decimal

import django.db.models.deletion
import django.db.models.expressions
from django.db import migrations, models

import shop.fields

AMOUNTS = ("net", "tax", "gross")


def of_paper(frozen):
    """Rows with their ground, and whether the paper said them itself, as it does after going back and forth.

    Before it did, an invoice accounted for what its deposits left, a credit note for all that it prints, a receipt for
    the tax of its deposit; nothing was taken back with a deposit that was paid back.
    """
    if "tax_points" in frozen:
        return [(point["cause"], point) for point in frozen["tax_points"]], True
    if frozen["document"] == "receipt":
        taxed = frozen.get("advance")
        return [("deposit", row) for row in taxed["tax_rows"]] if taxed else [], False
    printed = frozen["totals"]["tax_rows"]
    if frozen["document"] == "credit":
        return [("credit", row) for row in printed], False
    return [("sale", row) for row in (printed if frozen.get("advance_tax") is None else frozen["tax_left"])], False


def derive(apps, schema_editor):
    """The tax points of every paper, in the order they were made."""
    alias = schema_editor.connection.alias
    points = apps.get_model("quotes", "TaxPoint").objects.using(alias)

    def write(own, paper, job):
        rows, said = of_paper(paper.frozen)
        points.bulk_create(
            points.model(
                **{own: paper.pk},
                job_id=row.get("job") or job,
                day=date.fromisoformat(paper.frozen["issued_on"]),
                cause=cause,
                tax_word=paper.frozen["tax"]["word"],
                category=row["category"],
                percent=Decimal(row["percent"]),
                **{name: Decimal(row[name]) for name in AMOUNTS},
                derived=not said,
            )
            for cause, row in rows
        )

    invoices = apps.get_model("quotes", "Invoice").objects.using(alias).only("frozen").order_by("pk")
    for paper in invoices.iterator(chunk_size=100):
        write("invoice_id", paper, None)
    receipts = apps.get_model("quotes", "Payment").objects.using(alias).only("frozen", "job").order_by("pk")
    for paper in receipts.iterator(chunk_size=100):
        write("payment_id", paper, paper.job_id)
    schema_editor.connection.check_constraints()


class Migration(migrations.Migration):

    dependencies = [
        ('quotes', '0002_promises'),
    ]

    operations = [
        migrations.CreateModel(
            name='TaxPoint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('cause', models.CharField(choices=[('sale', 'charged'), ('deposit', 'deposit received'), ('kept', 'deposit kept'), ('credit', 'credited'), ('back', 'deposit paid back')], max_length=10)),
                ('tax_word', models.CharField(blank=True, max_length=20, verbose_name='name of the tax')),
                ('category', models.CharField(max_length=2)),
                ('percent', shop.fields.PercentField(places=3)),
                ('net', shop.fields.MoneyField(places=4)),
                ('tax', shop.fields.MoneyField(places=4)),
                ('gross', shop.fields.MoneyField(places=4)),
                ('derived', models.BooleanField(default=False, verbose_name='worked out later from the paper')),
                ('invoice', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='tax_points', to='quotes.invoice')),
                ('job', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='tax_points', to='quotes.job')),
                ('payment', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='tax_points', to='quotes.payment')),
            ],
            options={
                'ordering': ['pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('invoice__isnull', True), ('payment__isnull', False)), models.Q(('invoice__isnull', False), ('payment__isnull', True)), _connector='OR'), name='tax_point_of_one_paper', violation_error_message='A tax point is of one paper.'), models.CheckConstraint(condition=models.Q(('gross', django.db.models.expressions.CombinedExpression(models.F('net'), '+', models.F('tax')))), name='tax_point_adds_up', violation_error_message='Net and tax of a tax point make its gross.')],
            },
        ),
        migrations.RunPython(derive, migrations.RunPython.noop),
    ]
