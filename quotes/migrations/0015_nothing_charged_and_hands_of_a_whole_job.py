from decimal import ROUND_HALF_UP, Decimal

from django.db import migrations, models

TWO_MINUTES = "at the counter, two-minute job"  # how the yes came, on every two-minute job until now


def nobody_wrote_down(apps, schema_editor):
    """Two-minute jobs never asked for minutes: theirs are unknown, unless somebody put them right since."""
    Job, StepTime = apps.get_model("quotes", "Job"), apps.get_model("quotes", "StepTime")
    for job in Job.objects.filter(way__agreed_how=TWO_MINUTES).iterator():
        times = StepTime.objects.filter(step__job=job, replaced_at__isnull=True).select_related("step")
        if all(time.minutes == _planned(time.step.plan) for time in times):
            Job.objects.filter(pk=job.pk).update(hands="unknown")
    schema_editor.connection.check_constraints()  # PostgreSQL alters no table while checks wait


def _planned(plan):
    minutes = Decimal(str(float(plan.get("minutes") or 0)))
    return minutes.quantize(Decimal("0.1"), ROUND_HALF_UP) or Decimal(1)


class Migration(migrations.Migration):

    dependencies = [
        ('quotes', '0014_minutes_somebody_wrote'),
    ]

    operations = [
        migrations.AlterField(
            model_name='extra',
            name='kind',
            field=models.CharField(choices=[('extra', 'more work'), ('another', 'another way instead'), ('absorbed', 'done at our cost'), ('stopped', 'opened, then stopped'), ('uncharged', 'nothing is charged')], default='extra', max_length=10),
        ),
        migrations.AddField(
            model_name='job',
            name='hands',
            field=models.CharField(choices=[('steps', 'written down at each step'), ('whole', 'said for the whole job'), ('unknown', 'not written down')], default='steps', help_text="Said for the whole job, steps hold shares of them; not written down, the steps' are those planned.", max_length=8, verbose_name='hands-on minutes'),
        ),
        migrations.RunPython(nobody_wrote_down, migrations.RunPython.noop, elidable=True),
    ]
