"""What was booked in one tap and which lines of an invoice are by hand are known by key, not by time or words; how warm
the shop was on a day is kept.

Rows of before: a tap was all of one moment and one person that shares a step or a mix; a line by hand had the words of
a line of its job's way, each of which counts once.
"""

import uuid
from collections import Counter, defaultdict

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import shop.fields


def give_taps(apps, schema_editor):
    """One key for each tap: uses of the same moment and person, joined where they share a step or a mix."""
    uses = apps.get_model("quotes", "StepUse").objects.order_by("pk")
    moments = defaultdict(list)
    for row in uses.only("pk", "step_id", "mix_id", "at", "by_id").iterator(chunk_size=2000):
        moments[row.at, row.by_id].append(row)
    changed = []
    for rows in moments.values():
        taps = {}
        for row in rows:
            ends = [("step", row.step_id), *([("mix", row.mix_id)] if row.mix_id else [])]
            met = [taps[end] for end in ends if end in taps]
            tap = met[0] if met else uuid.uuid4()
            taps = {end: tap if other in met else other for end, other in taps.items()}
            taps.update(dict.fromkeys(ends, tap))
        for row in rows:
            row.tap = taps["step", row.step_id]
            changed.append(row)
    apps.get_model("quotes", "StepUse").objects.bulk_update(changed, ["tap"], batch_size=500)
    schema_editor.connection.check_constraints()  # PostgreSQL alters no table while checks wait


def mark_lines_by_hand(apps, schema_editor):
    """The lines of an invoice that have the words of a line by hand of their job's way, each way's line once."""
    written = defaultdict(Counter)
    lines = apps.get_model("quotes", "WayLine").objects.filter(way__jobs__isnull=False)
    for job, words in lines.order_by("pk").values_list("way__jobs", "words"):
        written[job][words] += 1
    left, by_hand = {}, []
    rows = apps.get_model("quotes", "InvoiceLine").objects.filter(job__in=list(written))
    for pk, invoice, job, words in rows.order_by("invoice", "position").values_list("pk", "invoice", "job", "words"):
        mine = left.setdefault((invoice, job), written[job].copy())
        if mine[words]:
            mine[words] -= 1
            by_hand.append(pk)
    for start in range(0, len(by_hand), 500):
        rows.filter(pk__in=by_hand[start : start + 500]).update(by_hand=True)
    schema_editor.connection.check_constraints()  # PostgreSQL alters no table while checks wait


class Migration(migrations.Migration):
    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
        ("quotes", "0011_the_last_backtest"),
    ]

    operations = [
        migrations.AddField(
            model_name="invoiceline",
            name="by_hand",
            field=models.BooleanField(default=False, verbose_name="a line by hand of a way"),
        ),
        migrations.AddField(
            model_name="stepuse",
            name="tap",
            field=models.UUIDField(
                db_index=True,
                default=uuid.uuid4,
                editable=False,
                help_text="What was booked in one tap has the same.",
            ),
        ),
        migrations.CreateModel(
            name="Warmth",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("day", models.DateField(db_index=True)),
                ("celsius", shop.fields.ExactField(places=1, verbose_name="temperature at the bench in °C")),
                ("at", models.DateTimeField()),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={"ordering": ["pk"], "verbose_name_plural": "warmths"},
        ),
        migrations.RunPython(give_taps, migrations.RunPython.noop),
        migrations.RunPython(mark_lines_by_hand, migrations.RunPython.noop),
    ]
