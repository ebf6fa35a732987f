"""The look's tokens keep their contrast, and neither sheet nor script outgrows its budget.

Ratios: Web Content Accessibility Guidelines (WCAG) 2.2, W3C Recommendation, definitions of "relative luminance" and
"contrast ratio"; floors from success criteria 1.4.3 (text 4.5:1), 1.4.6 (enhanced 7:1) and 1.4.11 (non-text 3:1).
The formula is written here from memory of that text.
"""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import pytest
from django.conf import settings

STATIC = Path(settings.BASE_DIR) / "shop" / "static" / "shop"
CSS = (STATIC / "shed.css").read_text()
TOKENS = dict(re.findall(r"--([a-z-]+):\s*(#[0-9A-Fa-f]{6})\b", CSS))


def luminance(colour: str) -> float:
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(TOKENS[one]), luminance(TOKENS[other])), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_what_the_guidelines_say_about_black_on_white():
    TOKENS.update({"_black": "#000000", "_white": "#FFFFFF"})
    assert contrast("_black", "_white") == pytest.approx(21)


ENHANCED, TEXT, SHAPE = 7.0, 4.5, 3.0
GROUNDS = ["foam", "sheet", "cloth", "tint"]
FLOORS = {  # what is seen on what, at least how clearly
    ("ink", ENHANCED): [*GROUNDS, "warp", "weft", "amber", "amber-tint", "alarm-tint"],
    ("pencil", ENHANCED): ["foam", "sheet"],
    ("pencil", TEXT): [*GROUNDS, "amber-tint", "alarm-tint"],
    ("resin", TEXT): GROUNDS,
    ("sheet", TEXT): ["resin", "alarm"],
    ("sheet", ENHANCED): ["resin-deep", "ink"],
    ("amber-ink", ENHANCED): ["foam", "sheet"],
    ("amber-ink", TEXT): ["amber", "tint", "amber-tint"],
    ("cure", TEXT): ["foam", "sheet", "tint"],
    ("alarm", TEXT): ["foam", "sheet", "tint", "alarm-tint"],
    ("weave", SHAPE): GROUNDS,
    ("stringer", SHAPE): GROUNDS,
    ("amber", SHAPE): ["resin", "resin-deep", "ink"],
}
PAIRS = [(front, ground, floor) for (front, floor), grounds in FLOORS.items() for ground in grounds]


@pytest.mark.parametrize(("front", "ground", "floor"), PAIRS)
def test_what_must_be_read_can_be_read(front, ground, floor):
    assert contrast(front, ground) >= floor


def test_figures_worked_out_for_the_look_still_hold():
    # our own table of the look, one decimal
    assert round(contrast("ink", "foam"), 1) == 13.9
    assert round(contrast("resin", "foam"), 1) == 6.5
    assert round(contrast("weave", "foam"), 1) == 3.8
    assert round(contrast("amber", "ink"), 1) == 9.0


def test_the_weave_stays_a_whisper():
    # at most four per cent between its threads and the cloth, so that words on the band stay calm
    assert max(contrast("warp", "cloth"), contrast("weft", "cloth"), contrast("warp", "weft")) <= 1.08


def test_no_colour_is_written_outside_the_token_block():
    begin, end = CSS.index("@layer tokens {"), CSS.index("@layer ground {")
    rest = CSS[:begin] + CSS[end:]
    assert not re.search(r"#[0-9A-Fa-f]{3,8}\b|\b(?:rgb|rgba|hsl|hsla|oklch|color-mix)\(", rest)
    assert not re.search(r":\s*[^;{}]*\b(?:white|black|gray|grey|silver|red|green|blue|gold|brown)\b", rest)


def test_every_token_used_is_defined_and_every_colour_defined_is_used():
    defined = set(re.findall(r"(--[a-z0-9-]+)\s*:", CSS))
    used = set(re.findall(r"var\((--[a-z0-9-]+)", CSS))
    assert used <= defined
    assert {f"--{name}" for name in TOKENS if not name.startswith("_")} <= used


def test_the_band_of_a_phone_has_the_cloths_colour():
    base = (Path(settings.BASE_DIR) / "templates" / "base.html").read_text()
    assert f'<meta name="theme-color" content="{TOKENS["cloth"]}">' in base


def test_amber_is_never_the_colour_of_words():
    assert not re.search(r"(?<![-\w])color:\s*var\(--amber\)", CSS)


@pytest.mark.parametrize(("name", "most"), [("shed.css", 8_000), ("shed.js", 2_500), ("marks.svg", 1_000)])
def test_what_every_page_loads_stays_small_over_the_wire(name, most):
    # bytes as served: collectstatic packs each file once, and no browser of today refuses gzip
    assert len(gzip.compress((STATIC / name).read_bytes(), 9)) <= most


@pytest.mark.parametrize("name", ["shed.css", "takein.css", "shed.js", "photos.js"])
def test_sheets_and_scripts_are_written_to_be_read(name):
    lines = (STATIC / name).read_text().splitlines()
    assert [line for line in lines if len(line) > 120] == []
    if name.endswith(".css"):
        assert [line for line in lines if re.search(r"}\s*[^}\s]", line)] == [], "one rule a line"


def test_nothing_is_fetched_from_elsewhere_and_nothing_waits_for_a_hover_or_a_drag():
    assert "@import" not in CSS
    assert "url(" not in CSS
    script = (STATIC / "shed.js").read_text()
    assert "http" not in script.replace("htmx", "")
    for gesture in ("mouseover", "mouseenter", "dragstart", "touchmove", "contextmenu", "dblclick"):
        assert gesture not in script
    assert "eval(" not in script
    assert "innerHTML" not in script


def test_bench_targets_are_made_for_gloves():
    sizes = dict(re.findall(r"--(hit[a-z-]*):\s*(\d+)px", CSS.split("@layer ground")[0]))
    assert int(sizes["hit"]) >= 48
    assert int(sizes["hit-bench"]) >= 64
    assert int(sizes["hit-main"]) >= 72


def test_every_mark_a_template_asks_for_is_drawn():
    drawn = set(re.findall(r'<symbol id="([a-z]+)"', (STATIC / "marks.svg").read_text()))
    asked = set()
    for template in (Path(settings.BASE_DIR) / "templates").rglob("*.html"):
        asked |= set(re.findall(r'{% mark "([a-z]+)" %}', template.read_text()))
    assert 10 <= len(drawn) <= 15
    assert asked <= drawn
