"""Finish only: a whole board glossed again, a painted area made good."""

from __future__ import annotations

from quotes.costing.recipes.recipe import CoreRecipe
from quotes.costing.recipes.starting.pieces import CHECKED, RINSE, SUN_AND_CURE, act, length

_REGLOSS = CoreRecipe(
    key="re-gloss",
    name="Full-board re-gloss",
    version=1,
    about="Sand both sides, gloss coat one after the other, wet sand, polish.",
    kinds=("paint",),
    measures=(length("board_length", "Board length", 1200, 3700), length("board_width", "Board width", 380, 800)),
    places={"face": {"shape": "deck", "length": "board_length", "width": "board_width"}},
    acts=(
        act("inspect", minutes=15),
        act("sand", place="face", times=2, grits=["P320"], title="Sand both sides dull"),
        act("mask", place="face", times=2),
        act("gloss-coat", place="face", title="Gloss the bottom"),
        act("gloss-coat", place="face", onto="another face", title="Turn, gloss the deck",
            note="Abrade any run-over on the rail first: the first side is waxed or hard."),
        act("sand", place="face", times=2, grits=["P600", "P1200"], title="Wet sand both sides"),
        act("polish", place="face", times=2, passes=2),
        act("release"),
    ),
    may_turn_up="Old dings that show once the board is dull.",
    release_check=CHECKED,
    aftercare=(SUN_AND_CURE, RINSE),
)  # fmt: skip

_PAINT = CoreRecipe(
    key="paint-repair",
    name="Paint made good",
    version=1,
    about="Rub down, mask, colour, clear, blend.",
    kinds=("paint",),
    measures=(length("length", "Length", 20, 2000), length("width", "Width", 20, 700)),
    places={
        "spot": {"shape": "ellipse", "length": "length", "width": "width"},
        "zone": {"shape": "grown", "of": "spot", "by": 40},
    },
    acts=(
        act("inspect"),
        act("sand", place="zone", grits=["P320", "P400"], title="Rub the old paint down"),
        act("mask", place="zone", band_mm=250),
        act("match-colour", match="close"),
        act("spray-colour", place="spot", coats=3),
        act("sand", place="zone", grits=["P800"], title="Knock the paint edges down"),
        act("spray-clear", place="zone"),
        act("sand", place="zone", grits=["P800", "P1200"], title="Wet sand the clear"),
        act("polish", place="zone", passes=2),
        act("release"),
    ),
    may_turn_up="Old paint that lifts under the tape.",
    release_check=CHECKED,
    aftercare=("A faded board never matches fully; the colours come closer with use.", SUN_AND_CURE),
)

RECIPES = (_REGLOSS, _PAINT)
