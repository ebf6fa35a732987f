"""What a pack holds, read from the words on it, in the unit its material is counted in.

`20 kg drum` · `box of 50 discs` · `6 × 1 L` · `30 in × 50 m roll` · `600 mm × 400 mm × 50 mm` · `bag of 100 rags` ·
`box of 24 rolls, 25 mm × 50 m`. Every side has its unit; only a number of pieces stands alone. A word of packing (drum,
roll, box) or of the material's own name is counted where a number stands before it; elsewhere packing is dropped.
"""

from __future__ import annotations

import re
from decimal import Decimal
from math import prod

from shop.measures.units import (
    Ambiguous,
    Quantity,
    StockUnit,
    UnitError,
    VolumeSystem,
    canonical_exact,
    read_amount,
    to_stock,
)

EXAMPLE = "20 kg drum, 30 in × 50 m roll or box of 50 discs"

_PACKING = (
    "roll|drum|box|bag|tin|can|canister|bottle|cartridge|carton|case|pack|packet|tube|tub|pail|jar|spool|bucket|bundle"
    "|block|kit|set|sleeve|sheet|disc|disk|bale|sack"
)
_DROPPED = re.compile(rf"\b(?:(?:{_PACKING})(?:es|s)?|of|a|an|the|with)\b", re.IGNORECASE)
_NAME_WORD = re.compile(r"[^\W\d_]{3,}")
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
    goods: str = "",
    name: str = "Pack",
) -> Decimal:
    """The content of a pack in grams, millilitres, metres, square metres or pieces, rounded to the stock step.

    Two sides make an area, or where metres are counted the longer side; three sides make a volume; leading numbers of
    pieces multiply what follows. `goods` is what the material is called: its words may stand behind a number of pieces,
    and it says whether a piece of it is a pair. Raises UnitError or Ambiguous as `read` and `to_stock` do.
    """
    if len(text) > 80:
        raise UnitError(f"{name} is too long; write what it holds, like {EXAMPLE}.")
    parts: list[Quantity] = []
    bare = False
    for words in _BETWEEN.split(_DROPPED.sub(" ", _counted(text, goods, name))):
        words = words.strip(" ,;:")
        found = read_amount(words, default_unit="piece", volume_system=volume_system, name=name, example=EXAMPLE)
        if bare and found.check("[length]"):  # 2400 × 1200 mm, or 12 rolls of 50 m: too easily taken for each other
            raise UnitError(f"{name} needs a unit on every side; write it like {EXAMPLE}.")
        bare = words[-1:].isdigit()
        parts.append(found)
    times = Decimal(1)
    while len(parts) > 1 and parts[0].check("[count]"):
        times *= canonical_exact(parts.pop(0), "count")
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


def _counted(text: str, goods: str, name: str) -> str:
    """The text with "24 rolls, 25 mm" as "24 piece × 25 mm": what is counted, wherever a number stands before it."""
    own = "|".join(sorted({word.lower().removesuffix("s") for word in _NAME_WORD.findall(goods)}))
    counted = re.compile(
        rf"(?<![0-9.,/])([0-9]+) ?(pair|{_PACKING}{'|' if own else ''}{own})(?:es|s)?\b[ ,]*(?:of\b|at\b|each\b)? *(?=(.?))",
        re.IGNORECASE,
    )
    in_pairs = bool(re.search(r"\bpairs?\b", goods, re.IGNORECASE))

    def pieces(match: re.Match[str]) -> str:
        many, word, ahead = int(match[1]), match[2].lower(), match[3]
        if word == "pair":
            many *= 1 if in_pairs else 2
        elif in_pairs and word in own.split("|") and many > 1:
            raise _pairs_or_single(match[0].strip(), many, name)
        return f"{many} piece" + (" × " if ahead.isalnum() and ahead not in "xX" else " ")

    return counted.sub(pieces, text)


def _pairs_or_single(said: str, many: int, name: str) -> Ambiguous:
    """The question whether so many of something counted in pairs are pairs or single ones."""
    meanings = (f"{many // 2} pairs", f"{many} pairs") if many % 2 == 0 else (f"{many} pairs",)
    return Ambiguous(f"{name}: does {said} mean {' or '.join(meanings)}? Write the one you mean.", meanings)
