"""Entries about a material: what it is, its physical facts, how long it keeps; and the packs it is bought in."""

from __future__ import annotations

from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from crispy_forms.layout import Fieldset, Row
from django import forms
from django.core.exceptions import ValidationError

from inventory.catalogue.packs import EXAMPLE, pack_content
from inventory.models import Kind, Material, Pack, Supplier, Unit
from inventory.stock.selling import COSTS_TO_SELL, SELLS_FOR, GoodsPrices
from shop.forms.fields import MeasureField, MoneyFormField, ReadField, StockField
from shop.forms.words import DayField, Fold, MailField, PageForm, PickField, WholeField, WordsField
from shop.measures import numerals, units

DAY_MINUTES = Decimal(24 * 60)


def typed(value: Decimal | None) -> str:
    """A stored figure as a person would type it beside its unit, nothing cut off; empty for None."""
    return "" if value is None else f"{value.normalize():f}"


class FactsField(forms.CharField):
    """Further figures, a name and a number on each line. Cleans to a dict of floats."""

    width = "long"

    def to_python(self, value: Any) -> dict[str, float]:  # type: ignore[override] # a field cleans to what it likes
        """Facts by name, one typed on each line."""
        facts: dict[str, float] = {}
        for number, line in enumerate((super().to_python(value) or "").splitlines(), start=1):
            if not line.strip():
                continue
            name, _, figure = line.replace("=", " ").replace(":", " ").strip().partition(" ")
            figure = numerals.tidy(figure) or ""
            minus = figure.startswith("-")
            meanings = numerals.readings(figure.removeprefix("-").strip(), point_may_group=False)
            if not name.isidentifier() or len(meanings) != 1:
                raise ValidationError(
                    f"Other facts, line {number}: “{numerals.echo(line)}” must be a name and a number, like tex 2000.",
                    code="unreadable",
                )
            if minus and name.lower() == COSTS_TO_SELL:
                raise ValidationError(f"Other facts, line {number}: {COSTS_TO_SELL} must be zero or more.", code="span")
            facts[name.lower()] = float(meanings[0]) * (-1 if minus else 1)
        return facts


class MaterialForm(PageForm):
    """Form of a material with its physical facts."""

    name = WordsField(label="Name", most=120, width="long")
    kind = PickField(label="Kind", choices=Kind.choices)
    unit = PickField(label="Counted in", choices=Unit.choices, hint="Resin and foam in grams, cloth in square metres.")
    shelf = WordsField(label="Shelf", most=60, required=False, width="middle", hint="Where it stands.")
    density = MeasureField(
        label="Density", dimension="density", unit="kg/m3", required=False, above_zero=True, low=10, high=4000,
        hint="Turns litres into grams. Like 1130 kg/m³ or 1.13 g/cm³.", example="1130 kg/m³",
    )  # fmt: skip
    areal_weight = MeasureField(
        label="Weight of the cloth", dimension="areal_weight", unit="g/m2", required=False, above_zero=True,
        low=10, high=2000, hint="Like 203 g/m² or 6 oz/yd².", example="6 oz/yd²",
    )  # fmt: skip
    roll_width = MeasureField(
        label="Width of the roll", dimension="length", unit="mm", required=False, above_zero=True, low=5, high=3000,
        hint="Turns metres off the roll into square metres. Like 30 in.", example="30 in",
    )  # fmt: skip
    free_rise = MeasureField(
        label="Free-rise density of foam", dimension="density", unit="kg/m3", required=False, above_zero=True,
        low=15, high=300, hint="Like 64 kg/m³ or 4 lb/ft³.", example="64 kg/m³",
    )  # fmt: skip
    sells_for = MoneyFormField(
        label="Sells for", required=False, above_zero=True,
        hint="Only for counter goods: the price of one of what it is counted in, like 3.25 for a bar of wax.",
    )  # fmt: skip
    not_tracked = forms.BooleanField(
        label="Not tracked", required=False,
        help_text="Small things nobody counts: used and priced, but never asked about, warned of or ordered.",
    )  # fmt: skip
    facts = FactsField(
        label="Other facts", required=False, max_length=2000,
        widget=forms.Textarea({"rows": 3, "autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}),
        help_text="A name and a number on each line, like tex 2000, grit 120, or ratio_by_weight 43.",
    )  # fmt: skip
    shelf_life = MeasureField(
        label="Keeps, unopened", dimension="time", unit="day", required=False, above_zero=True,
        low=DAY_MINUTES, high=3650 * DAY_MINUTES, hint="In days. Empty: it does not go off.", example="180 days",
    )  # fmt: skip
    opened_life = MeasureField(
        label="Keeps, once opened", dimension="time", unit="day", required=False, above_zero=True,
        low=DAY_MINUTES, high=3650 * DAY_MINUTES, hint="In days. Empty: as long as unopened.", example="90 days",
    )  # fmt: skip
    hazard = WordsField(
        label="What can hurt", most=400, lines=2, required=False, hint="One sentence; the product’s data sheet rules."
    )
    layout = (
        "name", Row("kind", "unit"), "shelf", "not_tracked", "sells_for",
        Fieldset("How long it keeps", Row("shelf_life", "opened_life")),
        Fieldset("What can hurt", "hazard"),
        Fold(
            "Physical facts, from its data sheet",
            Row("density", "areal_weight"), Row("roll_width", "free_rise"), "facts",
        ),
    )  # fmt: skip

    def __init__(self, *args: Any, goods: GoodsPrices, material: Material | None = None, **kwargs: Any) -> None:
        if material is not None:
            kwargs["initial"] = _as_typed(material, goods)
        super().__init__(*args, **kwargs)
        self.goods = goods
        self.fields["sells_for"].label = ", ".join(filter(None, ["Sells for", goods.words]))
        self.button = "Save" if material else "Add the material"
        self.material = material
        for name in ("shelf_life", "opened_life"):
            self.field(name, ReadField).after = "days"

    def clean(self) -> dict[str, Any]:
        """Entries, refused where a selling price is given to what is not sold."""
        entries = super().clean() or self.cleaned_data
        if entries.get("sells_for") is not None and entries.get("kind", Kind.COUNTER) != Kind.COUNTER:
            self.add_error("sells_for", "Sells for is only for counter goods: pick that kind, or leave it empty.")
        if SELLS_FOR in entries.get("facts", {}):
            self.add_error("facts", "Other facts must not hold sells_for: it has a box of its own, Sells for.")
        return entries

    def entries(self) -> dict[str, Any]:
        """The material as entered, not saved."""
        said = self.cleaned_data
        material = Material.objects.get(pk=self.material.pk) if self.material else Material()
        for name in ("name", "kind", "unit", "shelf", "hazard", "facts", "not_tracked"):
            setattr(material, name, said[name])
        if said["sells_for"] is not None:
            material.facts[SELLS_FOR] = float(self.goods.kept(said["sells_for"], self.material or material))
        material.density_kg_m3 = _places(said["density"], 3)
        material.areal_weight_g_m2 = _places(said["areal_weight"], 3)
        material.roll_width_mm = _places(said["roll_width"], 1)
        material.free_rise_kg_m3 = _places(said["free_rise"], 3)
        material.shelf_life_days = _days(said["shelf_life"])
        material.opened_life_days = _days(said["opened_life"])
        return {"material": material}


def _as_typed(material: Material, goods: GoodsPrices) -> dict[str, str]:
    def days(value: int | None) -> str:
        return "" if value is None else str(value)

    sells_for = goods.said(material)
    return {
        **{name: getattr(material, name) for name in ("name", "kind", "unit", "shelf", "hazard", "not_tracked")},
        "density": typed(material.density_kg_m3),
        "areal_weight": typed(material.areal_weight_g_m2),
        "roll_width": typed(material.roll_width_mm),
        "free_rise": typed(material.free_rise_kg_m3),
        "sells_for": "" if sells_for is None else f"{sells_for:f}",
        "facts": "\n".join(
            f"{name} {Decimal(str(value)).normalize():f}" for name, value in material.facts.items() if name != SELLS_FOR
        ),
        "shelf_life": days(material.shelf_life_days),
        "opened_life": days(material.opened_life_days),
    }


def _places(value: Decimal | None, places: int) -> Decimal | None:
    return None if value is None else value.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def _days(minutes: Decimal | None) -> int | None:
    return None if minutes is None else max(1, round(minutes / DAY_MINUTES))


class PackForm(PageForm):
    """Form of a pack with its content, supplier and price."""

    words = WordsField(label="Pack", most=80, width="middle", hint=f"As you call it, with what it holds: {EXAMPLE}.")
    content = StockField(
        label="It holds", required=False, width="short",
        hint="Only if the words do not say it. Litres, rolls and packs are turned into the unit it is counted in.",
    )  # fmt: skip
    supplier = PickField(label="Supplier", choices=(), required=False)
    new_supplier = WordsField(label="Or a new supplier", most=120, required=False, width="long")
    supplier_code = WordsField(label="Supplier’s article", most=60, required=False, width="middle")
    price = MoneyFormField(label="Price of one pack, without tax", required=False, hint="Empty: not known yet.")
    from_day = DayField(label="From")
    preferred = forms.BooleanField(label="This is the pack we usually buy", required=False)
    layout = (
        "words", "content", "supplier", "new_supplier", "supplier_code", Row("price", "from_day"), "preferred",
    )  # fmt: skip
    button = "Add the pack"

    def __init__(self, *args: Any, material: Material, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"from_day": today, "preferred": not material.packs.in_use().exists()}
        super().__init__(*args, **kwargs)
        self.material = material
        content = self.field("content", StockField)
        content.of(material)
        self.suppliers = {str(supplier.pk): supplier for supplier in Supplier.objects.all()}
        self.field("supplier", PickField).choices = [
            ("", "–"),
            *((key, one.name) for key, one in self.suppliers.items()),
        ]

    def clean(self) -> dict[str, Any]:
        """Entries; the content is read from the pack's words where it is not typed."""
        entries = super().clean() or self.cleaned_data
        if "words" in entries and "content" in entries and entries["content"] is None:
            try:
                entries["content"] = pack_content(
                    entries["words"], self.material.unit, **self.material.unit_facts(),
                    volume_system=self.shop.volume_system if self.shop else "us", goods=self.material.name,
                )  # fmt: skip
            except units.UnitError as problem:
                self.add_error("words", ValidationError(problem.sentence, code="unreadable"))
        if bool(entries.get("supplier")) == bool(entries.get("new_supplier", "").strip()):
            self.add_error("supplier", "Supplier: pick one of the list, or type a new one’s name; one of the two.")
        return entries

    def filled(self) -> Pack:
        """The pack as entered, not saved; its supplier may be a new one, not saved either."""
        entries = self.cleaned_data
        supplier = self.suppliers.get(entries["supplier"]) or Supplier(name=entries["new_supplier"].strip())
        return Pack(
            material=self.material,
            supplier=supplier,
            words=entries["words"],
            content=entries["content"],
            supplier_code=entries["supplier_code"],
            preferred=entries["preferred"],
        )


class PackPriceForm(PageForm):
    """Form of a new price of a pack."""

    price = MoneyFormField(label="Price of one pack, without tax", above_zero=True)
    from_day = DayField(label="From", hint="Earlier prices are kept.")
    button = "Set the price"

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"from_day": today}
        super().__init__(*args, **kwargs)


class PackEditForm(PageForm):
    """Form of a pack's article and whether it is still bought."""

    supplier_code = WordsField(label="Supplier’s article", most=60, required=False, width="middle")
    preferred = forms.BooleanField(label="This is the pack we usually buy", required=False)
    gone = forms.BooleanField(label="It is no longer sold", required=False)

    def __init__(self, *args: Any, pack: Pack, **kwargs: Any) -> None:
        gone = pack.retired_at is not None
        kwargs["initial"] = {"supplier_code": pack.supplier_code, "preferred": pack.preferred, "gone": gone}
        super().__init__(*args, **kwargs)


class SupplierForm(PageForm):
    """Form of a supplier."""

    name = WordsField(label="Name", most=120, width="long")
    phone = WordsField(label="Phone", most=40, required=False, width="middle")
    email = MailField(required=False)
    lead_days = WholeField(label="Days from order to delivery", low=0, high=365, initial=7, width="tiny")
    note = WordsField(label="Note", most=2000, lines=3, required=False)

    def __init__(self, *args: Any, supplier: Supplier | None = None, **kwargs: Any) -> None:
        if supplier is not None:
            kwargs["initial"] = {name: getattr(supplier, name) for name in self.base_fields}
        super().__init__(*args, **kwargs)
        self.button = "Save" if supplier else "Add the supplier"
        self.supplier = supplier

    def entries(self) -> dict[str, Any]:
        """The supplier as entered, not saved."""
        supplier = Supplier.objects.get(pk=self.supplier.pk) if self.supplier else Supplier()
        for name, value in self.cleaned_data.items():
            setattr(supplier, name, value)
        return {"supplier": supplier}
