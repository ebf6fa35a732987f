
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('quotes', '0002_steps_know_their_repair'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name='recipe',
            name='reference',
            field=models.JSONField(blank=True, default=dict, help_text="{'board': {core, resin, skin}, 'measures': name to what was typed}; empty: a usual board.", verbose_name='the board and measures its price is shown for'),
        ),
        migrations.AddField(
            model_name='recipeversion',
            name='copied_from',
            field=models.ForeignKey(blank=True, help_text='Empty: no copy.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='copies', to='quotes.recipeversion'),
        ),
        migrations.CreateModel(
            name='PriceListPrint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('prices', models.JSONField(help_text='List of {row, repair, size, board, board_words, price, only_from}.')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL)),
                ('document', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='quotes.document')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='PriceListRow',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveSmallIntegerField(default=0)),
                ('repair', models.CharField(max_length=80, verbose_name='repair')),
                ('size', models.CharField(blank=True, max_length=80, verbose_name='size')),
                ('measures', models.JSONField(default=dict, help_text='Name to what was typed.')),
                ('accepted_odd', models.JSONField(blank=True, default=list, verbose_name='odd measures said to be right')),
                ('only_from', models.BooleanField(default=False, verbose_name='only an inspection can tell')),
                ('recipe', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='price_rows', to='quotes.recipe')),
            ],
            options={
                'ordering': ['position', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='RecipeDraft',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.SlugField(max_length=60, unique=True, verbose_name='short name')),
                ('body', models.JSONField()),
                ('reference', models.JSONField(blank=True, default=dict)),
                ('turn', models.PositiveIntegerField(default=0, verbose_name='changes so far')),
                ('changed_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL)),
                ('copied_from', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='quotes.recipeversion')),
                ('recipe', models.OneToOneField(help_text='Empty: not saved even once.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='draft', to='quotes.recipe')),
            ],
            options={
                'ordering': ['-changed_at'],
            },
        ),
    ]
