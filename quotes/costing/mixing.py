"""Resin systems: what a mix takes, how it is dosed, when it gels, and what it must not touch.

Polyester is catalysed by weight and shop temperature, inside the data sheet's band; epoxy has a fixed ratio and cures
by temperature. Doses are grams first, then millilitres, then drops as a hint. Each mix leaves its cup behind, and none
is smaller than can be metered. Polyester goes on a polyester-skinned PU board only; anything unknown counts as EPS.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from quotes.costing import sources
from quotes.costing.cautions import EPOXY_SKIN, PEROXIDE, STYRENE
from quotes.costing.constants import Constant, memory, practice, published
from quotes.costing.curing import FLOOR_EPOXY, FLOOR_POLYESTER, System, gel_minutes
from quotes.costing.inputs import Construction
from quotes.costing.words import Dose as Told
from quotes.costing.words import Text
from quotes.costing.work import ACETONE, ACETONE_FACTOR, BRUSHES, EXACT, GLOVES, RAGS, Batch, Bench, Gap, Work

SYSTEMS = ("by board", "polyester", "epoxy")

CATALYST_LOW = published(
    "catalyst_low_percent", 1.0, 1.0, 1.0, "percent", "least catalyst by weight of resin",
    source=sources.LAMINATING_SHEET, data_sheet=True)  # fmt: skip
CATALYST_HIGH = published(
    "catalyst_high_percent", 2.5, 2.5, 2.5, "percent", "most catalyst by weight of resin",
    source=sources.LAMINATING_SHEET, data_sheet=True)  # fmt: skip
CATALYST_COLD = practice("catalyst_cold_percent", 2.2, 2.0, 2.5, "percent", "catalyst below 16 °C")
CATALYST_COOL = practice("catalyst_cool_percent", 2.0, 1.8, 2.2, "percent", "catalyst from 16 to 20 °C")
CATALYST_USUAL = practice("catalyst_usual_percent", 1.5, 1.2, 1.8, "percent", "catalyst from 20 to 25 °C")
CATALYST_WARM = practice("catalyst_warm_percent", 1.0, 1.0, 1.2, "percent", "catalyst above 27 °C")
CATALYST_DENSITY = memory("catalyst_density", 1100, 1000, 1180, "kg/m3", "density of MEKP solution")
DROPS_PER_ML = published(
    "drops_per_ml", 17, 13, 22, "1/mL", "drops in a millilitre of catalyst, by dropper",
    source=sources.DROPS, data_sheet=True)  # fmt: skip
EPOXY_PARTS = published(
    "epoxy_parts", 43.0, 20.0, 50.0, "g/100 g", "hardener to 100 g of epoxy resin where the label is not on file",
    source=sources.EPOXY_RATIO + ", by weight at 1.15 and 0.99 kg/L from memory", data_sheet=True)  # fmt: skip
LEAST_MIX = practice("least_mix_g", 20, 10, 30, "g", "smallest mix that can be metered")
MOST_POLYESTER = practice("most_mix_polyester_g", 350, 200, 500, "g", "largest polyester mix that is used in time")
MOST_EPOXY = practice("most_mix_epoxy_g", 300, 150, 400, "g", "largest epoxy mix that does not run hot")
CUP_LOSS = practice("cup_loss_g", 10, 5, 25, "g", "what one mix leaves in cup, stick and brush")
POLYESTER_DENSITY = published(
    "polyester_density",
    1130,
    1080,
    1150,
    "kg/m3",
    "liquid polyester resin",
    source=sources.RESIN_SHEET,
    data_sheet=True,
)
POLYESTER_CURED = published(
    "polyester_cured_density", 1200, 1180, 1220, "kg/m3", "cured polyester resin", source=sources.RESIN_SHEET
)
EPOXY_DENSITY = published(
    "epoxy_density", 1150, 1100, 1180, "kg/m3", "mixed epoxy", source=sources.COMPOSITES, data_sheet=True
)


class Dose(NamedTuple):
    """Catalyst for one mix: grams, then millilitres, then drops as a hint, and the per cent by weight."""

    grams: float
    ml: float
    drops: int
    percent: float


def catalyst_percent(at: Bench) -> float:
    """Per cent of catalyst by shop temperature; between 25 and 27 °C in a straight line from usual to warm."""
    t = at.temperature_c
    if t < 16:
        return at[CATALYST_COLD]
    if t < 20:
        return at[CATALYST_COOL]
    usual, warm = at[CATALYST_USUAL], at[CATALYST_WARM]
    return usual + (warm - usual) * min(1.0, max(0.0, (t - 25.0) / 2.0))


def dose(resin_g: float, percent: float, density_kg_m3: float, drops_per_ml: float) -> Dose:
    """Catalyst for so much resin: mass = p × resin, mL = mass over density (kg/m³), drops = mL × drops per mL."""
    grams = resin_g * percent / 100.0
    ml = grams * 1000.0 / density_kg_m3
    return Dose(grams, ml, round(ml * drops_per_ml), percent)


def parts(mixed_g: float, a: float, b: float) -> tuple[float, float]:
    """The two parts of a mix by their ratio in weight; they add up to the mix."""
    part_a = mixed_g * a / (a + b)
    return part_a, mixed_g - part_a


def system_for(words: str, board: Construction) -> System:
    """The resin system: as the recipe says, or by the board: polyester on a polyester-skinned PU board, else epoxy."""
    if words == "polyester":
        return "polyester"
    if words == "epoxy":
        return "epoxy"
    return "polyester" if board.core == "pu" and board.resin == "polyester" else "epoxy"


def polyester_refusals(board: Construction) -> Iterator[str]:
    """Why polyester must not go on this board; nothing if it may."""
    if board.core in ("eps", "xps"):
        yield f"Polyester melts {board.core.upper()} foam, and this board's core is {board.core.upper()}: use epoxy."
    elif board.core == "unknown":
        yield "This board's core is not known and counts as EPS, which polyester melts: test the core, or use epoxy."
    elif board.core != "pu":
        yield f"Polyester is used on a PU core only, and this board is {board.core}: use epoxy."
    elif board.resin == "epoxy":
        yield "Polyester does not hold on an epoxy skin: use epoxy."
    elif board.resin == "unknown":
        yield "This board's skin is not known and counts as epoxy, on which polyester does not hold: test it, or use epoxy."


def system_refusals(wanted: object, board: Construction) -> Iterable[str]:
    """Why the wanted resin system must not go on this board."""
    return polyester_refusals(board) if wanted == "polyester" else ()


LAMINATING = {"polyester": "resin-lam", "epoxy": "epoxy-resin"}
GLOSSING = {"polyester": "resin-gloss", "epoxy": "epoxy-resin"}
HARDENER = {"polyester": "mekp", "epoxy": "epoxy-hardener"}


def mix(
    at: Bench,
    work: Work,
    system: System,
    net_g: float,
    formula: Text,
    factor: Constant = EXACT,
    *,
    resin: str = "",
    extra_percent: float = 0.0,
    percent: float = 0.0,
    batches: int = 1,
    brush: bool = False,
) -> float:
    """Puts the mixes of `net_g` grams of mixed resin into a step; gives back how many grams are mixed in all.

    Adds resin, catalyst or hardener, a cup and a stick for each mix, and what a session takes once. `percent` is a
    wanted catalyst share, 0 for the one by temperature. Raises Gap below the floor temperature and outside the data
    sheet's band of catalyst.
    """
    if net_g <= 0:
        return 0.0
    key = resin or LAMINATING[system]
    facts = at.material(key).facts
    floor = facts.get("floor_c") or at[FLOOR_POLYESTER if system == "polyester" else FLOOR_EPOXY]
    if at.temperature_c < floor:
        text = (f"The shop is at {at.temperature_c:g} °C, below the {floor:g} °C that {system} needs: "
                "warm shop, board and resin first.")  # fmt: skip
        raise Gap(at.problem("temperature_c", text, "shop:temperature_c"))
    expected = net_g * at.factor(key, factor).value
    loss, least = at.lost(CUP_LOSS, key), at[LEAST_MIX]
    most = at[MOST_POLYESTER if system == "polyester" else MOST_EPOXY]
    count = max(batches, math.ceil((expected - 1e-9) / most))
    total = max(count * least, expected + count * loss)
    each = total / count
    if system == "polyester":
        _polyester(at, work, key, net_g, formula, factor, count, each, extra_percent, percent)
    else:
        _epoxy(at, work, key, net_g, formula, factor, count, each)
    work.batch = Batch(key, expected, most)
    work.cups(count, "one for each mix")
    resin_sundries(at, work)
    if brush:
        work.sundry("brush", 1, "piece", "one for a coat, used several times", BRUSHES)
    work.vapour = True
    return total


def resin_sundries(at: Bench, work: Work) -> None:
    """What a board takes once in a session with resin or foam: gloves, a rag, acetone."""
    work.sundry("gloves", 1, "piece", "a pair in a session with resin", GLOVES)
    work.sundry("rag", 1, "piece", "one in a session with resin", RAGS)
    work.sundry("acetone", at[ACETONE], "mL", "once in a session with resin", ACETONE_FACTOR)


def _polyester(
    at: Bench, work: Work, key: str, net_g: float, formula: Text, factor: Constant, count: int, each: float,
    extra: float, wanted: float,
) -> None:  # fmt: skip
    facts = at.material(key).facts
    low = facts.get("catalyst_low") or at[CATALYST_LOW]
    high = facts.get("catalyst_high") or at[CATALYST_HIGH]
    if wanted and not low <= wanted <= high:
        text = (f"{wanted:g} % catalyst is outside the data sheet's {low:g} to {high:g} %: "
                "it may never cure, or crack; stay inside the band and change the temperature instead.")  # fmt: skip
        raise Gap(at.problem("catalyst_percent", text, f"setting:{at.step}:catalyst_percent"))
    percent = wanted or min(high, max(low, catalyst_percent(at) + extra))
    density = at.material(HARDENER["polyester"]).density_kg_m3 or at[CATALYST_DENSITY]
    one = dose(each, percent, density, at[DROPS_PER_ML])
    gel = gel_minutes(at, "polyester", percent)
    _add_pair(at, work, key, HARDENER["polyester"], net_g, percent / 100.0, 1.0, formula, factor, count,
              f"{percent:g} % of the resin at {at.temperature_c:g} °C")  # fmt: skip
    mixed = {
        "system": "polyester", "resin": key, "resin_g": each, "hardener": HARDENER["polyester"],
        "catalyst": HARDENER["polyester"], "catalyst_g": one.grams, "catalyst_ml": one.ml, "drops": one.drops,
        "percent": percent, "gel_min": [gel[0], gel[1]], "count": count,
    }  # fmt: skip
    work.mixes += (mixed,)
    work.cautions += (STYRENE, PEROXIDE)


def _epoxy(
    at: Bench, work: Work, key: str, net_g: float, formula: Text, factor: Constant, count: int, each: float
) -> None:
    ratio = at.material(key).facts.get("ratio_by_weight") or at[EPOXY_PARTS]
    resin_share = 100.0 / (100.0 + ratio)
    resin_g, hardener_g = parts(each, 100.0, ratio)
    gel = gel_minutes(at, "epoxy")
    _add_pair(at, work, key, HARDENER["epoxy"], net_g, 1.0 - resin_share, resin_share, formula, factor, count,
              f"100 : {ratio:g} by weight, as the label says")  # fmt: skip
    mixed = {
        "system": "epoxy", "resin": key, "resin_g": resin_g, "hardener": HARDENER["epoxy"],
        "hardener_g": hardener_g, "ratio": [100.0, ratio], "gel_min": [gel[0], gel[1]], "count": count,
    }  # fmt: skip
    work.mixes += (mixed,)
    work.cautions += (EPOXY_SKIN,)


def _add_pair(
    at: Bench, work: Work, resin: str, hardener: str, net_g: float, hardener_share: float, resin_share: float,
    formula: Text, factor: Constant, count: int, dose_words: Text,
) -> None:  # fmt: skip
    loss, least = at.lost(CUP_LOSS, resin), at[LEAST_MIX] * count
    for key, share, words in ((resin, resin_share, formula), (hardener, hardener_share, dose_words)):
        work.take(key, net_g * share, "g", words, factor, mixes=count, loss=loss * share, least=least * share,
                  moves_with=resin)  # fmt: skip


def dose_text(one: Mapping[str, Any]) -> Text:
    """A mix as it is written on the job sheet: grams first, then millilitres, then drops as a hint."""
    count, gel = one["count"], one["gel_min"]
    assert isinstance(gel, list)
    many = f"{count} mixes, each " if isinstance(count, int) and count > 1 else ""
    if one["system"] == "polyester":
        return Told(
            "{}{:.0f} g resin + {:.1f} g catalyst ({:.1f} mL, about {} drops), gels in {:.0f} to {:.0f} min.",
            many,
            one["resin_g"],
            one["catalyst_g"],
            one["catalyst_ml"],
            one["drops"],
            gel[0],
            gel[1],
        )
    return Told(
        "{}{:.0f} g resin + {:.0f} g hardener by weight, pot life {:.0f} to {:.0f} min.",
        many,
        one["resin_g"],
        one["hardener_g"],
        gel[0],
        gel[1],
    )


def dose_words(one: Mapping[str, Any]) -> str:
    """The same as a plain string, for a mix of a snapshot."""
    return str(dose_text(one))
