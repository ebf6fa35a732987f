"""Structural repairs: buckle, snap with and without stringer, delamination, pressure dents, a waterlogged core."""

from __future__ import annotations

from quotes.costing.recipes.recipe import CoreRecipe, RecipeStep
from quotes.costing.recipes.starting.pieces import CHECKED, PAINT, RINSE, SUN_AND_CURE, act, count, finished, length

_BOARD = (
    length("board_width", "Board width at the break", 200, 800, "rail to rail"),
    length("board_thickness", "Board thickness at the break", 25, 150),
)
NOT_AS_STRONG = "A board that broke is never as strong or as light as it was: go easy on it in heavy waves."


# loose glass comes off 40 mm to each side of the break; a ring of 125 mm to each side is abraded, glassed inside it
_BACK, _RING, _GLASS = 80, 250, 200


def _bands(plies_deck: list[str], plies_bottom: list[str]) -> tuple[RecipeStep, ...]:
    """Steps that lay bands of cloth over deck and bottom and feather them."""
    return (
        act("sand", place="band_coat", times=2, grits=["P80"], title="Sand a ring round the joint"),
        act("laminate", place="band", plies=plies_bottom, overlap_mm=0, title="Glass the bottom band"),
        act(
            "laminate",
            place="band",
            plies=plies_deck,
            overlap_mm=0,
            onto="another face",
            title="Turn, glass the deck band",
        ),
        act("hot-coat", place="band_coat", times=2),
        act("sand", place="band_coat", times=2, grits=["P100", "P180", "P320"], title="Sand the bands flush"),
    )


_BAND_PLACES = {
    "band": {"shape": "band", "board_width": "board_width", "board_thickness": "board_thickness", "width": _GLASS},
    "band_coat": {"shape": "band", "board_width": "board_width", "board_thickness": "board_thickness", "width": _RING},
}


def _snap(key: str, name: str, stringer: float) -> CoreRecipe:
    """Recipe of a snapped board, with a stringer of so many mm, 0 for none."""
    return CoreRecipe(
        key=key,
        name=name,
        version=1,
        about="Jig, dowels, paste, a girth band on both sides, finish.",
        kinds=("snap",),
        measures=(*_BOARD, length("gap", "Gap of missing foam", 2, 25, "between the faces, fitted dry", 5), PAINT),
        places={
            "face": {"shape": "section", "length": "board_width", "width": "board_thickness", "depth": "gap"},
            "loose": {
                "shape": "band",
                "board_width": "board_width",
                "board_thickness": "board_thickness",
                "width": _BACK,
            },
            **_BAND_PLACES,
        },
        acts=(
            act("inspect"),
            act("cut-back", place="loose", times=2, scarf=0, title="Cut loose glass off both faces"),
            act("jig"),
            act("rejoin", face="face", stringer_mm=stringer),
            *_bands(["cloth-4oz", "cloth-4oz", "cloth-4oz"], ["cloth-4oz", "cloth-4oz"]),
            *finished("band_coat", times=2),
        ),
        may_turn_up="Water in both halves, a stringer split further than it shows.",
        release_check=("Rocker and twist with winding sticks", "Joint does not move under a knee", *CHECKED),
        aftercare=(NOT_AS_STRONG, SUN_AND_CURE, RINSE),
    )


_BUCKLE = CoreRecipe(
    key="buckle",
    name="Buckle",
    version=1,
    about="Cut the crease out, fill, a girth band on the creased side and one layer on the other.",
    kinds=("buckle",),
    measures=(
        *_BOARD,
        length("crease_width", "Width of the crease", 5, 120, "along the board, lifted glass with it"),
        length("crease_depth", "Depth of the crease", 1, 40, "of crushed foam"),
        PAINT,
    ),
    places={
        "crease": {"shape": "band", "board_width": "board_width", "board_thickness": "board_thickness",
                   "width": "crease_width", "depth": "crease_depth"},
        **_BAND_PLACES,
    },
    acts=(
        act("inspect"),
        act("jig", minutes=15, title="Jig straight and check the stringer"),
        act("cut-back", place="crease", scarf=20, title="Cut the crease out and bevel"),
        act("fill", place="crease", share=0.18),
        act("level", place="crease"),
        *_bands(["cloth-4oz", "cloth-4oz"], ["cloth-4oz"]),
        *finished("band_coat", times=2),
    ),
    may_turn_up="A broken stringer under the crease: then it is a snap.",
    release_check=("Rocker against a straight-edge", "Crease does not move under a knee", *CHECKED),
    aftercare=(NOT_AS_STRONG, SUN_AND_CURE, RINSE),
)  # fmt: skip

_DELAM = CoreRecipe(
    key="delamination",
    name="Delamination",
    version=1,
    about="Inject and weight down, patch the holes, finish.",
    kinds=("delam",),
    measures=(
        length("length", "Length of the bubble", 20, 600),
        length("width", "Width of the bubble", 20, 400),
        PAINT,
    ),
    places={
        "bubble": {"shape": "ellipse", "length": "length", "width": "width"},
        "coat": {"shape": "grown", "of": "bubble", "by": 30},
    },
    acts=(
        act("inspect", title="Tap out the bubble's edge, check for water"),
        act("inject", place="bubble"),
        act("sand", place="coat", grits=["P80"], title="Abrade over the bubble"),
        act(
            "laminate", place="bubble", plies=["cloth-4oz"], over="glass", overlap_mm=15, title="Patch over the bubble"
        ),
        act("hot-coat", place="coat"),
        act("sand", place="coat", grits=["P100", "P180", "P320"], title="Sand flush"),
        *finished("coat"),
    ),
    may_turn_up="Foam that has gone to dust under the glass: then the skin must come off.",
    release_check=("No hollow sound", *CHECKED),
    aftercare=(
        "Where glass had come loose there is resin under it now: if it clicks when you press it, bring it back.",
        SUN_AND_CURE,
        RINSE,
    ),
)

_DENT = CoreRecipe(
    key="pressure-dent",
    name="Pressure dents filled",
    version=1,
    about="Abrade, fill level, coat, sand.",
    kinds=("dent",),
    measures=(
        count("dents", "Dents", 1, 60, 1),
        length("length", "Length of one", 10, 250),
        length("width", "Width of one", 10, 200),
        length("depth", "Depth of one", 1, 12),
        PAINT,
    ),
    places={
        "dent": {"shape": "ellipse", "length": "length", "width": "width", "depth": "depth"},
        "coat": {"shape": "grown", "of": "dent", "by": 20},
    },
    acts=(
        act("inspect"),
        act("sand", place="coat", times="dents", grits=["P80"], title="Abrade the dents"),
        act("fill", place="dent", times="dents", share=0.2),
        act("sand", place="coat", times="dents", grits=["P100"], title="Fair the filler"),
        act("hot-coat", place="coat", times="dents"),
        act("sand", place="coat", times="dents", grits=["P180", "P320"], title="Sand flush"),
        *finished("coat", times="dents"),
    ),
    may_turn_up="Glass that has come off the foam under a dent.",
    release_check=CHECKED,
    aftercare=(SUN_AND_CURE, RINSE),
)

_WATER = CoreRecipe(
    key="waterlogged",
    name="Waterlogged core",
    version=1,
    about="Open, dry with its weight written down, fill and glass the opening.",
    kinds=("water",),
    measures=(
        length("length", "Length of the opening", 20, 400),
        length("width", "Width of the opening", 20, 250),
        length("depth", "Depth of bad foam", 5, 70),
        PAINT,
    ),
    places={
        "opening": {"shape": "ellipse", "length": "length", "width": "width", "depth": "depth"},
        "patch": {"shape": "grown", "of": "opening", "by": 35},
        "coat": {"shape": "grown", "of": "opening", "by": 60},
    },
    acts=(
        act("inspect", minutes=15, title="Weigh, find where the water came in"),
        act("cut-back", place="opening", title="Open, cut wet foam out"),
        act("dry-out", how_wet="soaked"),
        act("pour-foam", place="opening", foam="foam-56", overfill=0.3),
        act("level", place="opening"),
        act("sand", place="patch", grits=["P80"], title="Abrade the patch area"),
        act("laminate", place="opening", plies=["cloth-6oz", "cloth-4oz"]),
        act("hot-coat", place="coat"),
        act("sand", place="coat", grits=["P100", "P180", "P320"], title="Sand flush"),
        *finished("coat"),
    ),
    may_turn_up="More water than one opening lets out: drying takes as long as it takes.",
    release_check=("Weight steady for two days before it was closed", *CHECKED),
    aftercare=(SUN_AND_CURE, RINSE),
)

RECIPES = (
    _BUCKLE,
    _snap("snap", "Snapped board", 0),
    _snap("snap-stringer", "Snapped board with new stringer", 450),
    _DELAM,
    _DENT,
    _WATER,
)
