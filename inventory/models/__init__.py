"""What is on the shelf: materials, where they are bought, what lies there, and every change to it."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any, NoReturn

from django.db import models
from django.db.models import Exists, ExpressionWrapper, F, FilteredRelation, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce

from shop.fields import ExactField, MoneyField, QuantityField
from shop.models import User


class Unit(models.TextChoices):
    GRAM = "g", "grams"
    MILLILITRE = "mL", "millilitres"
    METRE = "m", "metres"
    SQUARE_METRE = "m2", "square metres"
    PIECE = "piece", "pieces"


class Kind(models.TextChoices):
    RESIN = "resin", "resin"
    HARDENER = "hardener", "catalyst or hardener"
    ADDITIVE = "additive", "additive"
    CLOTH = "cloth", "cloth"
    ROVING = "roving", "roving"
    FOAM = "foam", "foam"
    FILLER = "filler", "filler"
    ABRASIVE = "abrasive", "abrasive"
    TAPE = "tape", "tape and masking"
    PAINT = "paint", "paint and clear"
    SOLVENT = "solvent", "solvent"
    HARDWARE = "hardware", "fins, boxes and plugs"
    SUNDRY = "sundry", "cups, gloves and the like"
    COUNTER = "counter", "counter goods"


class Supplier(models.Model):
    """Someone the shop buys from."""

    name = models.CharField("name", max_length=120, unique=True)
    phone = models.CharField("phone", max_length=40, blank=True)
    email = models.EmailField("email", blank=True)
    lead_days = models.PositiveSmallIntegerField("days from order to delivery", default=7)
    note = models.TextField("note", max_length=2000, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class MaterialQuerySet(models.QuerySet["Material"]):
    def in_use(self) -> MaterialQuerySet:
        return self.filter(retired_at__isnull=True)

    def search(self, words: str) -> MaterialQuerySet:
        """Materials whose name, short name or kind hold every word."""
        found = self
        for word in words.split()[:8]:
            found = found.filter(Q(name__icontains=word) | Q(key__icontains=word) | Q(kind__icontains=word))
        return found

    def with_stock(self) -> MaterialQuerySet:
        """Each material with `on_hand` and `stock_value` from its lots, and `first_use_by` of what is left."""
        return self.annotate(
            held=FilteredRelation("lots", condition=Q(lots__quantity_left__gt=0)),
            on_hand=Coalesce(Sum("held__quantity_left"), Decimal(0), output_field=QuantityField()),
            stock_value=Coalesce(Sum("held__value_left"), Decimal(0), output_field=MoneyField()),
            first_use_by=models.Min("held__good_until"),
        )

    def with_ever_there(self) -> MaterialQuerySet:
        """Each with `ever_there`: whether some of it ever came in or was found, all used up or not."""
        lots = Lot.objects.filter(material=OuterRef("pk")).exclude(origin=Origin.UNCOUNTED)
        return self.annotate(ever_there=Exists(lots))

    def with_counted(self) -> MaterialQuerySet:
        """Each with `is_counted`: whether anybody has ever said how much of it is there, by a delivery or a count."""
        return self.annotate(is_counted=ExpressionWrapper(_counted(), output_field=models.BooleanField()))

    def for_sale(self) -> MaterialQuerySet:
        """Of those with stock and whether counted: what is on the shelf, or of which nobody says how much is."""
        return self.filter(Q(on_hand__gt=0) | Q(is_counted=False) | Q(not_tracked=True))

    def watched(self) -> MaterialQuerySet:
        """What the shelf is known of, so that it can run short: counted once, and not left untracked."""
        return self.filter(_counted(), not_tracked=False)

    def unwatched(self) -> MaterialQuerySet:
        """The others: priced and used like any, but nothing is asked, warned of or ordered."""
        return self.filter(~_counted() | Q(not_tracked=True))


def _counted() -> Q:
    """Something of it came in or was found, or a closed count says that there is none; what was undone says nothing."""
    here = {"material": OuterRef("pk")}
    known = Movement.objects.not_undone().filter(kind__in=[MovementKind.RECEIVE, MovementKind.DIFFERENCE], **here)
    lines = CountLine.objects.filter(counted__isnull=False, count__closed_at__isnull=False, **here)
    return Q(Exists(known.exclude(lot__origin=Origin.UNCOUNTED))) | Q(
        Exists(lines.exclude(movement__reversed_by__isnull=False))
    )


class Material(models.Model):
    """Something the bench uses up, with the physical facts that costing needs. Retired, never deleted."""

    key = models.SlugField("short name", max_length=60, unique=True)
    name = models.CharField("name", max_length=120)
    kind = models.CharField("kind", max_length=10, choices=Kind)
    unit = models.CharField("counted in", max_length=5, choices=Unit)
    shelf = models.CharField("shelf", max_length=60, blank=True)
    density_kg_m3 = ExactField("density in kg/m³", places=3, null=True, blank=True)
    areal_weight_g_m2 = ExactField("weight in g/m²", places=3, null=True, blank=True)
    roll_width_mm = ExactField("roll width in mm", places=1, null=True, blank=True)
    free_rise_kg_m3 = ExactField("free-rise density in kg/m³", places=3, null=True, blank=True)
    facts = models.JSONField(
        "other facts",
        default=dict,
        blank=True,
        help_text="Name to number, like tex, grit, solids or mix ratio.",
    )
    shelf_life_days = models.PositiveIntegerField("shelf life in days", null=True, blank=True)
    opened_life_days = models.PositiveIntegerField("life in days once opened", null=True, blank=True)
    hazard = models.CharField("hazard", max_length=400, blank=True, help_text="One sentence; the data sheet rules.")
    not_tracked = models.BooleanField("not tracked", default=False)
    guess_words = models.CharField("pack, guessed", max_length=80, blank=True, editable=False)
    guess_content = QuantityField("content of the pack, guessed", null=True, blank=True, editable=False)
    guess_price = MoneyField("its price, guessed", null=True, blank=True, editable=False)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = MaterialQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "name"]

    def __str__(self) -> str:
        return self.name

    def unit_facts(self) -> dict[str, Decimal | None]:
        """What turns litres into grams and rolls into area, for `units.to_stock` and `inventory.catalogue.packs`."""
        tex = self.facts.get("tex")
        return {
            "density_kg_m3": self.density_kg_m3,
            "areal_weight_g_m2": self.areal_weight_g_m2,
            "roll_width_mm": self.roll_width_mm,
            "linear_weight_tex": Decimal(str(tex)) if tex else None,
        }


class PackQuerySet(models.QuerySet["Pack"]):
    def in_use(self) -> PackQuerySet:
        return self.filter(retired_at__isnull=True)


class Pack(models.Model):
    """One way a supplier sells a material: a 20 kg drum, a roll of 30 in × 50 m, a box of 50 discs."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="packs")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="packs")
    words = models.CharField("pack", max_length=80, help_text="Like 20 kg drum, or 30 in × 50 m roll.")
    content = QuantityField("content")
    supplier_code = models.CharField("supplier's article", max_length=60, blank=True)
    preferred = models.BooleanField("the usual one to buy", default=False)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = PackQuerySet.as_manager()

    class Meta:
        ordering = ["material", "-preferred", "words"]
        constraints = [
            models.CheckConstraint(
                condition=Q(content__gt=0),
                name="pack_has_content",
                violation_error_message="A pack must hold something.",
            ),
            models.UniqueConstraint(
                fields=["material"], condition=Q(preferred=True), name="one_usual_pack",
                violation_error_message="Another pack of this material is already the usual one.",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"{self.words}, {self.supplier.name}"


class PackPriceQuerySet(models.QuerySet["PackPrice"]):
    def in_force(self, day: date) -> PackPriceQuerySet:
        """The one price of each pack that holds on a day: the last that began by then."""
        begun = PackPrice.objects.filter(pack=OuterRef("pack"), from_day__lte=day).order_by("-from_day", "-pk")
        return self.filter(pk=Subquery(begun.values("pk")[:1]))


class PackPrice(models.Model):
    """What a pack costs without tax from a day on: the replacement price that costing uses."""

    pack = models.ForeignKey(Pack, on_delete=models.PROTECT, related_name="prices")
    price = MoneyField("price without tax")
    from_day = models.DateField("from")

    objects = PackPriceQuerySet.as_manager()

    class Meta:
        ordering = ["pack", "-from_day", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(price__gte=0),
                name="pack_price_not_negative",
                violation_error_message="A price is zero or more.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.price} from {self.from_day}"


class Origin(models.TextChoices):
    BOUGHT = "bought", "bought"
    RECLAIMED = "reclaimed", "reclaimed in the shop"
    GIFT = "gift", "given"
    CUSTOMER = "customer", "the customer's own"
    FOUND = "found", "found at a count"
    UNCOUNTED = "uncounted", "used before it was first counted"


class LotQuerySet(models.QuerySet["Lot"]):
    def left(self) -> LotQuerySet:
        return self.filter(quantity_left__gt=0)

    def in_order_of_issue(self) -> LotQuerySet:
        """What goes first: what goes off first, then the earliest receipt; lots that do not go off after dated ones."""
        return self.order_by(F("good_until").asc(nulls_last=True), "received_on", "pk")


class Lot(models.Model):
    """One delivery of a material. What is left is written with each movement and proven by `check_books`.

    Under weighted average all lots of a material are one pool of money: what is left there is then the lot's share.
    """

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="lots")
    pack = models.ForeignKey(Pack, on_delete=models.PROTECT, null=True, blank=True, related_name="lots")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, null=True, blank=True, related_name="lots")
    origin = models.CharField("origin", max_length=10, choices=Origin, default=Origin.BOUGHT)
    delivery_note = models.CharField("delivery note", max_length=60, blank=True)
    received_on = models.DateField("received on")
    use_by = models.DateField("use by", null=True, blank=True, help_text="Empty: it does not go off.")
    opened_on = models.DateField("opened on", null=True, blank=True, help_text="Empty: still closed.")
    tested_until = models.DateField(
        "good until, by a test", null=True, blank=True, editable=False, help_text="Empty: not tested."
    )
    good_until = models.DateField("good until", null=True, blank=True, editable=False)
    brand = models.CharField("brand", max_length=80, blank=True)
    delivery = models.ForeignKey(
        "inventory.Delivery", on_delete=models.PROTECT, null=True, blank=True, related_name="lots"
    )
    length_mm = ExactField("length of an offcut", places=1, null=True, blank=True, help_text="Empty: no offcut.")
    width_mm = ExactField("width of an offcut", places=1, null=True, blank=True)
    quantity_left = QuantityField("left", default=Decimal(0), editable=False)
    value_left = MoneyField("value left", default=Decimal(0), editable=False)

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["material", "pk"]
        indexes = [
            models.Index(fields=["material", "use_by", "received_on"]),
            models.Index(fields=["material"], condition=Q(quantity_left__gt=0), name="lots_that_hold_something"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity_left__gte=0) & Q(value_left__gte=0),
                name="lot_never_negative",
                violation_error_message="A lot cannot hold less than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(use_by__isnull=True) | Q(use_by__gte=F("received_on")),
                name="use_by_after_receipt",
                violation_error_message="Use by must not lie before the day it was received.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.material.name}, received {self.received_on}"

    def work_out_good_until(self, material: Material) -> date | None:
        """The last day it may be used: its use-by, or earlier by its life once opened; a test goes before both.

        None: it does not go off.
        """
        if self.tested_until:
            return self.tested_until
        days = [self.use_by] if self.use_by else []
        if self.opened_on and material.opened_life_days is not None:
            days.append(self.opened_on + timedelta(days=material.opened_life_days))
        return min(days, default=None)

    def out_of_date(self, day: date) -> bool:
        return self.good_until is not None and self.good_until < day


class MovementKind(models.TextChoices):
    RECEIVE = "receive", "received"
    USE = "use", "used"
    RETURN = "return", "back on the shelf"
    WRITE_OFF = "write_off", "written off"
    DIFFERENCE = "difference", "count difference"
    REVERSAL = "reversal", "mistake undone"


class MovementQuerySet(models.QuerySet["Movement"]):
    def not_undone(self) -> MovementQuerySet:
        """What still counts: neither a reversal nor reversed."""
        return self.filter(reversed_by__isnull=True).exclude(kind=MovementKind.REVERSAL)

    def as_they_count(self) -> MovementQuerySet:
        """Each with `side` and `then`: a mistake undone counts as the kind it was and at the moment it was made."""
        return self.annotate(
            side=Coalesce("reverses__kind", "kind"), then=Coalesce("reverses__happened_at", "happened_at")
        )

    def last_receipts(self, day: date) -> MovementQuerySet:
        """Of each material the last delivery by a day that cost something, with its material and supplier."""
        receipts = Movement.objects.not_undone().filter(
            material=OuterRef("pk"), kind=MovementKind.RECEIVE, value__gt=0, lot__received_on__lte=day
        )
        last = Material.objects.values_list(Subquery(receipts.order_by("-pk").values("pk")[:1]))
        return self.filter(pk__in=last).select_related("material", "lot__supplier")

    def update(self, **kwargs: Any) -> NoReturn:
        raise TypeError("A movement is never changed; reverse it by a new one.")

    def delete(self) -> NoReturn:
        raise TypeError("A movement is never deleted; reverse it by a new one.")


class Movement(models.Model):
    """One line of the stock ledger, written only by `inventory.stock.ledger`, never changed or deleted."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=10, choices=MovementKind)
    quantity = QuantityField("quantity, in or out")
    value = MoneyField("value, in or out")
    happened_at = models.DateTimeField("when it happened")
    recorded_at = models.DateTimeField("when it was recorded")
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True)
    reason = models.CharField("reason", max_length=200, blank=True)
    act = models.UUIDField("the act it belongs to", db_index=True)
    reverses = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by")

    objects = MovementQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["material", "recorded_at"]),
            models.Index(fields=["recorded_at"], name="movements_by_when_recorded"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~Q(quantity=0),
                name="movement_moves",
                violation_error_message="A movement must add or take something.",
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, value__gte=0) | Q(quantity__lt=0, value__lte=0),
                name="movement_value_follows_quantity",
                violation_error_message="Value moves the way the quantity moves.",
            ),
            models.CheckConstraint(
                condition=(Q(kind="reversal") & Q(reverses__isnull=False))
                | (~Q(kind="reversal") & Q(reverses__isnull=True)),
                name="reversal_names_what_it_reverses",
                violation_error_message="A reversal must name the movement it undoes.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.quantity} {self.material.unit}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("A movement is never changed; reverse it by a new one.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("A movement is never deleted; reverse it by a new one.")


class StockQuestionQuerySet(models.QuerySet["StockQuestion"]):
    def open(self) -> StockQuestionQuerySet:
        return self.filter(answered_at__isnull=True)

    def newest_first(self) -> StockQuestionQuerySet:
        """Those still open before those answered, the newest of each first."""
        return self.order_by(F("answered_at").desc(nulls_first=True), "-pk")

    def once_a_material(self) -> StockQuestionQuerySet:
        """The newest open one of each material with `alike`, how many more are open; then those answered."""
        open_too = StockQuestion.objects.open().filter(material=OuterRef("material")).order_by()
        newer = Exists(open_too.filter(pk__gt=OuterRef("pk")))
        many = Subquery(open_too.values("material").annotate(many=models.Count("pk")).values("many"))
        rows = self.filter(Q(answered_at__isnull=False) | ~newer).annotate(alike=Coalesce(many, 1) - 1)
        return rows.select_related("material", "answered_by").newest_first()


class StockQuestion(models.Model):
    """Something shelf and bench disagree on, asked when there is time; written with the shortfall it is about."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="questions")
    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, null=True, related_name="questions")
    words = models.CharField(max_length=400)
    asked_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True, blank=True)
    answer = models.CharField(max_length=400, blank=True)
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True)

    objects = StockQuestionQuerySet.as_manager()

    class Meta:
        ordering = ["answered_at", "pk"]

    def __str__(self) -> str:
        return self.words


# Rows about counting, deliveries, planning and safety stand in files of their own; Django looks for models here.
from inventory.models.counting import Container, Count, CountLine, ShelfTest, Weighing  # noqa: E402, F401
from inventory.models.delivery import Delivery, PriceList  # noqa: E402, F401
from inventory.models.planning import BuyingRules, Order, Reservation  # noqa: E402, F401
from inventory.models.safety import DataSheet, Safety, StoragePlace  # noqa: E402, F401
from inventory.models.totals import DayTotal, WeekUse  # noqa: E402, F401
