"""The last door before a price: an implausible entry goes back to the trade default, and says so."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from quotes.costing.learning.model.layout import Entry
from quotes.costing.learning.model.state import State, at_start, usual_spreads
from quotes.costing.stats.assumptions import USUAL, Assumptions

NOTHING = "What was written down gives no believable figures at all; the trade defaults are used instead."


def plausible(state: State, assume: Assumptions = USUAL) -> State:
    """State with every singular or absurd entry put back to where it started, and a sentence for each.

    Absurd is a variance that is not finite, not above zero or wider than at the start, or a middle further off than
    eight prior standard deviations and a factor of five. Of a counted material what no job used is a share: beyond what
    is believed of one, the counts do not go with the jobs.
    """
    prior = np.array(state.layout.prior_sd)
    variance = np.diag(state.covariance)
    with np.errstate(invalid="ignore"):
        sound = (
            np.isfinite(state.x)
            & np.isfinite(state.covariance).all(axis=1)
            & (variance > 0)
            & (variance <= prior**2 * (1 + 1e-6))
            & (np.abs(state.x) <= np.maximum(8.0 * prior, math.log(5.0)))
        )
    shares = {at: state.layout.middles[at] + float(state.x[at]) for at in _shares(state)}
    for at, share in shares.items():
        sound[at] &= assume.unassigned_low <= share <= assume.unassigned_high
    if sound.all():
        return state
    if not sound.any():
        start = at_start(state.layout, assume)
        return replace(start, jobs=state.jobs, day=state.day, timed_to=state.timed_to, notes=(*state.notes, NOTHING))
    keep = np.outer(sound, sound)
    covariance = np.where(keep, np.nan_to_num(state.covariance), 0.0)
    covariance[~sound, ~sound] = prior[~sound] ** 2
    notes = [
        sentence(entry) + (_by_how_much(shares[at], assume) if at in shares else "")
        for at, (entry, good) in enumerate(zip(state.layout.entries, sound, strict=True))
        if not good
    ]
    return replace(
        state,
        x=np.where(sound, state.x, 0.0),
        covariance=covariance,
        spread=np.where(sound, state.spread, usual_spreads(state.layout, assume)),
        notes=(*state.notes, *notes),
    )


def implausible(state: State) -> tuple[Entry, ...]:
    """Entries that were put back to where they started, in order: those the state has a sentence about."""
    if NOTHING in state.notes:
        return state.layout.entries
    return tuple(
        entry for entry in state.layout.entries if any(note.startswith(sentence(entry)) for note in state.notes)
    )


def _shares(state: State) -> list[int]:
    return [at for at, entry in enumerate(state.layout.entries) if entry[0] == "unassigned"]


def _by_how_much(share: float, assume: Assumptions) -> str:
    if not math.isfinite(share):
        return ""
    more = "more" if share > 0 else "less"
    return (
        f" {abs(share):.0%} {more} left the shelf than the jobs took. Is a count, a delivery or a use wrong or missing? "
        f"Until it is put right {assume.unassigned:.0%} is taken."
    )


def sentence(entry: Entry) -> str:
    """Sentence about an implausible entry; of a share by how much comes behind it."""
    if entry[0] == "unassigned":
        return f"The counts of {entry[1]} do not go with what is known of the jobs."
    return f"What was written down about {_words(entry)} gives no believable figure; the trade default is used instead."


def _words(entry: Entry) -> str:
    """Words for what an entry is about."""
    match entry:
        case ("factor", operation, material):
            return f"{material} for {operation}"
        case ("loss", material):
            return f"{material} left in the cup"
        case ("worker", worker, _):
            return f"worker {worker}"
        case ("pace", _):
            return "how fast the work goes"
        case ("set-up", _):
            return "setting up"
        case _:
            return " ".join(entry[1:])
