"""Materials, who supplies them, in which packs and at what price."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.apps import apps
from django.db import models
from django.db.models import Exists, ExpressionWrapper, FilteredRelation, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.models.kinds import Kind, MovementKind, Origin, Unit
from shop.fields import ExactField, MoneyField, QuantityField
from shop.measures.units import StockUnit, UnitFacts
from shop.models import Row

if TYPE_CHECKING:
    from inventory.models.planning import Order


class Supplier(Row):
    """Someone the shop buys from."""

    name = models.CharField("name", max_length=120, unique=True)
    phone = models.CharField("phone", max_length=40, blank=True)
    email = models.EmailField("email", blank=True)
    lead_days = models.PositiveSmallIntegerField("days from order to delivery", default=7)
    note = models.TextField("note", max_length=2000, blank=True)

    if TYPE_CHECKING:  # laid on by the page that asks what was delivered
        coming: list[Order]

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class MaterialQuerySet(models.QuerySet["Material"]):
    """Materials as screens ask for them."""

    def in_use(self) -> MaterialQuerySet:
        """Materials that are not retired."""
        return self.filter(retired_at__isnull=True)

    def search(self, words: str) -> MaterialQuerySet:
        """Materials whose name, short name or kind hold every word."""
        found = self
        for word in words.split()[:8]:
            found = found.filter(Q(name__icontains=word) | Q(key__icontains=word) | Q(kind__icontains=word))
        return found

    def with_stock(self) -> MaterialQuerySet:
        """Each material with `on_hand` and `stock_value` from its lots, and `first_use_by` of what is left."""
        return self.annotate(  # type: ignore[no-redef] # declared on the model
            held=FilteredRelation("lots", condition=Q(lots__quantity_left__gt=0)),
            on_hand=Coalesce(Sum("held__quantity_left"), Decimal(0), output_field=QuantityField()),
            stock_value=Coalesce(Sum("held__value_left"), Decimal(0), output_field=MoneyField()),
            first_use_by=models.Min("held__good_until"),
        )

    def with_ever_there(self) -> MaterialQuerySet:
        """Each with `ever_there`: whether some of it ever came in or was found, all used up or not."""
        lots = _rows("Lot").filter(material=OuterRef("pk")).exclude(origin=Origin.UNCOUNTED)
        return self.annotate(ever_there=Exists(lots))  # type: ignore[no-redef] # declared on the model

    def with_counted(self) -> MaterialQuerySet:
        """Each with `is_counted`: whether anybody has ever said how much of it is there, by a delivery or a count."""
        counted = ExpressionWrapper(_counted(), output_field=models.BooleanField())
        return self.annotate(is_counted=counted)  # type: ignore[no-redef] # declared on the model

    def for_sale(self) -> MaterialQuerySet:
        """Of those with stock and whether counted: what is on the shelf, or of which nobody says how much is."""
        return self.filter(Q(on_hand__gt=0) | Q(is_counted=False) | Q(not_tracked=True))

    def watched(self) -> MaterialQuerySet:
        """What the shelf is known of, so that it can run short: counted once, and not left untracked."""
        return self.filter(_counted(), not_tracked=False)

    def unwatched(self) -> MaterialQuerySet:
        """The others: priced and used like any, but nothing is asked, warned of or ordered."""
        return self.filter(~_counted() | Q(not_tracked=True))


def _rows(model: str) -> Any:
    """All rows of a model of the store by its name, so that materials need not import what stands on them."""
    return apps.get_model("inventory", model)._default_manager.all()


def _counted() -> Q:
    """Something of it came in or was found, or a closed count says that there is none; what was undone says nothing."""
    here = {"material": OuterRef("pk")}
    known = _rows("Movement").not_undone().filter(kind__in=[MovementKind.RECEIVE, MovementKind.DIFFERENCE], **here)
    lines = _rows("CountLine").filter(counted__isnull=False, count__closed_at__isnull=False, **here)
    return Q(Exists(known.exclude(lot__origin=Origin.UNCOUNTED))) | Q(
        Exists(lines.exclude(movement__reversed_by__isnull=False))
    )


class Material(Row):
    """Something the bench uses up, with the physical facts that costing needs. Retired, never deleted."""

    key = models.SlugField("short name", max_length=60, unique=True)
    name = models.CharField("name", max_length=120)
    kind = models.CharField("kind", max_length=10, choices=Kind)
    unit: models.CharField[StockUnit | Unit, StockUnit] = models.CharField("counted in", max_length=5, choices=Unit)
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

    if (
        TYPE_CHECKING
    ):  # laid on by with_stock, with_ever_there, with_counted of the queryset; then by buying.out_of_line
        on_hand: Decimal
        stock_value: Decimal
        first_use_by: date | None
        ever_there: bool
        is_counted: bool
        state: str
        state_words: str
        said: str
        too_high: Decimal  # by the page of what the stock is worth
        in_use: list[Pack]  # by the sheet of prices

    class Meta:
        ordering = ["kind", "name"]

    def __str__(self) -> str:
        return self.name

    def unit_facts(self) -> UnitFacts:
        """What turns litres into grams and rolls into area, for `units.to_stock` and `inventory.catalogue.packs`."""
        tex = self.facts.get("tex")
        return {
            "density_kg_m3": self.density_kg_m3,
            "areal_weight_g_m2": self.areal_weight_g_m2,
            "roll_width_mm": self.roll_width_mm,
            "linear_weight_tex": Decimal(str(tex)) if tex else None,
        }


class PackQuerySet(models.QuerySet["Pack"]):
    """Packs as screens ask for them."""

    def in_use(self) -> PackQuerySet:
        """Packs that are not retired."""
        return self.filter(retired_at__isnull=True)


class Pack(Row):
    """One way a supplier sells a material: a 20 kg drum, a roll of 30 in × 50 m, a box of 50 discs."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="packs")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="packs")
    words = models.CharField("pack", max_length=80, help_text="Like 20 kg drum, or 30 in × 50 m roll.")
    content = QuantityField("content")
    supplier_code = models.CharField("supplier's article", max_length=60, blank=True)
    preferred = models.BooleanField("the usual one to buy", default=False)
    retired_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = PackQuerySet.as_manager()

    if TYPE_CHECKING:  # laid on by views that show what a pack costs now
        priced: list[PackPrice]
        price: PackPrice | None

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
    """Prices of packs as estimates ask for them."""

    def in_force(self, day: date) -> PackPriceQuerySet:
        """The one price of each pack that holds on a day: the last that began by then."""
        begun = PackPrice.objects.filter(pack=OuterRef("pack"), from_day__lte=day).order_by("-from_day", "-pk")
        return self.filter(pk=Subquery(begun.values("pk")[:1]))


class PackPrice(Row):
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
