"""Every constant the learning stands on, with unit, value and where it comes from.

All of them are common practice, no source, tried on simulated shops; a test or a study may lay others over them.
"""

from __future__ import annotations

from dataclasses import dataclass

MINUTES = "minutes"  # labour is one of the materials


@dataclass(frozen=True, slots=True)
class Assumptions:
    """Constants of the model. Standard deviations (sd) are of logarithms unless a unit is given."""

    widen: float = 1.15  # × the sd read from a trade range; 1 to 1.3; trade ranges are over-confident
    least_prior_sd: float = 0.005  # of whole pieces; a range of no width would forbid learning
    range_trust: float = 20.0  # figures that a shop's own distance from the trade is weighed against
    # usual sd of a step's use from job to job; with the job's difficulty below, one log scatters by 0.18 and 0.24. On
    # top of the difficulty 0.18 and 0.24 held too often (sd 0.94 of what was foretold; these 0.97; own simulator, from
    # 30 000)
    spread_material: float = 0.173
    spread_labour: float = 0.218  # the same for minutes
    spread_trust: float = 8.0  # jobs that the usual spread counts for against a cell's own
    # prior sd below which whole pieces scatter no more from job to job than their range is wide; of all else the least
    narrow: float = 0.05
    widest: float = 2.5  # × the usual spread, up or down: a cell is not believed to scatter more, or less
    difficulty_material: float = 0.05  # sd of what all materials of one job have in common
    difficulty_labour: float = 0.10  # the same for its minutes
    cup_spread: float = 0.35  # sd of one cup's loss
    extra_mix: float = 0.10  # chance that a step takes one more mix than planned
    extra_mix_trust: float = 20.0  # steps that this chance counts for
    unassigned: float = 0.03  # share of what leaves the shelf that no job used
    unassigned_sd: float = 0.03  # sd of that share
    unassigned_low: float = -0.10  # the least that is believed of it: a count, a use or a delivery may be a little off
    unassigned_high: float = 0.20  # and the most
    # where set-ups are told apart from what goes by size: sd of how fast the shop is at all that it does, which its
    # operations then have in common (it is no more than half of each one's variance)
    pace: float = 0.10
    set_up: float = 0.4  # and that of its set-ups beside what goes by size
    worker_labour: float = 0.15  # sd of an extra worker's minutes against the first worker's
    worker_material: float = 0.075  # the same for materials
    brand: float = 0.15  # sd of a new brand against the first
    slack: float = 0.02  # sd of what left the shelf, or of a total of hours, as a share of it
    count_error: float = 0.01  # sd of a count, as a share of what is on the shelf
    half_life_days: float = 365.0  # after which a log or count weighs half
    soft: float = 2.5  # |z| up to which a log or count has its full weight
    doubtful: float = 3.5  # |z| beyond which a log is shown to the repairer
    log_cut: float = 4.5  # |z| beyond which a log weighs nothing
    count_cut: float = 5.0  # the same for a count or a total of hours
    rounds: int = 12  # Gauss–Newton rounds at most
    step: float = 0.7  # largest move of one entry in one round
    minutes_step: float = 5.0  # minutes; what a timed step is rounded to where most logs are multiples of it


USUAL = Assumptions()
