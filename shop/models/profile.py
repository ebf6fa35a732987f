"""The shop itself: its entries, rates, closed days and the numbers of its documents."""

from __future__ import annotations

from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import Q

from shop.countries import tax
from shop.fields import ExactField, MoneyField, PercentField
from shop.measures.unit_table import VolumeSystem
from shop.models.logins import User
from shop.models.row import Row

USUAL_PAYMENT = "In cash, by card, or by bank transfer with the invoice’s number."


class Profile(Row):
    """The shop itself; one row, written at set-up and by the keeper. Documents keep their own copy at issue."""

    name = models.CharField("shop name", max_length=120)
    address = models.TextField("address", max_length=400, blank=True, help_text="May wait until the first paper.")
    country = models.CharField("country code", max_length=2, help_text="Two letters, like IE.")
    phone = models.CharField("phone", max_length=40, blank=True)
    email = models.EmailField("email", blank=True)
    website = models.CharField("website", max_length=120, blank=True)
    currency = models.CharField("currency", max_length=3, default="EUR")
    locale = models.CharField("number and date style", max_length=12, default="en_IE")
    timezone = models.CharField("time zone", max_length=60, default="Europe/Dublin")
    paper = models.CharField("paper", max_length=6, choices=[("A4", "A4"), ("letter", "US Letter")], default="A4")
    receipt_paper = models.CharField(
        "receipts are printed on", max_length=6, default="sheet",
        choices=[("sheet", "the same sheet as all papers"), ("A6", "A6"), ("roll", "a till roll, 80 mm wide")],
    )  # fmt: skip
    measures_in = models.CharField(
        "measures on customers' papers", max_length=2, default="mm",
        choices=[("mm", "millimetres"), ("cm", "centimetres"), ("in", "inches")],
    )  # fmt: skip
    volume_system: models.CharField[VolumeSystem, VolumeSystem] = models.CharField(
        "gallons and ounces", max_length=8, choices=[("us", "US"), ("imperial", "imperial")], default="us"
    )

    tax_profile = models.CharField("tax profile", max_length=20, default="none", help_text="A key of the tax profiles.")
    tax_number = models.CharField("tax registration number", max_length=40, blank=True)
    prices_include_tax = models.BooleanField("prices to customers include tax", default=True)

    price_method = models.CharField(
        "prices are made with", max_length=6, default="margin",
        choices=[("margin", "a margin on the price"), ("markup", "a markup on the cost")],
    )  # fmt: skip
    margin_percent = PercentField("margin on price, or markup on cost", default=Decimal("25"))
    minimum_price = MoneyField("shop minimum", default=Decimal("25"))
    price_step = MoneyField("round prices up to", default=Decimal("5"))
    carries_again = models.BooleanField("prices carry what is done again", default=False)
    deposit_percent = PercentField("deposit", default=Decimal("30"))
    quote_days = models.PositiveSmallIntegerField("days a quote is held", default=14)
    terms = models.TextField("terms on quotes and invoices", max_length=4000, blank=True)
    may_turn_up = models.TextField("a word on what may turn up", max_length=1000, blank=True)
    payment_days = models.PositiveSmallIntegerField("days to pay an invoice", default=14)
    payment_words = models.TextField("how to pay", max_length=1000, blank=True, default=USUAL_PAYMENT)

    shop_temperature_c = ExactField("usual shop temperature in °C", places=1, default=Decimal("20"))
    bench_hours_per_day = ExactField("hands-on hours in a day", places=2, default=Decimal("5"))
    working_days = models.JSONField("working days", default=list, help_text="0 is Monday.")
    valuation = models.CharField(
        "stock valuation",
        max_length=8,
        choices=[("fifo", "first in, first out"), ("average", "weighted average")],
        default="fifo",
    )
    constants = models.JSONField(
        "the shop's own figures for the trade's constants", default=dict, blank=True,
        help_text="Name to [value, low, high], laid over the core's defaults.",
    )  # fmt: skip

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(pk=1), name="profile_is_one_row")]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save the one row of the shop."""
        self.pk = 1
        super().save(*args, **kwargs)

    def day_of(self, at: datetime) -> date:
        """The shop's own day at a moment."""
        return at.astimezone(ZoneInfo(self.timezone)).date()

    @property
    def charges_tax(self) -> bool:
        """Whether prices have any tax to them: a shop that is registered for none has just a price."""
        return tax.profile(self.tax_profile).registered

    @property
    def papers_lack(self) -> str:
        """A sentence for what a quote or an invoice must carry and is not there yet; empty when all is.

        Source: EN 16931-1, rule BR-08, the seller's postal address; Directive 2006/112/EC, article 226 (5).
        """
        if self.address.strip():
            return ""
        return "The shop’s address is missing, which quotes and invoices must carry: the keeper gives it under Shop."


class TaxRateQuerySet(models.QuerySet["TaxRate"]):
    """Tax rates as papers and forms ask for them."""

    def on(self, day: date) -> TaxRateQuerySet:
        """Rates in force on a day."""
        return self.filter(from_day__lte=day).filter(Q(to_day__isnull=True) | Q(to_day__gte=day))

    def for_goods(self, day: date) -> TaxRate | None:
        """The rate on goods on a day: one that is not for repairs, or that one where it is the only one."""
        return self.on(day).order_by("for_repairs", "name", "from_day").first()


class TaxRate(Row):
    """A tax rate with the days it is in force; a document keeps the rate it was made with."""

    name = models.CharField("name", max_length=60)
    category = models.CharField(
        "category", max_length=2, default="S",
        choices=[("S", "standard"), ("Z", "zero rated"), ("E", "exempt"), ("O", "outside the scope")],
    )  # fmt: skip
    percent = PercentField("per cent")
    from_day = models.DateField("from")
    to_day = models.DateField("to", null=True, blank=True, help_text="Empty: still in force.")
    for_repairs = models.BooleanField("used for repair work", default=False)

    objects = TaxRateQuerySet.as_manager()

    class Meta:
        ordering = ["-for_repairs", "name", "from_day"]
        constraints = [
            models.CheckConstraint(
                condition=Q(percent__gte=0) & Q(percent__lte=100),
                name="tax_percent_plausible",
                violation_error_message="A tax rate is between 0 and 100 per cent.",
            ),
            models.CheckConstraint(
                condition=Q(to_day__isnull=True) | Q(to_day__gte=models.F("from_day")),
                name="tax_days_in_order",
                violation_error_message="A tax rate must end after it begins.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.percent.normalize():f} %"


class LabourRate(Row):
    """What an hour of a person's hands costs from a day on; person empty means anyone without a rate of their own."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="rates")
    wage_per_hour = MoneyField("wage per hour")
    from_day = models.DateField("from")

    class Meta:
        ordering = ["person", "-from_day"]
        constraints = [
            models.CheckConstraint(
                condition=Q(wage_per_hour__gte=0),
                name="wage_not_negative",
                violation_error_message="A wage is zero or more.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.wage_per_hour} an hour from {self.from_day}"


class Overhead(Row):
    """The month's costs that belong to no job, and the hands-on hours that must carry them, from a day on."""

    monthly = MoneyField("overheads in a month", help_text="Rent, power, insurance, waste disposal, tools.")
    productive_hours = ExactField("hands-on hours in a month", places=2)
    from_day = models.DateField("from")

    class Meta:
        ordering = ["-from_day"]
        constraints = [
            models.CheckConstraint(
                condition=Q(monthly__gte=0) & Q(productive_hours__gt=0),
                name="overhead_has_hours",
                violation_error_message="Overheads need hands-on hours above zero to be spread over.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.monthly} over {self.productive_hours} h from {self.from_day}"

    @property
    def per_hour(self) -> Decimal:
        """What a hands-on hour must carry, to 1/10 000."""
        return (self.monthly / self.productive_hours).quantize(Decimal("0.0001"), ROUND_HALF_UP)


class ClosedDay(Row):
    """A day the shop does not work; a ready date steps over it."""

    day = models.DateField("day", unique=True)
    reason = models.CharField("reason", max_length=120, blank=True)

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return f"{self.day} {self.reason}".strip()


class NumberSeries(Row):
    """One run of document numbers; the next one is taken under a lock, in the transaction that issues."""

    key = models.SlugField("series", unique=True)
    prefix = models.CharField("before the number", max_length=20, blank=True, help_text="{year} stands for the year.")
    width = models.PositiveSmallIntegerField("digits", default=4)
    next_number = models.PositiveIntegerField("next number", default=1)

    class Meta:
        verbose_name_plural = "number series"
        constraints = [
            models.CheckConstraint(
                condition=Q(next_number__gte=1),
                name="series_starts_at_one",
                violation_error_message="A series begins at 1 or later.",
            )
        ]

    def __str__(self) -> str:
        return self.key

    def printed(self, number: int, year: int) -> str:
        """A number of this series as papers carry it: 2026-0012."""
        return f"{self.prefix.replace('{year}', str(year))}{number:0{self.width}d}"
