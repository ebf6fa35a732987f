"""What a pack holds, read from the words on it, in the unit its material is counted in.

`20 kg drum` · `box of 50 discs` · `6 × 1 L` · `30 in × 50 m roll` · `600 mm × 400 mm × 50 mm`. Every side has its
unit; only a number of pieces stands alone. Words of packing (drum, roll, box) say nothing and are dropped.
"""

from __future__ import annotations

import re
from decimal import Decimal
from math import prod

from shop.units import Quantity, StockUnit, UnitError, VolumeSystem, canonical_exact, read_amount, to_stock

EXAMPLE = "20 kg drum, 30 in × 50 m roll or box of 50 discs"

_PACKING = re.compile(
    r"\b(?:roll|drum|box|bag|tin|can|canister|bottle|cartridge|carton|case|pack|packet|tube|tub|pail|jar|spool|bucket|bundle"
    r"|block|of|a|the)\b",
    re.IGNORECASE,
)
_BETWEEN = re.compile(r"×|\*|\bby\b|(?<=[0-9 '\"′″mntd])x(?= ?[0-9])", re.IGNORECASE)


def pack_content(
    text: str,
    unit: StockUnit,
    *,
    density_kg_m3: Decimal | None = None,
    areal_weight_g_m2: Decimal | None = None,
    roll_width_mm: Decimal | None = None,
    linear_weight_tex: Decimal | None = None,
    volume_system: VolumeSystem = "us",
    name: str = "Pack",
) -> Decimal:
    """The content of a pack in grams, millilitres, metres, square metres or pieces, rounded to the stock step.

    Two sides make an area, or where metres are counted the longer side; three sides make a volume; a leading number of
    pieces multiplies what follows. Raises UnitError or Ambiguous as `read` and `to_stock` do.
    """
    if len(text) > 80:
        raise UnitError(f"{name} is too long; write what it holds, like {EXAMPLE}.")
    parts: list[Quantity] = []
    bare = False
    for words in _BETWEEN.split(_PACKING.sub(" ", text)):
        found = read_amount(words, default_unit="piece", volume_system=volume_system, name=name, example=EXAMPLE)
        if bare and found.check("[length]"):  # 2400 × 1200 mm, or 12 rolls of 50 m: too easily taken for each other
            raise UnitError(f"{name} needs a unit on every side; write it like {EXAMPLE}.")
        bare = words.strip()[-1:].isdigit()
        parts.append(found)
    times = canonical_exact(parts.pop(0), "count") if len(parts) > 1 and parts[0].check("[count]") else Decimal(1)
    if len(parts) > 1 and not (len(parts) <= 3 and all(part.check("[length]") for part in parts)):
        raise UnitError(f"{name} must be an amount, like {EXAMPLE}; only lengths can be multiplied with each other.")
    if not times or not all(part.magnitude for part in parts):
        raise UnitError(f"{name} must hold something; write what it holds, like {EXAMPLE}.")
    content: Quantity = max(parts) if unit == "m" else prod(parts[1:], start=parts[0])
    return to_stock(
        content * times,
        unit,
        density_kg_m3=density_kg_m3,
        areal_weight_g_m2=areal_weight_g_m2,
        roll_width_mm=roll_width_mm,
        linear_weight_tex=linear_weight_tex,
        name=name,
    )
