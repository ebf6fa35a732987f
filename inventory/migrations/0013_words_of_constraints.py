"""What three constraints say when they are broken; nothing of the tables changes."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("inventory", "0012_not_counted_is_not_none")]

    operations = [
        migrations.AlterConstraint(
            model_name="countline",
            name="counted_not_below_nothing",
            constraint=models.CheckConstraint(
                condition=models.Q(("counted__isnull", True), ("counted__gte", 0), _connector="OR"),
                name="counted_not_below_nothing",
                violation_error_message="There cannot be less than nothing.",
            ),
        ),
        migrations.AlterConstraint(
            model_name="lot",
            name="lot_never_negative",
            constraint=models.CheckConstraint(
                condition=models.Q(("quantity_left__gte", 0), ("value_left__gte", 0)),
                name="lot_never_negative",
                violation_error_message="A lot cannot hold less than nothing.",
            ),
        ),
        migrations.AlterConstraint(
            model_name="weighing",
            name="weighing_not_below_tare",
            constraint=models.CheckConstraint(
                condition=models.Q(("net__gte", 0)),
                name="weighing_not_below_tare",
                violation_error_message="A container cannot weigh less than when it is empty.",
            ),
        ),
    ]
