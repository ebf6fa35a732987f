"""What lies on what in a recipe: no coat on a waxed one before it is sanded, no coarse paper on a thin clear.

Looked for once in a recipe (`meetings_of`): pairs of steps that meet unless another step, which the measures may leave
out, comes between. `CoreRecipe` says so while it is written, an estimate only of the steps that its measures leave in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from quotes.costing.basis.constants import practice
from quotes.costing.operations import REGISTRY
from quotes.costing.operations.painting import SprayClear
from quotes.costing.operations.sanding import BY_WORD
from quotes.costing.snapshot import Problem, Remedy

CLEAR_THIN = practice("clear_thin_um", 80, 60, 120, "µm", "dry clear, all coats, below which it is sanded from P800 up")
FINE = BY_WORD["P800"].micron.value


class LaidStep(NamedTuple):
    """A recipe step as it is looked at here; `when` names the measure that leaves it out."""

    operation: str
    settings: Mapping[str, Any]
    when: str


class Meeting(NamedTuple):
    """Two steps that must not meet, by their number in the recipe, and those that part them where they are done.

    `below` has several where all of them lie under the one above, like two clears.
    """

    below: tuple[int, ...]
    above: int
    apart: tuple[int, ...]
    coarse: tuple[str, ...] = ()  # grits that are too coarse; none where a coat goes onto a waxed one


def meetings_of(acts: Sequence[LaidStep]) -> tuple[Meeting, ...]:
    """Pairs of steps of a recipe that may meet and must not, numbered from 1."""
    found: list[Meeting] = []
    for above, act in enumerate(acts):
        operation = REGISTRY[act.operation]
        if operation.bonds and act.settings.get("onto") != "another face":
            found += _onto_waxed(acts, above)
        coarse = tuple(word for word in act.settings.get("grits") or () if BY_WORD[word].micron.value > FINE)
        if coarse:
            found += _onto_clear(acts, above, coarse)
    return tuple(found)


def _onto_waxed(acts: Sequence[LaidStep], above: int) -> list[Meeting]:
    """Coats that must be sanded first and that a step may lie on, with what may come between."""
    found: list[Meeting] = []
    apart: list[int] = []
    for below in range(above - 1, -1, -1):
        operation, when = REGISTRY[acts[below].operation], acts[below].when
        always = when in ("", acts[above].when)
        if operation.sand_first and when not in {acts[at].when for at in apart}:
            found.append(Meeting((below + 1,), above + 1, tuple(at + 1 for at in apart)))
        if operation.bonds or operation.meets == "cut":
            if always:
                break
            apart.append(below)
    return found


def _onto_clear(acts: Sequence[LaidStep], above: int, coarse: tuple[str, ...]) -> list[Meeting]:
    """Clears that a step may sand, with the coats that may come between."""
    clears: list[int] = []
    apart: list[int] = []
    for below in range(above - 1, -1, -1):
        operation, when = REGISTRY[acts[below].operation], acts[below].when
        if operation.key == SprayClear.key:
            clears.append(below + 1)
        elif operation.bonds:
            if when in ("", acts[above].when):
                break
            apart.append(below + 1)
    return [Meeting(tuple(clears), above + 1, tuple(apart), coarse)] if clears else []


def wrong_meetings(
    meetings: Sequence[Meeting],
    acts: Sequence[LaidStep],
    there: Callable[[int], bool],
    film_um: Callable[[int], float],
    thin_um: float,
) -> list[Problem]:
    """Problem for each pair of steps that meets.

    `there` says whether a step is done and `film_um` its dry film of all coats, both by the step's number; `thin_um` is
    the film below which a clear is thin. Films in µm.
    """
    found = []
    for one in meetings:
        below = [number for number in one.below if there(number)]
        if not below or not there(one.above) or any(there(number) for number in one.apart):
            continue
        operation = acts[one.above - 1].operation
        step = f"Step {one.above} ({REGISTRY[operation].name})"
        if not one.coarse:
            coat = REGISTRY[acts[below[0] - 1].operation].name.lower()
            text = (f"{step} goes onto the {coat} of step {below[0]}, on which nothing bonds before it is sanded: "
                    "put a sanding step between them (P120, all over, dust off).")  # fmt: skip
            found.append(Problem(operation, "place", text, Remedy("setting", "place", one.above)))
            continue
        film = sum(film_um(number) for number in below)
        if 0 < film < thin_um:
            text = (f"{step} takes {' and '.join(one.coarse)} to a clear of {film:.0f} µm, which goes through: a clear of "
                    f"less than {thin_um:g} µm is wet-sanded from P800 up. Put such a step behind the clear, left out "
                    "where nothing is cleared, and this one before the paint.")  # fmt: skip
            found.append(Problem(operation, "grits", text, Remedy("setting", "grits", one.above)))
    return found
