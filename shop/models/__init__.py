"""The people, the shop's own settings, and what everything else stands on."""

from __future__ import annotations

from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q

from shop.countries import tax
from shop.fields import ExactField, MoneyField, PercentField
from shop.text.phones import digits_of, same_phone, tail
from shop.text.writing import folded


class Role(models.TextChoices):
    KEEPER = "keeper", "Keeper: everything, settings and money included"
    COUNTER = "counter", "Counter: quotes, jobs and invoices"
    BENCH = "bench", "Bench: jobs and real use, no prices"


class UserManager(BaseUserManager["User"]):
    def create_user(self, username: str, password: str, *, name: str, role: str) -> User:
        """A login. Its name is kept in small letters: a phone's large first letter must not lock anybody out."""
        user = self.model(username=username.strip().lower(), name=name.strip(), role=role)
        user.set_password(password)
        user.full_clean()
        user.save(using=self._db)
        return user


class User(AbstractBaseUser):
    """Someone who works in the shop and logs in; written at set-up and by the keeper."""

    username = models.CharField("login name", max_length=60, unique=True)
    name = models.CharField("name", max_length=120)
    role = models.CharField("role", max_length=10, choices=Role)
    is_active = models.BooleanField("may log in", default=True)

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["name", "role"]
    objects = UserManager()

    def __str__(self) -> str:
        return self.name

    @property
    def is_keeper(self) -> bool:
        return self.role == Role.KEEPER

    @property
    def sees_money(self) -> bool:
        return self.role in (Role.KEEPER, Role.COUNTER)


USUAL_PAYMENT = "In cash, by card, or by bank transfer with the invoice’s number."


class Profile(models.Model):
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
    volume_system = models.CharField(
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
        self.pk = 1
        super().save(*args, **kwargs)

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
    def on(self, day: date) -> TaxRateQuerySet:
        """Rates in force on a day."""
        return self.filter(from_day__lte=day).filter(Q(to_day__isnull=True) | Q(to_day__gte=day))

    def for_goods(self, day: date) -> TaxRate | None:
        """The rate on goods on a day: one that is not for repairs, or that one where it is the only one."""
        return self.on(day).order_by("for_repairs", "name", "from_day").first()


class TaxRate(models.Model):
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


class LabourRate(models.Model):
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


class Overhead(models.Model):
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


class ClosedDay(models.Model):
    """A day the shop does not work; a ready date steps over it."""

    day = models.DateField("day", unique=True)
    reason = models.CharField("reason", max_length=120, blank=True)

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return f"{self.day} {self.reason}".strip()


class NumberSeries(models.Model):
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


def _same_mail(one: str, other: str) -> bool:
    return bool(one) and one.strip().casefold() == other.strip().casefold()


class CustomerQuerySet(models.QuerySet["Customer"]):
    def in_the_book(self) -> CustomerQuerySet:
        """Without records that were made one with another."""
        return self.filter(merged_into=None)

    def search(self, words: str) -> CustomerQuerySet:
        """Customers whose name or email holds every word, accents or not, or whose phone number holds the digits.

        A phone number may be typed with blanks, and with or without the country's prefix: its last seven digits count.
        Two digits are the last two of a phone.
        """
        digits = digits_of(words)
        if len(digits) == 2 and words.strip().isdecimal():
            return self.filter(Q(phone_digits__endswith=digits) | Q(name_folded__contains=digits))
        if len(digits) >= 3 and not any(c.isalpha() for c in words):
            return self.filter(phone_digits__contains=digits[-7:])
        found = self
        for word in folded(words).split()[:8]:
            found = found.filter(Q(name_folded__contains=word) | Q(email__icontains=word))
        return found

    def nearest(self, words: str) -> CustomerQuerySet:
        """Those that `search` finds, first those whose name or one word of it begins so."""
        begins = folded(words).strip()[:80]
        first = Q(name_folded__startswith=begins) | Q(name_folded__contains=f" {begins}")
        order = models.Case(models.When(first, then=0), default=1, output_field=models.IntegerField())
        return self.search(words).order_by(order, "name_folded", "pk")

    def alike(self, *, name: str, phone: str, email: str, country: str) -> list[Customer]:
        """Who may be meant by these entries: the same phone or mail, or the same name with a phone missing on one side.

        The best fits come first. `country`: the shop's two letters, for phones. One query.
        """
        wanted = folded(name)
        close = Q(name_folded=wanted[:400]) if wanted else Q(pk__in=[])
        if tail(phone):
            close |= Q(phone_digits__endswith=tail(phone))
        if email:
            close |= Q(email__iexact=email)
        found = []
        for one in self.in_the_book().filter(close, walk_in=False).order_by("pk"):
            same_name = one.name_folded == wanted
            phones, mails = same_phone(one.phone, phone, country=country), _same_mail(one.email, email)
            bare = same_name and not (tail(one.phone) and tail(phone))
            if phones or mails or bare:
                found.append((-2 * (phones + mails) - same_name, one.pk, one))
        return [one for _, _, one in sorted(found)]

    def with_boards(self) -> CustomerQuerySet:
        """Each customer by name with `board_count`, the boards known here."""
        return self.annotate(board_count=models.Count("boards")).order_by("name_folded", "pk")


class Customer(models.Model):
    """Who brings boards, or who pays for them; written at take-in."""

    name = models.CharField("name", max_length=120)
    name_folded = models.CharField(max_length=400, blank=True, editable=False)
    kind = models.CharField(
        "kind", max_length=8, choices=[("private", "private"), ("trade", "trade")], default="private"
    )
    phone = models.CharField("phone", max_length=40, blank=True)
    phone_digits = models.CharField(max_length=40, blank=True, editable=False)
    email = models.EmailField("email", blank=True)
    address = models.TextField("address", max_length=400, blank=True)
    tax_number = models.CharField("tax number", max_length=40, blank=True)
    discount_percent = PercentField("discount", default=Decimal("0"))
    note = models.TextField("note", max_length=2000, blank=True)
    walk_in = models.BooleanField("stands for people who leave no name", default=False, editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged", editable=False,
        help_text="Empty: a record of its own. Otherwise the record of the same person that took over all of this one.",
    )  # fmt: skip

    objects = CustomerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(discount_percent__gte=0) & Q(discount_percent__lt=100),
                name="discount_plausible",
                violation_error_message="A discount is at least 0 and below 100 per cent.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.make_findable()
        super().save(*args, **kwargs)

    def make_findable(self) -> None:
        """What a search looks at, out of the entries; before a row is written in bulk it must be asked for."""
        self.phone_digits = digits_of(self.phone)
        self.name_folded = folded(self.name)[:400]

    @property
    def current(self) -> Customer:
        """The record that stands for this person now."""
        return self.merged_into or self

    @property
    def dial(self) -> str:
        """The phone number as a phone dials it."""
        return ("+" if self.phone.strip().startswith("+") else "") + self.phone_digits


class Board(models.Model):
    """A customer's surfboard. Unknown construction is treated as the one that is easiest to spoil."""

    class Core(models.TextChoices):
        UNKNOWN = "unknown", "not known"
        PU = "pu", "PU foam"
        EPS = "eps", "EPS foam"
        XPS = "xps", "XPS foam"
        WOOD = "wood", "wood"
        HOLLOW = "hollow", "hollow"

    class Resin(models.TextChoices):
        UNKNOWN = "unknown", "not known"
        POLYESTER = "polyester", "polyester"
        EPOXY = "epoxy", "epoxy"

    class Skin(models.TextChoices):
        GLASS = "glass", "glass"
        CARBON = "carbon", "carbon"
        SANDWICH = "sandwich", "moulded sandwich"
        SOFT = "soft", "soft"

    class Tail(models.TextChoices):
        SQUASH = "squash", "squash"
        SQUARE = "square", "square"
        PIN = "pin", "pin"
        ROUND = "round", "round"
        SWALLOW = "swallow", "swallow"
        FISH = "fish", "fish"
        DIAMOND = "diamond", "diamond"

    owner = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="boards")
    name = models.CharField("what it is called", max_length=120, help_text="Like 5′6″ fish, white.")
    maker = models.CharField("maker or shaper", max_length=120, blank=True)
    core = models.CharField("core", max_length=8, choices=Core, default=Core.UNKNOWN)
    resin = models.CharField("skin resin", max_length=10, choices=Resin, default=Resin.UNKNOWN)
    skin = models.CharField("skin", max_length=10, choices=Skin, default=Skin.GLASS)
    length_mm = ExactField("length", places=1)
    width_mm = ExactField("width", places=1)
    thickness_mm = ExactField("thickness", places=1, null=True, blank=True, help_text="Empty: not measured.")
    nose_mm = ExactField("nose width, 12 in from the tip", places=1, null=True, blank=True)
    tail_mm = ExactField("tail width, 12 in from the end", places=1, null=True, blank=True)
    tail_shape = models.CharField("tail", max_length=10, choices=Tail, default=Tail.SQUASH)
    fins = models.CharField("fins", max_length=120, blank=True)
    note = models.TextField("note", max_length=2000, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(length_mm__gt=0) & Q(width_mm__gt=0),
                name="board_has_size",
                violation_error_message="A board has a length and a width above zero.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class PeopleList(models.Model):
    """A list of people and boards as it was sent in, kept from its preview on; it counts once it is taken over."""

    name = models.CharField("file", max_length=120)
    text = models.TextField()
    columns = models.JSONField(default=dict, blank=True, help_text="Entry to the number of its column, from 0.")
    headed = models.BooleanField("its first line holds the headings", default=True)
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(null=True, blank=True, help_text="Empty: only looked at.")
    made = models.JSONField(default=dict, blank=True, help_text="How many people and boards came of it.")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.name


class Photo(models.Model):
    """A picture of a board, turned upright and with its place stripped; sent on its own as it is taken."""

    board = models.ForeignKey(Board, on_delete=models.PROTECT, related_name="photos")
    image = models.ImageField(upload_to="photos/%Y/%m")
    caption = models.CharField("caption", max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    taken_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.caption or f"photo {self.pk}"


def _about(about: str) -> Q:
    """Entries about a kind or a row; of a customer also those about the records that were made one with it."""
    kind, colon, key = about.partition(":")
    if not colon:
        return Q(about__startswith=f"{kind}:")
    if kind != Customer._meta.label_lower or not (key.isascii() and key.isdigit() and len(key) < 19):
        return Q(about=about)
    merged = Customer.objects.filter(merged_into=int(key)).values_list("pk", flat=True)
    return Q(about__in=[about, *(f"{kind}:{pk}" for pk in merged)])


class JournalQuerySet(models.QuerySet["JournalEntry"]):
    def found(self, *, words: str = "", about: str = "", person: str = "") -> JournalQuerySet:
        """Entries that hold the words, about a row (`shop.board:7`) or a kind (`shop.board`), by a person's key.

        What is empty, or cannot be, does not narrow.
        """
        found = self
        if words:
            found = found.filter(words__icontains=words)
        if about:
            found = found.filter(_about(about))
        if person.isascii() and person.isdigit() and len(person) < 19:
            found = found.filter(by=int(person))
        return found


class JournalEntry(models.Model):
    """Who did what, and when: appended inside each verb's transaction, never changed."""

    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True)
    verb = models.CharField(max_length=60)
    about = models.CharField(max_length=60, help_text="Kind and key of the row, like quotes.job:12.")
    words = models.CharField(max_length=400)
    details = models.JSONField(default=dict)

    objects = JournalQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["about"])]

    def __str__(self) -> str:
        return self.words


class Submission(models.Model):
    """A form that was sent: the same key again gives the first answer instead of a second record."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, null=True)
    key = models.UUIDField(unique=True)
    body_hash = models.CharField(max_length=64)
    answer = models.CharField("where the first answer led", max_length=300)
    at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return str(self.key)
