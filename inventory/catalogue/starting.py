"""The materials a repair shop starts with: physical facts, no brand; and a guess at what a pack costs, marked as one.

The keys are the ones the starting recipes ask for. A pack with its price is added by the shop; until then the guess
stands in (`inventory.catalogue.guesses`), and where there is none a recipe that needs the material says so.
Every figure is a starting point that the product's own data sheet replaces: densities and weights from the places named
beside them, otherwise common practice or from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from inventory.catalogue.guesses import guess_of
from inventory.catalogue.packs import pack_content
from inventory.models import Kind, Material, Safety, Unit
from shop.measures.units import UnitError
from shop.models import Profile
from shop.platform.acts import SEES_MONEY, Signed, action, internal

D = Decimal
PEROXIDE = "Organic peroxide: blinds, and feeds fire. Goggles and gloves; never near promoter, solvent, metal or flame."
STYRENE = "Styrene: flammable vapour that harms. Extraction and vapour mask; no source of ignition."
EPOXY = "Skin sensitiser. Nitrile gloves and sleeves; wash at once; once sensitised, stop."
ISOCYANATE = "Isocyanate: sensitises the lungs. Fresh air or air-fed mask; once sensitised, stop work with it."
SOLVENT = "Very flammable, vapour creeps along the floor. No spark or flame; rags in a lidded metal can."
DUST = "Dust floats: particle mask when pouring and sanding."
GLASS = "Glass fibre itches and its dust harms: sleeves, particle mask, extraction when cut dry."
GLUE = "Bonds skin at once; vapour irritates. Fresh air, goggles."
CLASSES = {
    PEROXIDE: ["peroxide"], STYRENE: ["flammable"], EPOXY: ["sensitiser"], ISOCYANATE: ["isocyanate", "sensitiser"],
    SOLVENT: ["flammable"], DUST: ["dust"], GLASS: ["dust"], GLUE: ["sensitiser"],
}  # fmt: skip

# 1 oz/yd² = 33.905 75 g/m² (NIST SP 811, appendix B.8): 4 oz = 135.623, 6 oz = 203.435; weave tolerance 5 to 10 %.
# Polyester 1130 kg/m³: general-purpose resin data sheet, 1.13 ± 0.02. Epoxy 1150: supplier's figure. Styrene 910: NIOSH
# Pocket Guide. E-glass 2540. Hollow microspheres 150 to 600, 250 taken: common practice. Acetone, MEKP: from memory.
# Shelf lives: polyester about 6 months (supplier), epoxy 24 (supplier), cyanoacrylate 8 to 12 (trade association);
# catalyst, foam and paint from memory. Foam densities are trade grades of 2, 3.5 and 4 lb/ft³.


@dataclass(frozen=True)
class StartingMaterial:
    """One starting material as its row will say it."""

    key: str
    name: str
    kind: Kind
    unit: Unit
    shelf: str = ""
    density: Decimal | None = None
    areal: Decimal | None = None
    width: Decimal | None = None
    rise: Decimal | None = None
    facts: dict[str, float] = field(default_factory=dict)
    life: int | None = None
    opened: int | None = None
    hazard: str = ""


G, ML, M, M2, PIECE = Unit.GRAM, Unit.MILLILITRE, Unit.METRE, Unit.SQUARE_METRE, Unit.PIECE
RESINS, CLOTHS, FOAMS, GRIT = "Resin cupboard", "Cloth rack", "Foam cupboard", "Abrasives"
TAPES, PAINTS, PARTS, SMALL = "Masking", "Paint locker", "Fins and plugs", "Sundries"
GRITS = [("disc", grit) for grit in (80, 100, 120, 180, 240, 320)] + [("sheet", grit) for grit in (400, 600, 800, 1200)]

STARTING_MATERIALS: tuple[StartingMaterial, ...] = (
    StartingMaterial("resin-lam", "Laminating resin, polyester", Kind.RESIN, G, RESINS, density=D(1130), life=180, opened=120,
          hazard=STYRENE, facts={"catalyst_low": 1.0, "catalyst_high": 2.5}),
    StartingMaterial("resin-gloss", "Gloss resin, polyester", Kind.RESIN, G, RESINS, density=D(1130), life=180, opened=120,
          hazard=STYRENE, facts={"catalyst_low": 1.0, "catalyst_high": 2.5}),
    StartingMaterial("mekp", "Catalyst, MEKP", Kind.HARDENER, ML, "Catalyst box", density=D(1100), life=270, hazard=PEROXIDE),
    StartingMaterial("wax-styrene", "Wax in styrene", Kind.ADDITIVE, ML, RESINS, density=D(910), life=365, hazard=STYRENE),
    StartingMaterial("epoxy-resin", "Epoxy resin", Kind.RESIN, G, RESINS, density=D(1150), life=730, hazard=EPOXY,
          facts={"ratio_by_weight": 43.0}),
    StartingMaterial("epoxy-hardener", "Epoxy hardener", Kind.HARDENER, G, RESINS, density=D(990), life=730, hazard=EPOXY),
    StartingMaterial("foam-32", "Pour foam, 32 kg/m³", Kind.FOAM, G, FOAMS, rise=D(32), life=270, opened=90, hazard=ISOCYANATE),
    StartingMaterial("foam-56", "Pour foam, 56 kg/m³", Kind.FOAM, G, FOAMS, rise=D(56), life=270, opened=90, hazard=ISOCYANATE),
    StartingMaterial("foam-64", "Pour foam, 64 kg/m³", Kind.FOAM, G, FOAMS, rise=D(64), life=270, opened=90, hazard=ISOCYANATE),
    StartingMaterial("microspheres", "Hollow microspheres", Kind.FILLER, G, RESINS, density=D(250), hazard=DUST),
    StartingMaterial("milled-fibre", "Milled glass fibre", Kind.FILLER, G, RESINS, density=D(2540), hazard=GLASS),
    StartingMaterial("chopped-strand", "Chopped strand", Kind.FILLER, G, RESINS, density=D(2540), hazard=GLASS),
    StartingMaterial("cloth-4oz", "Glass cloth, 4 oz", Kind.CLOTH, M2, CLOTHS, areal=D("135.623"), width=D(762), hazard=GLASS),
    StartingMaterial("cloth-6oz", "Glass cloth, 6 oz", Kind.CLOTH, M2, CLOTHS, areal=D("203.435"), width=D(762), hazard=GLASS),
    StartingMaterial("roving", "Roving, 2000 tex", Kind.ROVING, M, CLOTHS, facts={"tex": 2000.0}, hazard=GLASS),
    StartingMaterial("tape-masking", "Masking tape, 25 mm", Kind.TAPE, M, TAPES),
    StartingMaterial("masking-film", "Masking film", Kind.TAPE, M2, TAPES),
    StartingMaterial("release-film", "Release film", Kind.TAPE, M2, TAPES),
    *(
        StartingMaterial(f"{shape}-p{grit}", f"{'Disc 150 mm' if shape == 'disc' else 'Wet sheet'}, P{grit}", Kind.ABRASIVE, PIECE,
              GRIT, facts={"grit": float(grit)}, hazard=DUST if shape == "disc" else "")
        for shape, grit in GRITS
    ),
    StartingMaterial("basecoat", "Basecoat", Kind.PAINT, ML, PAINTS, life=730, hazard=SOLVENT),
    StartingMaterial("thinner", "Thinner", Kind.SOLVENT, ML, PAINTS, hazard=SOLVENT),
    StartingMaterial("clear-2k", "Two-pack clear", Kind.PAINT, ML, PAINTS, life=540, hazard=ISOCYANATE),
    StartingMaterial("clear-hardener", "Hardener for two-pack clear", Kind.HARDENER, ML, PAINTS, life=365, opened=60,
          hazard=ISOCYANATE),
    StartingMaterial("compound", "Polishing compound", Kind.PAINT, G, PAINTS),
    StartingMaterial("polishing-pad", "Polishing pad", Kind.ABRASIVE, PIECE, PAINTS),
    StartingMaterial("acetone", "Acetone", Kind.SOLVENT, ML, RESINS, density=D(790), hazard=SOLVENT),
    StartingMaterial("gloves", "Nitrile gloves, pair", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("cup", "Mixing cup", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("stick", "Stir stick", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("brush", "Chip brush", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("rag", "Rag", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("cartridge-set", "Mask cartridges, set", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("dust-bag", "Extractor bag", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("router-bit", "Router bit", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("blade", "Blade", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("ca-glue", "Cyanoacrylate gel", Kind.RESIN, G, SMALL, life=300, opened=30, hazard=GLUE),
    StartingMaterial("syringe", "Syringe", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("needle", "Needle", Kind.SUNDRY, PIECE, SMALL),
    StartingMaterial("dowel", "Dowel, 8 × 200 mm", Kind.HARDWARE, PIECE, PARTS),
    StartingMaterial("stringer", "Stringer strip", Kind.HARDWARE, M, PARTS),
    StartingMaterial("fin-box", "Fin box, two-tab", Kind.HARDWARE, PIECE, PARTS,
          facts={"length_mm": 114.0, "width_mm": 27.0, "depth_mm": 21.0, "weight_g": 38.0}),
    StartingMaterial("leash-plug", "Leash plug", Kind.HARDWARE, PIECE, PARTS,
          facts={"diameter_mm": 27.0, "depth_mm": 17.0, "weight_g": 11.0}),
)  # fmt: skip


@internal
def load_starting_materials(*, currency: str = "") -> list[Material]:
    """Write the starting materials the shop does not have yet; those it has stay as they are.

    Each with the guess at its pack and price in `currency`; without one, or where none is known, without a guess.
    """
    have = set(Material.objects.values_list("key", flat=True))
    rows = [
        Material(
            key=start.key, name=start.name, kind=start.kind, unit=start.unit, shelf=start.shelf,
            density_kg_m3=start.density, areal_weight_g_m2=start.areal, roll_width_mm=start.width,
            free_rise_kg_m3=start.rise, facts=start.facts, shelf_life_days=start.life, opened_life_days=start.opened,
            hazard=start.hazard,
        )
        for start in STARTING_MATERIALS
        if start.key not in have
    ]  # fmt: skip
    for row in rows:
        _guess(row, currency)
    made = Material.objects.bulk_create(rows)
    Safety.objects.bulk_create(Safety(material=row, classes=classes_of(row)) for row in made if row.hazard)
    return made


@action("material.guess", *SEES_MONEY)
def put_in_guesses(*, signed: Signed) -> list[Material]:
    """Give the starting materials of a shop their guesses in its currency, anew; the materials that have one then.

    A material that the shop counts in another unit than it started with, or whose facts no longer read the pack, is
    left without.
    """
    shop = Profile.objects.get()
    guessed = guess_anew(currency=shop.currency)
    words = f"Put in guesses at the prices of {len(guessed)} materials"
    signed.record(shop, words)
    return guessed


@internal
def guess_anew(*, currency: str) -> list[Material]:
    """The guesses of the starting materials in another currency, none where none is known; those that have one then."""
    starts = {start.key: start for start in STARTING_MATERIALS}
    rows = [row for row in Material.objects.filter(key__in=starts) if row.unit == starts[row.key].unit]
    for row in rows:
        row.guess_words, row.guess_content, row.guess_price = "", None, None
    guessed = [row for row in rows if _guess(row, currency)]
    Material.objects.bulk_update(rows, ["guess_words", "guess_content", "guess_price"])
    return guessed


def _guess(row: Material, currency: str) -> bool:
    """Sets the guess on a material, not saved; whether there is one."""
    found = guess_of(row.key, currency)
    if found is None:
        return False
    try:
        content = pack_content(found.words, row.unit, **row.unit_facts(), goods=row.name)
    except UnitError:  # the shop has changed what the pack would be read by
        return False
    row.guess_words, row.guess_content, row.guess_price = found.words, content, found.price
    return True


def classes_of(row: Material) -> list[str]:
    """The hazard classes of a starting material; limits are left to the shop, which has the data sheet."""
    return CLASSES.get(row.hazard, []) + (["base"] if row.key == "epoxy-hardener" else [])
