"""All tables of the first release; a database that had every migration from before it has had this one."""

import django.core.validators
import django.db.models.deletion
import shop.fields
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [
        ('inventory', '0001_first_rows'),
        ('inventory', '0002_lots_keep_good_until'),
        ('inventory', '0003_reservations_and_safety'),
        ('inventory', '0004_counts_deliveries_and_tests'),
        ('inventory', '0005_movements_by_when_recorded'),
        ('inventory', '0006_totals_by_day'),
        ('inventory', '0007_use_by_week'),
        ('inventory', '0008_totals_of_what_moved_before'),
        ('inventory', '0009_weeks_ordered_at_once'),
        ('inventory', '0010_weighings_know_what_they_booked'),
        ('inventory', '0011_guessed_packs_and_prices'),
        ('inventory', '0012_not_counted_is_not_none'),
        ('inventory', '0013_words_of_constraints'),
    ]

    initial = True

    dependencies = [
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Material',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.SlugField(max_length=60, unique=True, verbose_name='short name')),
                ('name', models.CharField(max_length=120, verbose_name='name')),
                ('kind', models.CharField(choices=[('resin', 'resin'), ('hardener', 'catalyst or hardener'), ('additive', 'additive'), ('cloth', 'cloth'), ('roving', 'roving'), ('foam', 'foam'), ('filler', 'filler'), ('abrasive', 'abrasive'), ('tape', 'tape and masking'), ('paint', 'paint and clear'), ('solvent', 'solvent'), ('hardware', 'fins, boxes and plugs'), ('sundry', 'cups, gloves and the like'), ('counter', 'counter goods')], max_length=10, verbose_name='kind')),
                ('unit', models.CharField(choices=[('g', 'grams'), ('mL', 'millilitres'), ('m', 'metres'), ('m2', 'square metres'), ('piece', 'pieces')], max_length=5, verbose_name='counted in')),
                ('shelf', models.CharField(blank=True, max_length=60, verbose_name='shelf')),
                ('density_kg_m3', shop.fields.ExactField(blank=True, null=True, places=3, verbose_name='density in kg/m³')),
                ('areal_weight_g_m2', shop.fields.ExactField(blank=True, null=True, places=3, verbose_name='weight in g/m²')),
                ('roll_width_mm', shop.fields.ExactField(blank=True, null=True, places=1, verbose_name='roll width in mm')),
                ('free_rise_kg_m3', shop.fields.ExactField(blank=True, null=True, places=3, verbose_name='free-rise density in kg/m³')),
                ('facts', models.JSONField(blank=True, default=dict, help_text='Name to number, like tex, grit, solids or mix ratio.', verbose_name='other facts')),
                ('shelf_life_days', models.PositiveIntegerField(blank=True, null=True, verbose_name='shelf life in days')),
                ('opened_life_days', models.PositiveIntegerField(blank=True, null=True, verbose_name='life in days once opened')),
                ('hazard', models.CharField(blank=True, help_text='One sentence; the data sheet rules.', max_length=400, verbose_name='hazard')),
                ('not_tracked', models.BooleanField(default=False, verbose_name='not tracked')),
                ('guess_words', models.CharField(blank=True, editable=False, max_length=80, verbose_name='pack, guessed')),
                ('guess_content', shop.fields.QuantityField(blank=True, editable=False, null=True, places=6, verbose_name='content of the pack, guessed')),
                ('guess_price', shop.fields.MoneyField(blank=True, editable=False, null=True, places=4, verbose_name='its price, guessed')),
                ('retired_at', models.DateTimeField(blank=True, editable=False, null=True)),
            ],
            options={
                'ordering': ['kind', 'name'],
            },
        ),
        migrations.CreateModel(
            name='StoragePlace',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60, unique=True, verbose_name='shelf')),
                ('ignition', models.BooleanField(default=False, verbose_name='a source of ignition is here or near')),
                ('warmest_c', shop.fields.ExactField(blank=True, help_text='Empty: not measured.', null=True, places=1, verbose_name='warmest, °C')),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.CreateModel(
            name='Supplier',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120, unique=True, verbose_name='name')),
                ('phone', models.CharField(blank=True, max_length=40, verbose_name='phone')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email')),
                ('lead_days', models.PositiveSmallIntegerField(default=7, verbose_name='days from order to delivery')),
                ('note', models.TextField(blank=True, max_length=2000, verbose_name='note')),
            ],
            options={
                'ordering': ['name'],
            },
        ),
        migrations.CreateModel(
            name='BuyingRules',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('order_cost', shop.fields.MoneyField(default=Decimal('12'), places=4, verbose_name='what one order costs, goods apart')),
                ('holding_percent', shop.fields.PercentField(default=Decimal('25'), places=3, verbose_name='what keeping stock costs in a year, in % of its price')),
                ('service_percent', models.PositiveSmallIntegerField(choices=[(90, '90'), (95, '95'), (98, '98'), (99, '99')], default=95, verbose_name='deliveries out of a hundred before which nothing runs out')),
                ('look_ahead_days', models.PositiveSmallIntegerField(default=7, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(60)], verbose_name='days between two looks at the list')),
                ('most_weeks', models.PositiveSmallIntegerField(default=13, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(104)], verbose_name='weeks of usual use that are ordered at once, at most')),
            ],
            options={
                'verbose_name_plural': 'buying rules',
                'constraints': [models.CheckConstraint(condition=models.Q(('pk', 1)), name='buying_rules_are_one_row'), models.CheckConstraint(condition=models.Q(('order_cost__gt', 0), ('holding_percent__gt', 0), ('holding_percent__lte', 200)), name='buying_costs_something', violation_error_message='An order and keeping stock cost something: more than nothing, at most 200 per cent.')],
            },
        ),
        migrations.CreateModel(
            name='Count',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('shelf', models.CharField(blank=True, max_length=60, verbose_name='shelf')),
                ('everything', models.BooleanField(default=False, verbose_name='the whole store')),
                ('blind', models.BooleanField(default=True, verbose_name='blind')),
                ('started_at', models.DateTimeField()),
                ('closed_at', models.DateTimeField(blank=True, help_text='Empty: still being counted.', null=True)),
                ('started_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='Delivery',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('note', models.CharField(blank=True, max_length=60, verbose_name='delivery note')),
                ('received_on', models.DateField(verbose_name='received on')),
                ('currency', models.CharField(max_length=3, verbose_name='currency of the purchase')),
                ('rate', shop.fields.ExactField(default=Decimal('1'), places=6, verbose_name="one of it costs, in the shop's currency")),
                ('freight', shop.fields.MoneyField(default=Decimal('0'), places=4, verbose_name='freight')),
                ('duty', shop.fields.MoneyField(default=Decimal('0'), places=4, verbose_name='duty that is not given back')),
                ('discount', shop.fields.MoneyField(default=Decimal('0'), places=4, verbose_name='discount')),
                ('spread_by', models.CharField(choices=[('value', 'what it cost'), ('weight', 'what it weighs')], default='value', max_length=6, verbose_name='spread by')),
                ('made_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('supplier', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='deliveries', to='inventory.supplier')),
            ],
            options={
                'verbose_name_plural': 'deliveries',
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='Lot',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('origin', models.CharField(choices=[('bought', 'bought'), ('reclaimed', 'reclaimed in the shop'), ('gift', 'given'), ('customer', "the customer's own"), ('found', 'found at a count'), ('uncounted', 'used before it was first counted')], default='bought', max_length=10, verbose_name='origin')),
                ('delivery_note', models.CharField(blank=True, max_length=60, verbose_name='delivery note')),
                ('received_on', models.DateField(verbose_name='received on')),
                ('use_by', models.DateField(blank=True, help_text='Empty: it does not go off.', null=True, verbose_name='use by')),
                ('opened_on', models.DateField(blank=True, help_text='Empty: still closed.', null=True, verbose_name='opened on')),
                ('tested_until', models.DateField(blank=True, editable=False, help_text='Empty: not tested.', null=True, verbose_name='good until, by a test')),
                ('good_until', models.DateField(blank=True, editable=False, null=True, verbose_name='good until')),
                ('brand', models.CharField(blank=True, max_length=80, verbose_name='brand')),
                ('length_mm', shop.fields.ExactField(blank=True, help_text='Empty: no offcut.', null=True, places=1, verbose_name='length of an offcut')),
                ('width_mm', shop.fields.ExactField(blank=True, null=True, places=1, verbose_name='width of an offcut')),
                ('quantity_left', shop.fields.QuantityField(default=Decimal('0'), editable=False, places=6, verbose_name='left')),
                ('value_left', shop.fields.MoneyField(default=Decimal('0'), editable=False, places=4, verbose_name='value left')),
                ('delivery', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.delivery')),
                ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.material')),
            ],
            options={
                'ordering': ['material', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Container',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(default='drum', max_length=60, verbose_name='container')),
                ('tare_g', shop.fields.ExactField(places=3, verbose_name='empty weight in g')),
                ('emptied_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='containers', to='inventory.lot')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='DayTotal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('side', models.CharField(max_length=10)),
                ('recorded_on', models.DateField()),
                ('quantity', shop.fields.QuantityField(places=6, verbose_name='quantity, in or out')),
                ('value', shop.fields.MoneyField(places=4, verbose_name='value, in or out')),
                ('material', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.material')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='DataSheet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('file', models.FileField(upload_to='sheets/%Y/%m')),
                ('name', models.CharField(max_length=120, verbose_name='file')),
                ('sha256', models.CharField(editable=False, max_length=64)),
                ('issued_on', models.DateField(blank=True, null=True, verbose_name='date on the sheet')),
                ('kept_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='data_sheets', to='inventory.material')),
            ],
            options={
                'ordering': ['material', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Movement',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('kind', models.CharField(choices=[('receive', 'received'), ('use', 'used'), ('return', 'back on the shelf'), ('write_off', 'written off'), ('difference', 'count difference'), ('reversal', 'mistake undone')], max_length=10)),
                ('quantity', shop.fields.QuantityField(places=6, verbose_name='quantity, in or out')),
                ('value', shop.fields.MoneyField(places=4, verbose_name='value, in or out')),
                ('happened_at', models.DateTimeField(verbose_name='when it happened')),
                ('recorded_at', models.DateTimeField(verbose_name='when it was recorded')),
                ('reason', models.CharField(blank=True, max_length=200, verbose_name='reason')),
                ('act', models.UUIDField(db_index=True, verbose_name='the act it belongs to')),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='movements', to='inventory.lot')),
                ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='movements', to='inventory.material')),
                ('reverses', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='reversed_by', to='inventory.movement')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='CountLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('counted', shop.fields.QuantityField(blank=True, help_text='Empty: not counted yet.', null=True, places=6, verbose_name='counted')),
                ('expected', shop.fields.QuantityField(blank=True, null=True, places=6, verbose_name='expected')),
                ('typed', models.CharField(blank=True, max_length=200, verbose_name='as it was entered')),
                ('counted_at', models.DateTimeField(blank=True, null=True)),
                ('count', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='inventory.count')),
                ('counted_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('lot', models.ForeignKey(blank=True, help_text='Empty: found, of no lot.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.lot')),
                ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.material')),
                ('movement', models.OneToOneField(blank=True, help_text='The difference, once it was booked.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='count_line', to='inventory.movement')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Pack',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('words', models.CharField(help_text='Like 20 kg drum, or 30 in × 50 m roll.', max_length=80, verbose_name='pack')),
                ('content', shop.fields.QuantityField(places=6, verbose_name='content')),
                ('supplier_code', models.CharField(blank=True, max_length=60, verbose_name="supplier's article")),
                ('preferred', models.BooleanField(default=False, verbose_name='the usual one to buy')),
                ('retired_at', models.DateTimeField(blank=True, editable=False, null=True)),
                ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='packs', to='inventory.material')),
                ('supplier', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='packs', to='inventory.supplier')),
            ],
            options={
                'ordering': ['material', '-preferred', 'words'],
            },
        ),
        migrations.CreateModel(
            name='Order',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('packs', models.PositiveIntegerField(verbose_name='how many packs')),
                ('ordered_on', models.DateField(verbose_name='ordered on')),
                ('expected_on', models.DateField(verbose_name='expected on')),
                ('made_at', models.DateTimeField()),
                ('closed_at', models.DateTimeField(blank=True, help_text='Empty: still expected.', null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('pack', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='orders', to='inventory.pack')),
            ],
            options={
                'ordering': ['expected_on', 'pk'],
            },
        ),
        migrations.AddField(
            model_name='lot',
            name='pack',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.pack'),
        ),
        migrations.CreateModel(
            name='PackPrice',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('price', shop.fields.MoneyField(places=4, verbose_name='price without tax')),
                ('from_day', models.DateField(verbose_name='from')),
                ('pack', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='prices', to='inventory.pack')),
            ],
            options={
                'ordering': ['pack', '-from_day', '-pk'],
            },
        ),
        migrations.CreateModel(
            name='Reservation',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('quantity', shop.fields.QuantityField(places=6, verbose_name='quantity')),
                ('needed_on', models.DateField(verbose_name='needed on')),
                ('made_at', models.DateTimeField()),
                ('released_at', models.DateTimeField(blank=True, help_text='Empty: still wanted.', null=True)),
                ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reservations', to='inventory.material')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Safety',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('classes', models.JSONField(blank=True, default=list, help_text='Keys of inventory.safety.hazards.', verbose_name='hazard classes')),
                ('keep_at_most', shop.fields.QuantityField(blank=True, help_text='Empty: no limit entered.', null=True, places=6, verbose_name='keep at most')),
                ('keep_below_c', shop.fields.ExactField(blank=True, help_text='Empty: not entered.', null=True, places=1, verbose_name='keep below, °C')),
                ('material', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='safety', to='inventory.material')),
            ],
            options={
                'verbose_name_plural': 'safety',
            },
        ),
        migrations.CreateModel(
            name='ShelfTest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('tested_on', models.DateField(verbose_name='tested on')),
                ('passed', models.BooleanField(verbose_name='still good')),
                ('good_until', models.DateField(blank=True, help_text='Empty where it failed.', null=True, verbose_name='good until')),
                ('words', models.CharField(max_length=200, verbose_name='what it showed')),
                ('made_at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('lot', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='shelf_tests', to='inventory.lot')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='StockQuestion',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('words', models.CharField(max_length=400)),
                ('asked_at', models.DateTimeField()),
                ('answered_at', models.DateTimeField(blank=True, null=True)),
                ('answer', models.CharField(blank=True, max_length=400)),
                ('answered_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL)),
                ('material', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='questions', to='inventory.material')),
                ('movement', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='questions', to='inventory.movement')),
            ],
            options={
                'ordering': ['answered_at', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='PriceList',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120, verbose_name='file')),
                ('text', models.TextField()),
                ('from_day', models.DateField(verbose_name='prices from')),
                ('made_at', models.DateTimeField()),
                ('taken_at', models.DateTimeField(blank=True, help_text='Empty: only looked at.', null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('supplier', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='price_lists', to='inventory.supplier')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.AddField(
            model_name='lot',
            name='supplier',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lots', to='inventory.supplier'),
        ),
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
            },
        ),
        migrations.CreateModel(
            name='Weighing',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('gross_g', shop.fields.ExactField(places=3, verbose_name='gross weight in g')),
                ('net', shop.fields.QuantityField(places=6, verbose_name='it held')),
                ('weighed_at', models.DateTimeField()),
                ('act', models.UUIDField(blank=True, editable=False, null=True)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('container', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='weighings', to='inventory.container')),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='container',
            constraint=models.CheckConstraint(condition=models.Q(('tare_g__gt', 0)), name='container_weighs_something', violation_error_message='An empty container weighs more than nothing.'),
        ),
        migrations.AddIndex(
            model_name='daytotal',
            index=models.Index(fields=['material', 'side', 'recorded_on', 'quantity', 'value'], name='what_moved_by_day'),
        ),
        migrations.AddConstraint(
            model_name='daytotal',
            constraint=models.UniqueConstraint(fields=('material', 'side', 'recorded_on'), name='one_total_a_day_and_side'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['material', 'recorded_at'], name='inventory_m_materia_1d229a_idx'),
        ),
        migrations.AddIndex(
            model_name='movement',
            index=models.Index(fields=['recorded_at'], name='movements_by_when_recorded'),
        ),
        migrations.AddConstraint(
            model_name='movement',
            constraint=models.CheckConstraint(condition=models.Q(('quantity', 0), _negated=True), name='movement_moves', violation_error_message='A movement must add or take something.'),
        ),
        migrations.AddConstraint(
            model_name='movement',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('quantity__gt', 0), ('value__gte', 0)), models.Q(('quantity__lt', 0), ('value__lte', 0)), _connector='OR'), name='movement_value_follows_quantity', violation_error_message='Value moves the way the quantity moves.'),
        ),
        migrations.AddConstraint(
            model_name='movement',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'reversal'), ('reverses__isnull', False)), models.Q(models.Q(('kind', 'reversal'), _negated=True), ('reverses__isnull', True)), _connector='OR'), name='reversal_names_what_it_reverses', violation_error_message='A reversal must name the movement it undoes.'),
        ),
        migrations.AddConstraint(
            model_name='countline',
            constraint=models.UniqueConstraint(fields=('count', 'lot'), name='a_lot_is_counted_once_a_round'),
        ),
        migrations.AddConstraint(
            model_name='countline',
            constraint=models.CheckConstraint(condition=models.Q(('counted__isnull', True), ('counted__gte', 0), _connector='OR'), name='counted_not_below_nothing', violation_error_message='There cannot be less than nothing.'),
        ),
        migrations.AddConstraint(
            model_name='order',
            constraint=models.CheckConstraint(condition=models.Q(('packs__gt', 0)), name='order_of_something', violation_error_message='An order is of one pack or more.'),
        ),
        migrations.AddConstraint(
            model_name='packprice',
            constraint=models.CheckConstraint(condition=models.Q(('price__gte', 0)), name='pack_price_not_negative', violation_error_message='A price is zero or more.'),
        ),
        migrations.AddIndex(
            model_name='reservation',
            index=models.Index(condition=models.Q(('released_at__isnull', True)), fields=['material', 'needed_on'], name='reservations_still_wanted'),
        ),
        migrations.AddConstraint(
            model_name='reservation',
            constraint=models.CheckConstraint(condition=models.Q(('quantity__gt', 0)), name='reservation_wants_something', violation_error_message='A reservation must be of more than nothing.'),
        ),
        migrations.AddConstraint(
            model_name='safety',
            constraint=models.CheckConstraint(condition=models.Q(('keep_at_most__isnull', True), ('keep_at_most__gt', 0), _connector='OR'), name='storage_limit_above_zero', violation_error_message='Keep at most must be above zero, or empty.'),
        ),
        migrations.AddConstraint(
            model_name='pack',
            constraint=models.CheckConstraint(condition=models.Q(('content__gt', 0)), name='pack_has_content', violation_error_message='A pack must hold something.'),
        ),
        migrations.AddConstraint(
            model_name='pack',
            constraint=models.UniqueConstraint(condition=models.Q(('preferred', True)), fields=('material',), name='one_usual_pack', violation_error_message='Another pack of this material is already the usual one.'),
        ),
        migrations.AddIndex(
            model_name='lot',
            index=models.Index(fields=['material', 'use_by', 'received_on'], name='inventory_l_materia_5edd24_idx'),
        ),
        migrations.AddIndex(
            model_name='lot',
            index=models.Index(condition=models.Q(('quantity_left__gt', 0)), fields=['material'], name='lots_that_hold_something'),
        ),
        migrations.AddConstraint(
            model_name='lot',
            constraint=models.CheckConstraint(condition=models.Q(('quantity_left__gte', 0), ('value_left__gte', 0)), name='lot_never_negative', violation_error_message='A lot cannot hold less than nothing.'),
        ),
        migrations.AddConstraint(
            model_name='lot',
            constraint=models.CheckConstraint(condition=models.Q(('use_by__isnull', True), ('use_by__gte', models.F('received_on')), _connector='OR'), name='use_by_after_receipt', violation_error_message='Use by must not lie before the day it was received.'),
        ),
        migrations.AddConstraint(
            model_name='delivery',
            constraint=models.CheckConstraint(condition=models.Q(('rate__gt', 0), ('freight__gte', 0), ('duty__gte', 0), ('discount__gte', 0)), name='delivery_costs_not_negative', violation_error_message='Rate must be above zero; freight, duty and discount zero or more.'),
        ),
        migrations.AddConstraint(
            model_name='weekuse',
            constraint=models.UniqueConstraint(fields=('material', 'week'), name='one_use_a_week'),
        ),
        migrations.AddConstraint(
            model_name='weighing',
            constraint=models.CheckConstraint(condition=models.Q(('net__gte', 0)), name='weighing_not_below_tare', violation_error_message='A container cannot weigh less than when it is empty.'),
        ),
    ]
