"""Usage factors: what a shop really uses over what geometry asks for; and the unit a need is counted and bought in.

A factor the shop set for an operation and a material goes before the trade's default, which is a constant with its
range and source. What the shop's own jobs taught is a multiple of either, so that a figure that is set anew keeps what
was learned. Invariant: where nothing was learned the default comes back as it is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import NamedTuple

from quotes.costing.basis.constants import Constant
from quotes.costing.basis.lazy_words import many
from quotes.costing.snapshot import FactorUsed, MadeOf
from quotes.costing.snapshot.lines import POOLED as POOLED
from quotes.costing.snapshot.lines import FactorLearned
from quotes.costing.stats.assumptions import USUAL
from quotes.costing.stats.normal import quantile

OTHERS = "any other operation"  # of which nothing is known but how fast the shop is at all that it does


class Learned(NamedTuple):
    """Learning of one default from this shop's history, as a multiple of it.

    `own` is the shop's own mean, None without trusted logs; `sd` that of the logarithm of `used`; `spread` the
    job-to-job scatter, None where nothing is known of it. What came out of it was not `believed` where it was absurd:
    then it is the default again, and says so.

    Of minutes it is that of work by size; `set_up` is what setting up takes beside that, `set_up_sd` the sd of its
    logarithm, `together` the covariance of both.
    """

    used: float
    own: float | None
    sd: float
    spread: float | None
    logs: int
    counts: int
    believed: bool = True
    set_up: float = 1.0
    set_up_sd: float = 0.0
    together: float = 0.0

    def at(self, part: float) -> Learned:
        """One multiple for all minutes of work of which the share `part` sets up (0 to 1)."""
        grown = 1.0 - part + part * self.set_up
        slope = part * self.set_up / grown
        variance = self.sd**2 + 2.0 * slope * self.together + (slope * self.set_up_sd) ** 2
        return Learned(
            self.used * grown, None if self.own is None else self.own * grown, math.sqrt(max(variance, 0.0)),
            self.spread, self.logs, self.counts, self.believed,
        )  # fmt: skip

    @property
    def words(self) -> str:
        """Words for its evidence: learned from 7 logs and 3 counts."""
        if not self.believed:
            return "the trade default, for what was written down here gives no believable figure"
        said = [many(*each) for each in ((self.logs, "log"), (self.counts, "count")) if each[0]]
        return f"learned from {' and '.join(said)}" if said else "learned from the shop's other figures"


@dataclass(frozen=True, slots=True)
class UsageFactor:
    """Real use over need for one operation and material, with its 5 to 95 % range.

    `spread` is the job-to-job scatter as a standard deviation of the logarithm; None leaves it to the core's default.
    `name` is that of the constant it comes from. `default` is the factor that `learned` was laid over; both None where
    nothing was learned. Raises ValueError unless 0 < low ≤ value ≤ high.
    """

    value: float
    low: float
    high: float
    source: str
    spread: float | None = None
    default: UsageFactor | None = None
    learned: Learned | None = None
    name: str = ""

    def __post_init__(self) -> None:
        if not 0 < self.low <= self.value <= self.high:
            raise ValueError(
                f"A usage factor must have low ≤ value ≤ high, all above zero; "
                f"{self.low:g}, {self.value:g}, {self.high:g} are not."
            )

    def expected(self, labour: bool) -> float:
        """Mean factor over many jobs: the middle × exp(sd²/2), for use is far above it more often than far below.

        sd is that of the logarithm: the scatter from job to job, and the job's difficulty. How little is known of the
        factor itself, its range, leaves the mean: ignorance is no cost. What is counted stays as it is. Mean of a
        log-normal: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions, volume 1, section 14.3, from
        memory.
        """
        if self.low == self.high:
            return self.value
        if self.spread is None:
            return self.value * (_MEAN_LABOUR if labour else _MEAN_MATERIAL)
        shared = USUAL.difficulty_labour if labour else USUAL.difficulty_material
        return self.value * math.exp((self.spread**2 + shared**2) / 2.0)

    def at(self, part: float) -> UsageFactor:
        """Factor for minutes of which the share `part` sets up (0 to 1)."""
        learned = self.learned
        if learned is None or not (part and learned.set_up_sd):
            return self
        there = learned.at(part)
        value, wider = self.value * there.used / learned.used, there.sd / learned.sd
        low, high = ((end / self.value) ** wider for end in (self.low, self.high))
        return replace(self, value=value, low=value * low, high=value * high, learned=there)

    def moved(self, value: float) -> UsageFactor:
        """Factor about another middle: its range and scatter keep their width."""
        scale = value / self.value
        return replace(self, value=value, low=self.low * scale, high=self.high * scale)

    def used(self) -> FactorUsed:
        """Factor as the snapshot keeps it, with what it was made of."""
        return FactorUsed(
            self.value, self.low, self.high, self.source, self.spread, self.name, self._learned_then()
        )  # fmt: skip

    def _learned_then(self) -> FactorLearned | None:
        """Learning behind the factor as the snapshot keeps it; None where nothing was learned."""
        default, learned = self.default, self.learned
        if default is None or learned is None:
            return None
        near = math.exp(quantile(0.9) * learned.sd)
        own = None if learned.own is None else default.value * learned.own
        return FactorLearned(
            default.value, default.low, default.high, default.source, own, self.value / near, self.value * near,
            learned.sd, learned.logs, learned.counts,
        )  # fmt: skip


_MEAN_LABOUR = math.exp((USUAL.spread_labour**2 + USUAL.difficulty_labour**2) / 2.0)
_MEAN_MATERIAL = math.exp((USUAL.spread_material**2 + USUAL.difficulty_material**2) / 2.0)


def rounded_use(expected: float, least: float, whole: bool) -> float:
    """Amount really used up, in the unit of `expected`: at least `least`, and whole pieces where it is counted."""
    if whole:
        return float(max(1, math.ceil(expected - 1e-9)))
    return expected if expected > least else least


def with_learned(default: UsageFactor, learned: Learned, met: float | None = None) -> UsageFactor:
    """Factor with what was learned laid over its default. What is counted, not estimated, stays as it is.

    `met` is the default in force when the factor was learned, so that a figure changed later is not applied twice.

    The range keeps the default's lean to one side; `cost_risk.factor_sd` reads the learned sd back from it.
    """
    width = math.log(default.high / default.low)
    if width <= 0:
        return default
    value = (default.value if met is None else met) * learned.used
    wide = 2.0 * quantile(0.95) * learned.sd / USUAL.widen
    below = math.log(default.value / default.low) / width
    return UsageFactor(
        value,
        value * math.exp(-wide * below),
        value * math.exp(wide * (1.0 - below)),
        learned.words,
        learned.spread,
        default,
        learned,
        default.name,
    )


def learned_of(found: Mapping[tuple[str, str], Learned], operation: str, material: str) -> Learned | None:
    """Learning of an operation and material; of the minutes of one never met, that of all of them together."""
    learned = found.get((operation, material))
    return found.get((OTHERS, material)) if learned is None else learned


def planned_now(planned: float, made_of: MadeOf | None, learned: Mapping[tuple[str, str], Learned]) -> float:
    """Amount planned of a material by what is known now, in the unit of the plan: as stored, or made again.

    A plan without `made_of` (counted, or of an older snapshot) stays as it is.
    """
    found = learned.get((made_of.operation, made_of.material)) if made_of else None
    if made_of is None or found is None:
        return planned
    expected = made_of.need * made_of.default * found.used + made_of.cups
    return float(rounded_use(expected, made_of.least, made_of.whole))


FACTOR_UNIT = "1"
FACT_WORDS = {
    "density_kg_m3": "density",
    "areal_weight_g_m2": "weight in g/m²",
    "roll_width_mm": "roll width",
    "free_rise_kg_m3": "free-rise density",
    "tex": "tex (grams in a kilometre)",
    "weight_g": "weight in g",
    "piece_g": "content of one piece in g",
    "piece_ml": "content of one piece in mL",
    "piece_m": "length of one piece in m",
    "piece_m2": "area of one piece in m²",
}

COUNTED = UsageFactor(1.0, 1.0, 1.0, "counted, not estimated")


@cache
def trade_factor(trade: Constant) -> UsageFactor:
    """Trade default of a factor, with its range and source. Raises ValueError unless 0 < low ≤ value ≤ high."""
    return UsageFactor(trade.value, trade.low, trade.high, trade.source, name=trade.name)


def in_stock_unit(unit: str, stock_unit: str, facts: Mapping[str, float]) -> tuple[float, str]:
    """Number of stock units in one of another `unit`, or 0 and the name of the fact that is missing.

    `facts`: density_kg_m3 (g and mL), areal_weight_g_m2 (m2 and g), roll_width_mm (m and m2), tex (m and g), and
    piece_g, piece_ml, piece_m, piece_m2 for what comes by the piece.
    """
    step = _STEPS.get((unit, stock_unit))
    if step is None:
        return 0.0, f"a way from {unit} to {stock_unit}"
    fact, scale, multiply = step
    found = facts.get(fact)
    if not found:
        return 0.0, fact
    return (found / scale if multiply else scale / found), ""


# (from, to) -> (fact, scale, whether to multiply)
_STEPS = {
    ("mL", "g"): ("density_kg_m3", 1000.0, True),
    ("g", "mL"): ("density_kg_m3", 1000.0, False),
    ("m2", "g"): ("areal_weight_g_m2", 1.0, True),
    ("g", "m2"): ("areal_weight_g_m2", 1.0, False),
    ("m", "m2"): ("roll_width_mm", 1000.0, True),
    ("m2", "m"): ("roll_width_mm", 1000.0, False),
    ("m", "g"): ("tex", 1000.0, True),
    ("g", "m"): ("tex", 1000.0, False),
    ("g", "piece"): ("piece_g", 1.0, False),
    ("mL", "piece"): ("piece_ml", 1.0, False),
    ("m", "piece"): ("piece_m", 1.0, False),
    ("m2", "piece"): ("piece_m2", 1.0, False),
}
