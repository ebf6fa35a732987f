"""How fast a shop is and how many boards it usually does together, from a few of its own times or prices.

    ln(typed) − ln(worked out with s and n)  by least squares,  ln s pulled to 0 and ln n to that of the trade

s is one factor on all minutes; n is how many boards meet in a session with resin, and of sanding and spraying half as
many more than one. What a shop says of its own work scatters as one job does. Minutes of a job are linear in what a
board bears of its set-ups, its cost in s, so that three estimates of each job give it for every s and n. It
is a prior for the learning, no log: what the shop's own logs taught about minutes is left out of the fit, and goes
before it in what jobs come to.
Invariant: where what is typed is what the trade's figures give, s is 1 and n is the trade's.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from quotes.costing.basis.constants import CONSTANTS, Constant
from quotes.costing.job.board import CoreDamage
from quotes.costing.job.damage import UNKNOWN_BOARD, estimate
from quotes.costing.job.estimated import Estimate
from quotes.costing.money.pricing import Priced, price
from quotes.costing.operations.cutting import ROUT_MINUTES
from quotes.costing.operations.sanding import SAND_MINUTES
from quotes.costing.parts.inputs import Construction, Pricing, Shop
from quotes.costing.stats.assumptions import USUAL
from quotes.costing.stats.normal import quantile
from quotes.costing.steps.sessions import RESIN_BOARDS, SANDING_BOARDS, SPRAY_BOARDS, share_borne
from quotes.costing.steps.work import MINUTES

LEAST = 3  # jobs; two figures from fewer is a guess
MINUTE_FACTORS = (MINUTES, ROUT_MINUTES, SAND_MINUTES)
CALIBRATED = frozenset(one.name for one in (*MINUTE_FACTORS, RESIN_BOARDS, SANDING_BOARDS, SPRAY_BOARDS))
"""The figures of a shop that a calibration sets, all of them together."""
_RANGE = 2.0 * quantile(0.95)  # width of a 5 to 95 % range in sd
SPEED_SD = math.log(MINUTES.high / MINUTES.low) / _RANGE
BOARDS_SD = math.log(RESIN_BOARDS.high / RESIN_BOARDS.low) / _RANGE
JOB_SD = math.hypot(USUAL.spread_labour, USUAL.difficulty_labour)
STRANGE = 3.0 * math.hypot(JOB_SD, SPEED_SD)  # ln; off by more than a factor of 2.5 from what the others say
_ROUNDS = 60
_STEPS = 120  # of ln n, before the best of them is refined


@dataclass(frozen=True)
class KnownJob:
    """A job that the shop knows: its hands-on minutes, or the price charged today as the customer sees it."""

    damage: CoreDamage
    minutes: float | None = None
    price: float | None = None


class NoCalibration(ValueError):
    """A refusal of what was typed; `key` is the damage's whose figure is wrong, empty for all of it."""

    def __init__(self, sentence: str, key: str = "") -> None:
        super().__init__(sentence)
        self.key = key


class KnownJobRow(NamedTuple):
    """A known job with its calibrated figures: minutes and price as typed, and as worked out afterwards."""

    key: str
    name: str
    typed_minutes: float | None
    typed_price: float | None
    minutes: float
    priced: Priced


@dataclass(frozen=True)
class Calibration:
    """Calibration of a shop: `speed` is its minutes over the trade's, `boards` the number that usually meet with resin.

    Both with their 5 to 95 % range. `rows` are the jobs typed in, `others` what every other job comes to; one that can
    not be worked out is left out of these. `constants` are the figures to lay over the shop's own, by name (value, low,
    high), to two places. `strange` has by key what the others would make of a job (minutes, or the price) that fits
    them not at all, the strangest first.
    """

    speed: float
    speed_low: float
    speed_high: float
    boards: float
    boards_low: float
    boards_high: float
    rows: tuple[KnownJobRow, ...]
    others: tuple[KnownJobRow, ...]
    constants: Mapping[str, tuple[float, float, float]]
    strange: Mapping[str, float]


class Linear(NamedTuple):
    """Minutes of a job as a linear sum: a part that no board shares, and its set-ups alone on the bench, by session.

    `stuff` is its cost without hands and `minute` that of a hands-on minute, in currency; `to_price` is the factor from
    its cost to a price before minimum and price step.
    """

    own: float
    resin: float
    bench: float  # cut back, sanding, spraying
    stuff: float
    minute: float
    to_price: float

    def minutes(self, resin_share: float, bench_share: float) -> float:
        """Hands-on minutes at the trade's speed, when a board bears these shares of its set-ups."""
        return self.own + self.resin * resin_share + self.bench * bench_share


def calibrate(
    known: Sequence[KnownJob], shop: Shop, *, board: Construction = UNKNOWN_BOARD, others: Sequence[CoreDamage] = ()
) -> Calibration:
    """Calibration from three or more known jobs, with what these and `others` then come to.

    Raises NoCalibration with a sentence for fewer, for one without or with both of minutes and price, one that is not
    above zero, a price that does not hold the material, and one that cannot be worked out.
    """
    _check(known)
    trade = _plain(shop)
    jobs = [_linear(one.damage, trade, board) for one in known]
    for one, job in zip(known, jobs, strict=True):
        _check_price(one, job)
    u, v = least_squares(known, jobs, trade)
    speed, boards = math.exp(u), math.exp(v)
    wide = _wide(known, jobs, trade, u, v)
    constants = _constants(speed, boards, *wide)
    told = replace(shop, constants={**shop.constants, **constants}, alone=False)
    rows = tuple(_row(one.damage, told, board, one) for one in known)
    near = math.exp(wide[0] * _RANGE / 2)
    return Calibration(
        speed, speed / near, speed * near, boards, *constants[RESIN_BOARDS.name][1:], rows,
        tuple(row for one in others if (row := _row_or_none(one, told, board))), constants,
        _strange(known, jobs, trade, v),
    )  # fmt: skip


def _check(known: Sequence[KnownJob]) -> None:
    """Check of the known jobs. Raises NoCalibration with a sentence for the first that cannot be used."""
    if len(known) < LEAST:
        raise NoCalibration(f"Say three or more of what you know of your own work; {len(known)} is too few.")
    for one in known:
        typed = [value for value in (one.minutes, one.price) if value is not None]
        if len(typed) != 1:
            raise NoCalibration(f"{one.damage.name}: say either its minutes or its price.", one.damage.key)
        if not 0 < typed[0] < math.inf:
            raise NoCalibration(f"{one.damage.name}: what you type must be above zero.", one.damage.key)


def _check_price(one: KnownJob, job: Linear) -> None:
    least = job.stuff * job.to_price
    if one.price is not None and one.price <= least:
        raise NoCalibration(
            f"{one.damage.name}: a price of {one.price:g} does not pay for what it uses up, which comes to {least:.2f} "
            "in the price before a minute of work.",
            one.damage.key,
        )


def _strange(known: Sequence[KnownJob], jobs: Sequence[Linear], shop: Shop, v: float) -> dict[str, float]:
    """By key what the other jobs say of one that is far from it, the farthest first."""
    found = []
    for at, (one, job) in enumerate(zip(known, jobs, strict=True)):
        rest = [*known[:at], *known[at + 1 :]], [*jobs[:at], *jobs[at + 1 :]]
        said = worked_out(one, job, shop, _best_speed(*rest, shop, v), v)
        found.append((abs(math.log(_typed(one) / said)), one.damage.key, said))
    return {key: said for off, key, said in sorted(found, reverse=True) if off > STRANGE}


def bench_boards(resin: float) -> float:
    """Number of boards sanded or sprayed together where `resin` boards meet with resin: (1 + resin)/2, 3 → 2, 1 → 1."""
    return 1.0 + (resin - 1.0) / 2.0


def _plain(shop: Shop) -> Shop:
    """The shop at the trade's speed and boards, its prices before minimum and price step, no minutes learned."""
    taught = {cell: one for cell, one in shop.learned.items() if cell[1] != "minutes"}
    own = {name: figure for name, figure in shop.constants.items() if name not in CALIBRATED}
    pricing = replace(shop.pricing, minimum=0.0, step=0.0)
    return replace(shop, constants=own, learned=taught, alone=False, pricing=pricing)


def _linear(damage: CoreDamage, shop: Shop, board: Construction) -> Linear:
    """Job as a linear sum, from three estimates: all set-ups alone, only those with resin shared, only the others."""
    alone = _estimate(damage, replace(shop, alone=True), board)
    shared = {name: _estimate(damage, _with(shop, *boards), board) for name, boards in _SPLIT.items()}
    a, resin, bench = (one.minutes for one in (alone, shared["resin"], shared["bench"]))
    share = share_borne(shop, 2.0)
    of_resin, of_bench = (a - resin) / (1.0 - share), (a - bench) / (1.0 - share)
    rate = (shop.wage_per_hour + shop.overhead_per_hour) / 60.0 * (alone.expected_minutes / a if a else 1.0)
    stuff = alone.cost_unrounded - a * rate
    return Linear(a - of_resin - of_bench, of_resin, of_bench, stuff, rate, _to_price(shop.pricing))


_SPLIT = {"resin": (2.0, 1.0), "bench": (1.0, 2.0)}


def _with(shop: Shop, resin: float, bench: float) -> Shop:
    own = {RESIN_BOARDS: resin, SANDING_BOARDS: bench, SPRAY_BOARDS: bench}
    return replace(shop, constants={**shop.constants, **{one.name: (n, n, n) for one, n in own.items()}})


def _estimate(damage: CoreDamage, shop: Shop, board: Construction) -> Estimate:
    found = estimate(damage.recipe, damage.measures, shop, board=board, accepted_odd=damage.accepted_odd)
    if found.priced is None:
        raise NoCalibration(f"{damage.name}: {found.problems[0].text}", damage.key)
    return found


def _to_price(pricing: Pricing) -> float:
    """The price as the customer sees it over its cost, before minimum and price step."""
    return float(price(1e6, pricing).shown) / 1e6


def worked_out(one: KnownJob, job: Linear, shop: Shop, u: float, v: float) -> float:
    """Minutes or price (in currency) of a job, whichever was typed, worked out with ln s = u and ln n = v."""
    n = math.exp(v)
    minutes = job.minutes(share_borne(shop, n), share_borne(shop, bench_boards(n))) * math.exp(u)
    return minutes if one.price is None else (job.stuff + minutes * job.minute) * job.to_price


def misfit(known: Sequence[KnownJob], jobs: Sequence[Linear], shop: Shop, u: float, v: float) -> float:
    """Sum of squares that is made least, at ln s = u and ln n = v; a number without unit."""
    pulled = (u / SPEED_SD) ** 2 + ((v - math.log(RESIN_BOARDS.value)) / BOARDS_SD) ** 2
    off = (
        math.log(_typed(one)) - math.log(worked_out(one, job, shop, u, v)) for one, job in zip(known, jobs, strict=True)
    )
    return pulled + math.fsum((one / JOB_SD) ** 2 for one in off)


def _typed(one: KnownJob) -> float:
    return float(one.minutes if one.price is None else one.price)  # type: ignore[arg-type]


def least_squares(known: Sequence[KnownJob], jobs: Sequence[Linear], shop: Shop) -> tuple[float, float]:
    """Logarithms ln s and ln n with the least misfit; n between 1 and the most of its range.

    For each n the best s by Gauss–Newton; the best n of a row of them, refined between its neighbours.
    """
    most = math.log(RESIN_BOARDS.high)

    def of(v: float) -> float:
        return misfit(known, jobs, shop, _best_speed(known, jobs, shop, v), v)

    row = [most * step / _STEPS for step in range(_STEPS + 1)]
    best = min(range(len(row)), key=lambda at: of(row[at]))
    v = _least(of, row[max(0, best - 1)], row[min(_STEPS, best + 1)])
    return _best_speed(known, jobs, shop, v), v


def _best_speed(known: Sequence[KnownJob], jobs: Sequence[Linear], shop: Shop, v: float) -> float:
    """Value of ln s with the least misfit at ln n = v, by Gauss–Newton."""
    u = 0.0
    for _ in range(_ROUNDS):
        slope, curve = u / SPEED_SD**2, 1.0 / SPEED_SD**2
        for one, job in zip(known, jobs, strict=True):
            said = worked_out(one, job, shop, u, v)
            by_hand = 1.0 if one.price is None else 1.0 - job.stuff * job.to_price / said  # d ln / du
            slope -= (math.log(_typed(one)) - math.log(said)) * by_hand / JOB_SD**2
            curve += by_hand**2 / JOB_SD**2
        step = slope / curve
        u -= max(-1.0, min(1.0, step))
        if abs(step) < 1e-12:
            break
    return u


def _least(of: Callable[[float], float], low: float, high: float) -> float:
    """Argument between two ends at which a function with one low point is least, by the golden section."""
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    a, b = low, high
    for _ in range(_ROUNDS):
        one, two = b - golden * (b - a), a + golden * (b - a)
        if of(one) < of(two):
            b = two
        else:
            a = one
    return (a + b) / 2.0


def _wide(known: Sequence[KnownJob], jobs: Sequence[Linear], shop: Shop, u: float, v: float) -> tuple[float, float]:
    """Sd of ln s and of ln n, from the curvature of the misfit by differences; no wider than the trade's ranges."""
    h = 1e-3

    def at(du: float, dv: float) -> float:
        return misfit(known, jobs, shop, u + du * h, v + dv * h) / 2.0

    uu = (at(1, 0) - 2 * at(0, 0) + at(-1, 0)) / h**2
    vv = (at(0, 1) - 2 * at(0, 0) + at(0, -1)) / h**2
    uv = (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / (4 * h**2)
    whole = uu * vv - uv**2
    if whole <= 0:
        return SPEED_SD, BOARDS_SD
    return min(SPEED_SD, math.sqrt(vv / whole)), min(BOARDS_SD, math.sqrt(uu / whole))


def _constants(speed: float, boards: float, speed_sd: float, boards_sd: float) -> dict[str, tuple[float, float, float]]:
    """Figures to lay over the shop's own; every minute factor keeps the trade's value, times the speed."""
    near = math.exp(speed_sd * _RANGE / 2)
    found = {}
    for one in MINUTE_FACTORS:
        value = CONSTANTS[one.name].value * speed
        found[one.name] = _rounded(value, value / near, value * near)
    many = math.exp(boards_sd * _RANGE / 2)
    low, high = max(1.0, boards / many), max(boards, min(boards * many, RESIN_BOARDS.high))
    for constant, of in _BOARDS_OF:
        found[constant.name] = _rounded(of(boards), of(low), of(high))
    return found


def _rounded(*figures: float) -> tuple[float, float, float]:
    """Value, low and high as the shop's own figures hold them: two places, never nothing."""
    value, low, high = (max(0.01, round(one, 2)) for one in figures)
    return value, low, high


_BOARDS_OF: tuple[tuple[Constant, Callable[[float], float]], ...] = (
    (RESIN_BOARDS, lambda n: n), (SANDING_BOARDS, bench_boards), (SPRAY_BOARDS, bench_boards),
)  # fmt: skip


def _row(damage: CoreDamage, shop: Shop, board: Construction, typed: KnownJob | None = None) -> KnownJobRow:
    found = _estimate(damage, shop, board)
    said = (typed.minutes, typed.price) if typed else (None, None)
    assert found.priced is not None
    return KnownJobRow(damage.key, damage.name, *said, found.minutes, found.priced)


def _row_or_none(damage: CoreDamage, shop: Shop, board: Construction) -> KnownJobRow | None:
    try:
        return _row(damage, shop, board)
    except NoCalibration:
        return None
