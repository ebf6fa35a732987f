"""All tables of the first release; a database that had every migration from before it has had this one."""

import django.db.models.deletion
import shop.fields
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [
        ('shop', '0001_first_rows'),
        ('shop', '0002_customers_found_without_accents'),
        ('shop', '0003_margin_or_markup'),
        ('shop', '0004_prices_carry_what_is_done_again'),
        ('shop', '0005_a_shop_may_have_no_address_yet'),
        ('shop', '0006_two_records_of_one_person'),
        ('shop', '0007_lists_of_people'),
        ('shop', '0008_what_papers_say'),
    ]

    initial = True

    dependencies = [
    ]

    operations = [
        migrations.CreateModel(
            name='User',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('username', models.CharField(max_length=60, unique=True, verbose_name='login name')),
                ('name', models.CharField(max_length=120, verbose_name='name')),
                ('role', models.CharField(choices=[('keeper', 'Keeper: everything, settings and money included'), ('counter', 'Counter: quotes, jobs and invoices'), ('bench', 'Bench: jobs and real use, no prices')], max_length=10, verbose_name='role')),
                ('is_active', models.BooleanField(default=True, verbose_name='may log in')),
            ],
            options={
                'abstract': False,
            },
        ),
        migrations.CreateModel(
            name='ClosedDay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField(unique=True, verbose_name='day')),
                ('reason', models.CharField(blank=True, max_length=120, verbose_name='reason')),
            ],
            options={
                'ordering': ['day'],
            },
        ),
        migrations.CreateModel(
            name='Customer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120, verbose_name='name')),
                ('name_folded', models.CharField(blank=True, editable=False, max_length=400)),
                ('kind', models.CharField(choices=[('private', 'private'), ('trade', 'trade')], default='private', max_length=8, verbose_name='kind')),
                ('phone', models.CharField(blank=True, max_length=40, verbose_name='phone')),
                ('phone_digits', models.CharField(blank=True, editable=False, max_length=40)),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email')),
                ('address', models.TextField(blank=True, max_length=400, verbose_name='address')),
                ('tax_number', models.CharField(blank=True, max_length=40, verbose_name='tax number')),
                ('discount_percent', shop.fields.PercentField(default=Decimal('0'), places=3, verbose_name='discount')),
                ('note', models.TextField(blank=True, max_length=2000, verbose_name='note')),
                ('walk_in', models.BooleanField(default=False, editable=False, verbose_name='stands for people who leave no name')),
                ('made_at', models.DateTimeField(auto_now_add=True)),
                ('merged_into', models.ForeignKey(blank=True, editable=False, help_text='Empty: a record of its own. Otherwise the record of the same person that took over all of this one.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='merged', to='shop.customer')),
            ],
            options={
                'ordering': ['name', 'pk'],
            },
        ),
        migrations.CreateModel(
            name='Board',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(help_text='Like 5′6″ fish, white.', max_length=120, verbose_name='what it is called')),
                ('maker', models.CharField(blank=True, max_length=120, verbose_name='maker or shaper')),
                ('core', models.CharField(choices=[('unknown', 'not known'), ('pu', 'PU foam'), ('eps', 'EPS foam'), ('xps', 'XPS foam'), ('wood', 'wood'), ('hollow', 'hollow')], default='unknown', max_length=8, verbose_name='core')),
                ('resin', models.CharField(choices=[('unknown', 'not known'), ('polyester', 'polyester'), ('epoxy', 'epoxy')], default='unknown', max_length=10, verbose_name='skin resin')),
                ('skin', models.CharField(choices=[('glass', 'glass'), ('carbon', 'carbon'), ('sandwich', 'moulded sandwich'), ('soft', 'soft')], default='glass', max_length=10, verbose_name='skin')),
                ('length_mm', shop.fields.ExactField(places=1, verbose_name='length')),
                ('width_mm', shop.fields.ExactField(places=1, verbose_name='width')),
                ('thickness_mm', shop.fields.ExactField(blank=True, help_text='Empty: not measured.', null=True, places=1, verbose_name='thickness')),
                ('nose_mm', shop.fields.ExactField(blank=True, null=True, places=1, verbose_name='nose width, 12 in from the tip')),
                ('tail_mm', shop.fields.ExactField(blank=True, null=True, places=1, verbose_name='tail width, 12 in from the end')),
                ('tail_shape', models.CharField(choices=[('squash', 'squash'), ('square', 'square'), ('pin', 'pin'), ('round', 'round'), ('swallow', 'swallow'), ('fish', 'fish'), ('diamond', 'diamond')], default='squash', max_length=10, verbose_name='tail')),
                ('fins', models.CharField(blank=True, max_length=120, verbose_name='fins')),
                ('note', models.TextField(blank=True, max_length=2000, verbose_name='note')),
                ('made_at', models.DateTimeField(auto_now_add=True)),
                ('owner', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='boards', to='shop.customer')),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='JournalEntry',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('verb', models.CharField(max_length=60)),
                ('about', models.CharField(help_text='Kind and key of the row, like quotes.job:12.', max_length=60)),
                ('words', models.CharField(max_length=400)),
                ('details', models.JSONField(default=dict)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='LabourRate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('wage_per_hour', shop.fields.MoneyField(places=4, verbose_name='wage per hour')),
                ('from_day', models.DateField(verbose_name='from')),
                ('person', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='rates', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['person', '-from_day'],
            },
        ),
        migrations.CreateModel(
            name='NumberSeries',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.SlugField(unique=True, verbose_name='series')),
                ('prefix', models.CharField(blank=True, help_text='{year} stands for the year.', max_length=20, verbose_name='before the number')),
                ('width', models.PositiveSmallIntegerField(default=4, verbose_name='digits')),
                ('next_number', models.PositiveIntegerField(default=1, verbose_name='next number')),
            ],
            options={
                'verbose_name_plural': 'number series',
                'constraints': [models.CheckConstraint(condition=models.Q(('next_number__gte', 1)), name='series_starts_at_one', violation_error_message='A series begins at 1 or later.')],
            },
        ),
        migrations.CreateModel(
            name='Overhead',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('monthly', shop.fields.MoneyField(help_text='Rent, power, insurance, waste disposal, tools.', places=4, verbose_name='overheads in a month')),
                ('productive_hours', shop.fields.ExactField(places=2, verbose_name='hands-on hours in a month')),
                ('from_day', models.DateField(verbose_name='from')),
            ],
            options={
                'ordering': ['-from_day'],
                'constraints': [models.CheckConstraint(condition=models.Q(('monthly__gte', 0), ('productive_hours__gt', 0)), name='overhead_has_hours', violation_error_message='Overheads need hands-on hours above zero to be spread over.')],
            },
        ),
        migrations.CreateModel(
            name='PeopleList',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120, verbose_name='file')),
                ('text', models.TextField()),
                ('columns', models.JSONField(blank=True, default=dict, help_text='Entry to the number of its column, from 0.')),
                ('headed', models.BooleanField(default=True, verbose_name='its first line holds the headings')),
                ('made_at', models.DateTimeField()),
                ('taken_at', models.DateTimeField(blank=True, help_text='Empty: only looked at.', null=True)),
                ('made', models.JSONField(blank=True, default=dict, help_text='How many people and boards came of it.')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.CreateModel(
            name='Photo',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('image', models.ImageField(upload_to='photos/%Y/%m')),
                ('caption', models.CharField(blank=True, max_length=200, verbose_name='caption')),
                ('taken_at', models.DateTimeField()),
                ('board', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='photos', to='shop.board')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['pk'],
            },
        ),
        migrations.CreateModel(
            name='Profile',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=120, verbose_name='shop name')),
                ('address', models.TextField(blank=True, help_text='May wait until the first paper.', max_length=400, verbose_name='address')),
                ('country', models.CharField(help_text='Two letters, like IE.', max_length=2, verbose_name='country code')),
                ('phone', models.CharField(blank=True, max_length=40, verbose_name='phone')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email')),
                ('website', models.CharField(blank=True, max_length=120, verbose_name='website')),
                ('currency', models.CharField(default='EUR', max_length=3, verbose_name='currency')),
                ('locale', models.CharField(default='en_IE', max_length=12, verbose_name='number and date style')),
                ('timezone', models.CharField(default='Europe/Dublin', max_length=60, verbose_name='time zone')),
                ('paper', models.CharField(choices=[('A4', 'A4'), ('letter', 'US Letter')], default='A4', max_length=6, verbose_name='paper')),
                ('receipt_paper', models.CharField(choices=[('sheet', 'the same sheet as all papers'), ('A6', 'A6'), ('roll', 'a till roll, 80 mm wide')], default='sheet', max_length=6, verbose_name='receipts are printed on')),
                ('measures_in', models.CharField(choices=[('mm', 'millimetres'), ('cm', 'centimetres'), ('in', 'inches')], default='mm', max_length=2, verbose_name="measures on customers' papers")),
                ('volume_system', models.CharField(choices=[('us', 'US'), ('imperial', 'imperial')], default='us', max_length=8, verbose_name='gallons and ounces')),
                ('tax_profile', models.CharField(default='none', help_text='A key of the tax profiles.', max_length=20, verbose_name='tax profile')),
                ('tax_number', models.CharField(blank=True, max_length=40, verbose_name='tax registration number')),
                ('prices_include_tax', models.BooleanField(default=True, verbose_name='prices to customers include tax')),
                ('price_method', models.CharField(choices=[('margin', 'a margin on the price'), ('markup', 'a markup on the cost')], default='margin', max_length=6, verbose_name='prices are made with')),
                ('margin_percent', shop.fields.PercentField(default=Decimal('25'), places=3, verbose_name='margin on price, or markup on cost')),
                ('minimum_price', shop.fields.MoneyField(default=Decimal('25'), places=4, verbose_name='shop minimum')),
                ('price_step', shop.fields.MoneyField(default=Decimal('5'), places=4, verbose_name='round prices up to')),
                ('carries_again', models.BooleanField(default=False, verbose_name='prices carry what is done again')),
                ('deposit_percent', shop.fields.PercentField(default=Decimal('30'), places=3, verbose_name='deposit')),
                ('quote_days', models.PositiveSmallIntegerField(default=14, verbose_name='days a quote is held')),
                ('terms', models.TextField(blank=True, max_length=4000, verbose_name='terms on quotes and invoices')),
                ('may_turn_up', models.TextField(blank=True, max_length=1000, verbose_name='a word on what may turn up')),
                ('payment_days', models.PositiveSmallIntegerField(default=14, verbose_name='days to pay an invoice')),
                ('payment_words', models.TextField(blank=True, default='In cash, by card, or by bank transfer with the invoice’s number.', max_length=1000, verbose_name='how to pay')),
                ('shop_temperature_c', shop.fields.ExactField(default=Decimal('20'), places=1, verbose_name='usual shop temperature in °C')),
                ('bench_hours_per_day', shop.fields.ExactField(default=Decimal('5'), places=2, verbose_name='hands-on hours in a day')),
                ('working_days', models.JSONField(default=list, help_text='0 is Monday.', verbose_name='working days')),
                ('valuation', models.CharField(choices=[('fifo', 'first in, first out'), ('average', 'weighted average')], default='fifo', max_length=8, verbose_name='stock valuation')),
                ('constants', models.JSONField(blank=True, default=dict, help_text="Name to [value, low, high], laid over the core's defaults.", verbose_name="the shop's own figures for the trade's constants")),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('pk', 1)), name='profile_is_one_row')],
            },
        ),
        migrations.CreateModel(
            name='Submission',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.UUIDField(unique=True)),
                ('body_hash', models.CharField(max_length=64)),
                ('answer', models.CharField(max_length=300, verbose_name='where the first answer led')),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, to=settings.AUTH_USER_MODEL)),
            ],
        ),
        migrations.CreateModel(
            name='TaxRate',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=60, verbose_name='name')),
                ('category', models.CharField(choices=[('S', 'standard'), ('Z', 'zero rated'), ('E', 'exempt'), ('O', 'outside the scope')], default='S', max_length=2, verbose_name='category')),
                ('percent', shop.fields.PercentField(places=3, verbose_name='per cent')),
                ('from_day', models.DateField(verbose_name='from')),
                ('to_day', models.DateField(blank=True, help_text='Empty: still in force.', null=True, verbose_name='to')),
                ('for_repairs', models.BooleanField(default=False, verbose_name='used for repair work')),
            ],
            options={
                'ordering': ['-for_repairs', 'name', 'from_day'],
                'constraints': [models.CheckConstraint(condition=models.Q(('percent__gte', 0), ('percent__lte', 100)), name='tax_percent_plausible', violation_error_message='A tax rate is between 0 and 100 per cent.'), models.CheckConstraint(condition=models.Q(('to_day__isnull', True), ('to_day__gte', models.F('from_day')), _connector='OR'), name='tax_days_in_order', violation_error_message='A tax rate must end after it begins.')],
            },
        ),
        migrations.AddConstraint(
            model_name='customer',
            constraint=models.CheckConstraint(condition=models.Q(('discount_percent__gte', 0), ('discount_percent__lt', 100)), name='discount_plausible', violation_error_message='A discount is at least 0 and below 100 per cent.'),
        ),
        migrations.AddConstraint(
            model_name='board',
            constraint=models.CheckConstraint(condition=models.Q(('length_mm__gt', 0), ('width_mm__gt', 0)), name='board_has_size', violation_error_message='A board has a length and a width above zero.'),
        ),
        migrations.AddIndex(
            model_name='journalentry',
            index=models.Index(fields=['about'], name='shop_journa_about_f487a5_idx'),
        ),
        migrations.AddConstraint(
            model_name='labourrate',
            constraint=models.CheckConstraint(condition=models.Q(('wage_per_hour__gte', 0)), name='wage_not_negative', violation_error_message='A wage is zero or more.'),
        ),
    ]
