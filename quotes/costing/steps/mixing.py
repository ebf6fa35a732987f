"""Resin systems: what a mix takes, how it is dosed, when it gels.

Polyester is catalysed by weight and shop temperature, inside the data sheet's band; epoxy has a fixed ratio and cures
by temperature. Doses are grams first, then millilitres, then drops as a hint. Each mix leaves its cup behind, and none
is smaller than can be metered; what is stirred in is a share of the mix as mixed. What a resin must not touch is said
in `refusals`.
"""

from __future__ import annotations

import math
from dataclasses import replace

from quotes.costing.basis import sources
from quotes.costing.basis.cautions import EPOXY_SKIN, PEROXIDE, STYRENE
from quotes.costing.basis.constants import Constant, memory, practice, published
from quotes.costing.basis.going_off import Catalyst, Ladder
from quotes.costing.basis.lazy_words import Text
from quotes.costing.parts.refusals import system_for as system_for
from quotes.costing.snapshot import PlannedMix, StirredIn
from quotes.costing.steps.curing import System, hangs_on
from quotes.costing.steps.work import ACETONE, ACETONE_FACTOR, BRUSHES, EXACT, GLOVES, RAGS, Batch, Bench, Gap, Work

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


def ladder(at: Bench) -> Ladder:
    """Catalyst of the shop in per cent by temperature."""
    return Ladder(at[CATALYST_COLD], at[CATALYST_COOL], at[CATALYST_USUAL], at[CATALYST_WARM])


def parts(mixed_g: float, a: float, b: float) -> tuple[float, float]:
    """Two parts of a mix in grams by their ratio in weight; they add up to the mix. Plain arithmetic."""
    part_a = mixed_g * a / (a + b)
    return part_a, mixed_g - part_a


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
    """Put the mixes of `net_g` grams of mixed resin into a step; gives back how many grams are mixed in all.

    Adds resin, catalyst or hardener, a cup and a stick for each mix, and what a session takes once. `percent` is a
    wanted catalyst share, 0 for the one by temperature. Raises Gap below the floor temperature and outside the data
    sheet's band of catalyst.
    """
    if net_g <= 0:
        return 0.0
    key = resin or LAMINATING[system]
    facts = at.material(key).facts
    floor = at.warm_enough(system, facts)
    expected = net_g * at.factor(key, factor).value
    loss, least = at.lost(CUP_LOSS, key), at[LEAST_MIX]
    most = at[MOST_POLYESTER if system == "polyester" else MOST_EPOXY]
    count = max(batches, math.ceil((expected - 1e-9) / most))
    total = max(count * least, expected + count * loss)
    each = total / count
    if system == "polyester":
        _polyester(at, work, key, net_g, formula, factor, count, each, extra_percent, percent, floor)
    else:
        _epoxy(at, work, key, net_g, formula, factor, count, each, floor)
    work.batch = Batch(key, expected, most)
    work.cups(count, "one for each mix")
    resin_sundries(at, work)
    if brush:
        work.sundry("brush", 1, "piece", "one for a coat, used several times", BRUSHES)
    work.vapour = True
    return total


def resin_sundries(at: Bench, work: Work) -> None:
    """Put what a board takes once in a session with resin or foam into a step: gloves, a rag, acetone."""
    work.sundry("gloves", 1, "piece", "a pair in a session with resin", GLOVES)
    work.sundry("rag", 1, "piece", "one in a session with resin", RAGS)
    work.sundry("acetone", at[ACETONE], "mL", "once in a session with resin", ACETONE_FACTOR)


def _polyester(
    at: Bench, work: Work, key: str, net_g: float, formula: Text, factor: Constant, count: int, each: float,
    extra: float, wanted: float, floor: float,
) -> None:  # fmt: skip
    """Put so many mixes of polyester and its catalyst into a step, all in grams.

    Raises Gap outside the data sheet's band of catalyst.
    """
    facts = at.material(key).facts
    low = facts.get("catalyst_low") or at[CATALYST_LOW]
    high = facts.get("catalyst_high") or at[CATALYST_HIGH]
    if wanted and not low <= wanted <= high:
        text = (f"{wanted:g} % catalyst is outside the data sheet's {low:g} to {high:g} %: "
                "it may never cure, or crack; stay inside the band and change the temperature instead.")  # fmt: skip
        raise Gap(at.problem("catalyst_percent", text, "catalyst_percent"))
    density = at.material(HARDENER["polyester"]).density_kg_m3 or at[CATALYST_DENSITY]
    catalyst = Catalyst(ladder(at), extra, wanted, low, high, density, at[DROPS_PER_ML])
    goes_off = hangs_on(at, "polyester", floor)._replace(catalyst=catalyst)
    one = catalyst.dose(each, at.temperature_c)
    percent = one.percent
    gel = goes_off.gel_minutes(at.temperature_c, percent)
    work.gel_min = goes_off.gel_usual(at.temperature_c, percent)
    _add_pair(at, work, key, HARDENER["polyester"], net_g, percent / 100.0, 1.0, formula, factor, count,
              f"{percent:g} % of the resin at {at.temperature_c:g} °C")  # fmt: skip
    work.mixes += (
        PlannedMix(
            system="polyester", resin=key, resin_g=each, hardener=HARDENER["polyester"], catalyst_g=one.grams,
            catalyst_ml=one.ml, drops=one.drops, percent=percent, gel_min=gel, count=count,
            told_for_c=at.temperature_c, floor_c=goes_off.floor_c, goes_off=goes_off,
        ),
    )  # fmt: skip
    work.cautions += (STYRENE, PEROXIDE)


def _epoxy(
    at: Bench, work: Work, key: str, net_g: float, formula: Text, factor: Constant, count: int, each: float,
    floor: float,
) -> None:  # fmt: skip
    """Put so many mixes of epoxy resin and hardener by their fixed ratio into a step, all in grams."""
    ratio = at.material(key).facts.get("ratio_by_weight") or at[EPOXY_PARTS]
    resin_share = 100.0 / (100.0 + ratio)
    resin_g, hardener_g = parts(each, 100.0, ratio)
    goes_off = hangs_on(at, "epoxy", floor)
    gel = goes_off.gel_minutes(at.temperature_c)
    work.gel_min = goes_off.gel_usual(at.temperature_c)
    _add_pair(at, work, key, HARDENER["epoxy"], net_g, 1.0 - resin_share, resin_share, formula, factor, count,
              f"100 : {ratio:g} by weight, as the label says")  # fmt: skip
    work.mixes += (
        PlannedMix(
            system="epoxy", resin=key, resin_g=resin_g, hardener=HARDENER["epoxy"], hardener_g=hardener_g,
            ratio=(100.0, ratio), gel_min=gel, count=count, told_for_c=at.temperature_c, floor_c=goes_off.floor_c,
            goes_off=goes_off,
        ),
    )  # fmt: skip
    work.cautions += (EPOXY_SKIN,)


def _add_pair(
    at: Bench, work: Work, resin: str, hardener: str, net_g: float, hardener_share: float, resin_share: float,
    formula: Text, factor: Constant, count: int, dose_words: Text,
) -> None:  # fmt: skip
    loss, least = at.lost(CUP_LOSS, resin), at[LEAST_MIX] * count
    for key, share, words in ((resin, resin_share, formula), (hardener, hardener_share, dose_words)):
        work.take(key, net_g * share, "g", words, factor, mixes=count, loss=loss * share, least=least * share,
                  moves_with=resin)  # fmt: skip


def stir_in(
    at: Bench,
    work: Work,
    key: str,
    share: float,
    net_g: float,
    formula: Text,
    factor: Constant = EXACT,
    unit: str = "g",
) -> float:
    """Stir filler, fibre or wax into the step's last mix; gives back how much goes into one cup, in `unit`.

    `share` is so much for each gram of mixed resin, `net_g` what the place takes of the latter. It goes with the mix as
    mixed: by the resin's usage factor, its cup loss and its smallest mix, so that every cup has the recipe's
    proportions. Nothing where nothing was mixed.
    """
    if not work.mixes or share <= 0:
        return 0.0
    mixed = work.mixes[-1]
    resin, count = mixed.resin, mixed.count
    work.take(key, net_g * share, unit, formula, factor, mixes=count, loss=at.lost(CUP_LOSS, resin) * share,
              least=at[LEAST_MIX] * count * share, moves_with=resin)  # fmt: skip
    each = (mixed.resin_g + (mixed.hardener_g or 0.0)) * share
    one = StirredIn(key, each, unit)
    work.mixes = (*work.mixes[:-1], replace(mixed, stirred_in=(*mixed.stirred_in, one)))
    return each
