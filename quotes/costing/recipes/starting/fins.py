"""Fins: glass-on fins with or without a crushed pocket under them, fin boxes, leash plugs."""

from __future__ import annotations

from quotes.costing.recipes.recipe import CoreRecipe
from quotes.costing.recipes.starting.pieces import CHECKED, PAINT, RINSE, SUN_AND_CURE, act, count, finished, length

_FIN = (
    length("fin_base", "Fin base", 40, 260, "along the board, where the fin meets it"),
    length("fin_height", "Fin height", 40, 280, "from the board to the tip"),
    length("fin_tip", "Fin tip", 0, 160, "width of the fin just below its tip"),
)
_POCKETS = (
    count("pockets", "Pockets to fill", 0, 5, 1, "crushed or empty boxes under the fins; 0 if the glass is sound"),
    length("pocket_length", "Pocket length", 15, 320, "crushed area along the board", when="pockets"),
    length("pocket_width", "Pocket width", 10, 120, "crushed area across the board", when="pockets"),
    length("pocket_depth", "Pocket depth", 5, 60, "to sound foam", when="pockets"),
)


def _glass_on(key: str, name: str, fins: int) -> CoreRecipe:
    """Recipe of glass-on fins, usually `fins` of them, with a filled pocket where the foam is crushed."""
    return CoreRecipe(
        key=key,
        name=name,
        version=1,
        about="Fill what is crushed, glass over it, stand the fin, rope and patch it, finish to a satin.",
        kinds=("fin", "box"),
        measures=(count("fins", "Fins", 1, 5, fins, "fins to glass on"), *_FIN, *_POCKETS, PAINT),
        places={
            "pocket": {"shape": "rectangle", "length": "pocket_length", "width": "pocket_width", "depth": "pocket_depth"},
            "cavity": {"shape": "grown", "of": "pocket", "by": 8},
            "bared": {"shape": "grown", "of": "cavity", "by": 45},
            "patch": {"shape": "grown", "of": "cavity", "by": 60},
            "fin": {"shape": "fin", "base": "fin_base", "height": "fin_height", "tip": "fin_tip"},
            "landing": {"shape": "rectangle", "length": "fin_base", "width": 140},
            "fin_zone": {"shape": "grown", "of": "fin", "by": 25},
        },
        acts=(
            act("inspect"),
            act("rout", when="pockets", place="pocket", times="pockets", margin_mm=8),
            act("pour-foam", when="pockets", place="cavity", times="pockets", foam="foam-64"),
            act("level", when="pockets", place="cavity", times="pockets"),
            act("sand", when="pockets", place="bared", times="pockets", grits=["P100"], title="Sand back to sound glass"),
            act("laminate", when="pockets", place="cavity", times="pockets", plies=["cloth-6oz", "cloth-6oz"],
                title="Laminate over the filled pocket"),
            act("hot-coat", when="pockets", place="patch", times="pockets"),
            act("sand", when="pockets", place="patch", times="pockets", grits=["P100", "P180"], title="Sand the patch flush"),
            act("sand", place="landing", times="fins", grits=["P100"], title="Abrade the landing area and the fin's base"),
            act("set-out", times="fins", tolerance_degrees=0.5),
            act("tack-fin", fin="fin", times="fins"),
            act("rope-fin", fin="fin", times="fins", strands=12, overrun_mm=30),
            act("fin-patches", fin="fin", times="fins", plies=["cloth-6oz"], up=0.5, reach_mm=60),
            act("trim", times="fins"),
            act("hot-coat", place="fin_zone", times="fins", sides="both", title="Hot coat the fin and its foot"),
            act("sand", place="fin_zone", times="fins", sides="both", grits=["P180", "P320"], title="Sand the fin's sides"),
            act("sand-fillet", fin="fin", times="fins", grits=["P100", "P180", "P320"]),
            *finished("fin_zone", times="fins", sides="both"),
        ),
        may_turn_up="Water or rotten foam beside the old box, and old filler under the glass.",
        release_check=("Fin pulled by hand, both ways", "Toe and cant against the other fin", "Fillet even, no white spots", *CHECKED),
        aftercare=(SUN_AND_CURE, "Do not stand the board on its fins.", RINSE),
    )  # fmt: skip


_BOX = CoreRecipe(
    key="fin-box",
    name="Fin box out and new",
    version=1,
    about="Rout the broken box out, set a new one, cap it, grind, try the fin.",
    kinds=("box",),
    measures=(
        count("boxes", "Boxes", 1, 5, 1, "boxes to change"),
        length("pocket_length", "Pocket length", 60, 320, "damaged area along the board; at least the new box"),
        length("pocket_width", "Pocket width", 15, 90, "damaged area across the board; at least the new box"),
        length("pocket_depth", "Pocket depth", 12, 45, "to sound foam; at least the new box"),
        PAINT,
    ),
    places={
        "pocket": {"shape": "box-pocket", "length": "pocket_length", "width": "pocket_width", "depth": "pocket_depth"},
        "cap": {"shape": "grown", "of": "pocket", "by": 30},
        "patch": {"shape": "grown", "of": "pocket", "by": 55},
    },
    acts=(
        act("inspect"),
        act("rout", place="pocket", times="boxes", margin_mm=0, holds="old box", title="Rout the old box out"),
        act("install", pocket="pocket", times="boxes", insert="fin-box", kind="box", title="Set the new box"),
        act("sand", place="cap", times="boxes", grits=["P80"], title="Grind the paste flush, abrade for the cap"),
        act("laminate", place="pocket", times="boxes", plies=["cloth-4oz", "cloth-4oz"], over="glass", overlap_mm=20,
            title="Cap the box"),
        act("hot-coat", place="patch", times="boxes"),
        act("sand", place="patch", times="boxes", grits=["P80", "P120", "P180"], title="Grind the slot open and sand flush"),
        act("try-fit", times="boxes"),
        *finished("patch", times="boxes"),
    ),
    may_turn_up="Water or crushed foam round the old box.",
    release_check=("Fin tried in the box, screws turn", "Tab no deeper than the box", *CHECKED),
    aftercare=(SUN_AND_CURE, RINSE),
)  # fmt: skip

_LEASH = CoreRecipe(
    key="leash-plug",
    name="Leash plug",
    version=1,
    about="Drill, set a plug, grind flush.",
    kinds=("plug",),
    measures=(
        count("plugs", "Plugs", 1, 4, 1),
        length("hole_diameter", "Hole diameter", 24, 60, "torn-out area across; at least the plug"),
        length("hole_depth", "Hole depth", 14, 40, "to sound foam; at least the plug"),
    ),
    places={
        "hole": {"shape": "plug", "diameter": "hole_diameter", "depth": "hole_depth"},
        "cap": {"shape": "grown", "of": "hole", "by": 20},
    },
    acts=(
        act("inspect"),
        act("rout", place="hole", times="plugs", margin_mm=0, tool="hole saw", title="Bore the hole"),
        act("install", pocket="hole", times="plugs", insert="leash-plug", kind="plug", title="Set the plug"),
        act("sand", place="cap", times="plugs", grits=["P80"], title="Grind flush and abrade"),
        act("laminate", place="hole", times="plugs", plies=["cloth-4oz"], over="glass", overlap_mm=20, title="Cap the plug"),
        act("hot-coat", place="cap", times="plugs"),
        *finished("cap", times="plugs", paint=False),
    ),
    may_turn_up="Water under a plug that has leaked.",
    release_check=("Plug pulled by hand", "Bar holds a leash string", *CHECKED),
    aftercare=(SUN_AND_CURE, RINSE),
)  # fmt: skip

RECIPES = (
    _glass_on("glass-on-fin", "Glass-on fin", 1),
    _glass_on("glass-on-twin", "Glass-on twin fins", 2),
    _glass_on("glass-on-three", "Three glass-on fins", 3),
    _BOX,
    _LEASH,
)
