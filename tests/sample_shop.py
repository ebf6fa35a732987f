"""The tests' sample shop, as the core's frozen inputs and as rows: one list of materials, prices and facts for both.

Prices are invented, without tax. What an hour costs is not the same for both, because sums were worked out by hand from
either: 24 + 11.50 for the core, 22 + 9 as rows.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from inventory.models import Kind, Material, Pack, PackPrice, Supplier
from quotes.costing import Construction, CoreMaterial, CoreRecipe, Price, Pricing, Shop
from quotes.costing.steps.work import Bench
from shop.business.numbering import STARTING_SERIES
from shop.models import LabourRate, NumberSeries, Overhead, Profile, TaxRate
from tests.conftest import TODAY

SUPPLIER = "Slipway Supplies"

PU = Construction("pu", "polyester", "glass")
EPS = Construction("eps", "epoxy", "glass")


def _material(key: str, name: str, unit: Any, price: float, **facts: Any) -> CoreMaterial:
    own = {
        n: facts.pop(n)
        for n in ("density_kg_m3", "areal_weight_g_m2", "roll_width_mm", "free_rise_kg_m3")
        if n in facts
    }
    return CoreMaterial(
        key, name, unit, Price(price, f"invented pack of {name}, {SUPPLIER}, 3 Nov 2026"), facts=facts, **own
    )


MATERIALS = {
    m.key: m
    for m in (
        _material("resin-lam", "Laminating resin", "g", 0.0068, density_kg_m3=1130.0),
        _material("resin-gloss", "Gloss resin", "g", 0.0079, density_kg_m3=1130.0),
        _material("mekp", "MEKP catalyst", "mL", 0.021, density_kg_m3=1100.0),
        _material("wax-styrene", "Wax in styrene", "mL", 0.024, density_kg_m3=910.0),
        _material("epoxy-resin", "Epoxy resin", "g", 0.0185, density_kg_m3=1150.0, ratio_by_weight=43.0),
        _material("epoxy-hardener", "Epoxy hardener", "g", 0.0225, density_kg_m3=990.0),
        _material("foam-32", "Pour foam 32", "g", 0.016, free_rise_kg_m3=32.0),
        _material("foam-56", "Pour foam 56", "g", 0.0165, free_rise_kg_m3=56.0),
        _material("foam-64", "Pour foam 64", "g", 0.017, free_rise_kg_m3=64.0, ratio_a=1.0, ratio_b=1.0),
        _material("microspheres", "Microspheres", "g", 0.031, density_kg_m3=250.0),
        _material("milled-fibre", "Milled fibre", "g", 0.012, density_kg_m3=2540.0),
        _material("chopped-strand", "Chopped strand", "g", 0.011),
        _material("cloth-4oz", "Cloth 4 oz", "m2", 5.9, areal_weight_g_m2=135.6, roll_width_mm=762.0),
        _material("cloth-6oz", "Cloth 6 oz", "m2", 7.45, areal_weight_g_m2=203.4, roll_width_mm=762.0),
        _material("roving", "Roving 2000 tex", "m", 0.012, tex=2000.0),
        _material("tape-masking", "Masking tape 25 mm", "m", 0.09),
        _material("masking-film", "Masking film", "m2", 0.22),
        _material("release-film", "Release film", "m2", 0.8),
        _material("disc-p80", "Disc P80", "piece", 0.62),
        _material("disc-p100", "Disc P100", "piece", 0.6),
        _material("disc-p120", "Disc P120", "piece", 0.58),
        _material("disc-p180", "Disc P180", "piece", 0.56),
        _material("disc-p240", "Disc P240", "piece", 0.55),
        _material("disc-p320", "Disc P320", "piece", 0.55),
        _material("sheet-p400", "Wet sheet P400", "piece", 0.7),
        _material("sheet-p600", "Wet sheet P600", "piece", 0.7),
        _material("sheet-p800", "Wet sheet P800", "piece", 0.75),
        _material("sheet-p1200", "Wet sheet P1200", "piece", 0.8),
        _material("basecoat", "Basecoat", "mL", 0.085),
        _material("thinner", "Thinner", "mL", 0.009),
        _material("clear-2k", "Two-pack clear", "mL", 0.045),
        _material("clear-hardener", "Clear hardener", "mL", 0.06),
        _material("compound", "Compound", "g", 0.028),
        _material("polishing-pad", "Polishing pad", "piece", 14.0),
        _material("acetone", "Acetone", "mL", 0.0042, density_kg_m3=790.0),
        _material("gloves", "Nitrile gloves, pair", "piece", 0.24),
        _material("cup", "Mixing cup", "piece", 0.18),
        _material("stick", "Stir stick", "piece", 0.03),
        _material("brush", "Chip brush", "piece", 0.55),
        _material("rag", "Rag", "piece", 0.25),
        _material("cartridge-set", "Mask cartridges, set", "piece", 16.0),
        _material("dust-bag", "Extractor bag", "piece", 7.5),
        _material("router-bit", "Router bit", "piece", 24.0),
        _material("blade", "Blade", "piece", 0.3),
        _material("ca-glue", "Cyanoacrylate gel", "g", 0.35),
        _material("syringe", "Syringe", "piece", 0.4),
        _material("needle", "Needle", "piece", 0.15),
        _material("dowel", "Dowel 8 mm × 200 mm", "piece", 0.9),
        _material("stringer", "Stringer, basswood", "m", 4.2),
        _material("fin-box", "Fin box", "piece", 9.5, length_mm=114.0, width_mm=27.0, depth_mm=21.0, weight_g=38.0),
        _material("leash-plug", "Leash plug", "piece", 4.8, diameter_mm=27.0, depth_mm=17.0, weight_g=11.0),
    )
}

PRICING = Pricing("margin", 25.0, minimum=30.0, step=5.0, tax_percent=13.5, includes_tax=True)
SHOP = Shop(
    MATERIALS, wage_per_hour=24.0, overhead_per_hour=11.5, temperature_c=19.0, hours_per_day=5.0, pricing=PRICING
)

TWIN_KEELS = {
    "fins": 2, "fin_base": 168.0, "fin_height": 127.0, "fin_tip": 96.0,
    "pockets": 1, "pocket_length": 118.0, "pocket_width": 34.0, "pocket_depth": 23.0, "paint": 0,
}  # fmt: skip


def bench_at(temperature_c: float, board: Construction = PU) -> Bench:
    """A bench in a shop at this temperature."""
    return Bench(replace(SHOP, temperature_c=temperature_c), board, {})


def sizes_for(recipe: CoreRecipe) -> dict[str, float]:
    """Measures that make every operation of a starting recipe do something."""
    sizes = {m.name: m.default if m.default else (m.low + min(m.high, m.low * 4)) / 2 for m in recipe.measures}
    sizes |= {name: 1.0 for name in ("paint",) if name in sizes}
    if recipe.key == "fin-box":
        sizes |= {"pocket_length": 120.0, "pocket_width": 32.0, "pocket_depth": 24.0}
    if recipe.key == "leash-plug":
        sizes |= {"hole_diameter": 30.0, "hole_depth": 20.0}
    return sizes


# As rows.

PRICED_FROM = TODAY - timedelta(days=22)
PACK = {"g": 1000, "mL": 1000, "m": 50, "m2": 38, "piece": 50}  # stock units in one invented pack
RATES_FROM = date(2026, 1, 1)


def make_profile() -> Profile:
    """A VAT-registered shop in euro whose prices include tax; rates from the start of the year."""
    profile = Profile.objects.create(
        name="Test Board Repairs",
        address="1 Test Lane\nTestport",
        country="IE",
        phone="020 910 0199",
        tax_profile="ie-vat",
        tax_number="IE0000000X",
        working_days=[0, 1, 2, 3, 4],
        terms="Deposit on your yes, the rest when you collect.",
        may_turn_up="Once the board is open we see how far the water reaches.",
    )
    TaxRate.objects.create(name="VAT reduced", percent=Decimal("13.5"), from_day=RATES_FROM, for_repairs=True)
    TaxRate.objects.create(name="VAT standard", percent=Decimal("23"), from_day=RATES_FROM)
    LabourRate.objects.create(wage_per_hour=Decimal("22"), from_day=RATES_FROM)
    Overhead.objects.create(monthly=Decimal("1080"), productive_hours=Decimal("120"), from_day=RATES_FROM)
    NumberSeries.objects.bulk_create(
        NumberSeries(key=key, prefix=prefix, width=width) for key, (prefix, width) in STARTING_SERIES.items()
    )
    return profile


def stock_the_store(*, only: set[str] | None = None) -> dict[str, Material]:
    """Every material with its facts and one priced pack, nothing of it on the shelf; `only` some of them."""
    supplier = Supplier.objects.create(name=SUPPLIER)
    wanted = [core for core in MATERIALS.values() if only is None or core.key in only]
    rows = Material.objects.bulk_create(_material_row(core) for core in wanted)
    packs = Pack.objects.bulk_create(
        Pack(
            material=row,
            supplier=supplier,
            words=f"pack of {PACK[row.unit]} {row.unit}",
            content=Decimal(PACK[row.unit]),
            preferred=True,
        )
        for row in rows
    )
    PackPrice.objects.bulk_create(
        PackPrice(pack=pack, price=_pack_price(core), from_day=PRICED_FROM)
        for core, pack in zip(wanted, packs, strict=True)
    )
    return {row.key: row for row in rows}


def _material_row(core: CoreMaterial) -> Material:
    return Material(
        key=core.key,
        name=core.name,
        kind=Kind.SUNDRY,
        unit=core.unit,
        density_kg_m3=_exact(core.density_kg_m3),
        areal_weight_g_m2=_exact(core.areal_weight_g_m2),
        roll_width_mm=_exact(core.roll_width_mm),
        free_rise_kg_m3=_exact(core.free_rise_kg_m3),
        facts=dict(core.facts),
    )


def _pack_price(core: CoreMaterial) -> Decimal:
    return (Decimal(str(core.price.value)) * PACK[core.unit]).quantize(Decimal("0.0001"))


def _exact(number: float | None) -> Decimal | None:
    return None if number is None else Decimal(str(number))
