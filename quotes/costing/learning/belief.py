"""The last door before a price: what cannot be believed goes back to the trade default, and says so."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from quotes.costing.learning.assumptions import USUAL, Assumptions
from quotes.costing.learning.layout import Entry
from quotes.costing.learning.state import State, at_start, usual_spreads

NOTHING = "What was written down gives no believable figures at all; the trade defaults are used instead."


def believed(state: State, assume: Assumptions = USUAL) -> State:
    """The state with every singular or absurd entry put back to where it started, and a sentence for each.

    Absurd is a variance that is not finite, not above zero or wider than at the start, or a middle further off than
    eight prior standard deviations and a factor of five.
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
    if sound.all():
        return state
    if not sound.any():
        start = at_start(state.layout, assume)
        return replace(start, jobs=state.jobs, day=state.day, timed_to=state.timed_to, notes=(*state.notes, NOTHING))
    keep = np.outer(sound, sound)
    covariance = np.where(keep, np.nan_to_num(state.covariance), 0.0)
    covariance[~sound, ~sound] = prior[~sound] ** 2
    notes = [sentence(entry) for entry, good in zip(state.layout.entries, sound, strict=True) if not good]
    return replace(
        state,
        x=np.where(sound, state.x, 0.0),
        covariance=covariance,
        spread=np.where(sound, state.spread, usual_spreads(state.layout, assume)),
        notes=(*state.notes, *notes),
    )


def unbelieved(state: State) -> tuple[Entry, ...]:
    """The entries that were put back to where they started, in order: those the state has a sentence about."""
    if NOTHING in state.notes:
        return state.layout.entries
    return tuple(entry for entry in state.layout.entries if sentence(entry) in state.notes)


def sentence(entry: Entry) -> str:
    """What is said of an entry that is not believed."""
    return f"What was written down about {_words(entry)} gives no believable figure; the trade default is used instead."


def _words(entry: Entry) -> str:
    match entry:
        case ("factor", operation, material):
            return f"{material} for {operation}"
        case ("loss", material):
            return f"{material} left in the cup"
        case ("unassigned", material):
            return f"{material} that no job used"
        case ("worker", worker, _):
            return f"worker {worker}"
        case _:
            return " ".join(entry[1:])
