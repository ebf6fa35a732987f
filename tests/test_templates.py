"""Templates are written to be read: short lines, and one box of a page a line."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

HOUSE = Path(__file__).resolve().parent.parent
TEMPLATES = sorted(file for kind in ("html", "svg", "css") for file in (HOUSE / "templates").rglob(f"*.{kind}"))
LONGEST = 120
BOXES = (
    "address article aside blockquote body caption dd details div dl dt fieldset figure footer form h1 h2 h3 h4 head "
    "header html legend li main nav ol p section summary table tbody td tfoot th thead tr ul"
)
OPENS = re.compile(rf"<(?:{'|'.join(BOXES.split())})(?=[\s>{{])")


def hard_to_review(text: str) -> list[str]:
    """The lines that a change would hide in: too long, or with more than one box opened."""
    return [line for line in text.splitlines() if len(line) > LONGEST or len(OPENS.findall(line)) > 1]


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda file: str(file.relative_to(HOUSE / "templates")))
def test_a_template_can_be_reviewed(template):
    assert hard_to_review(template.read_text()) == []


CRISPY = {f"shed/{name}.html" for name in ("uni_form", "whole_uni_form")} | {
    f"shed/layout/{name}.html" for name in ("baseinput", "buttonholder", "fieldset", "row")
}  # asked for by the pack's name, by `{% crispy form %}`, `form|crispy` and the layouts of our forms
BY_STATUS = {"403.html", "404.html", "413.html"}  # shop/views/errors.py


def test_every_template_is_reached():
    """By a page, a view, a tag or a form: what nothing names is not kept."""
    sources = [*TEMPLATES, *(file for room in ("shop", "inventory", "quotes") for file in (HOUSE / room).rglob("*.py"))]
    texts = {file: file.read_text() for file in sources}
    names = {file: str(file.relative_to(HOUSE / "templates")) for file in TEMPLATES}
    unnamed = {name for at, name in names.items() if not any(name in text for by, text in texts.items() if by != at)}
    assert unnamed == CRISPY | BY_STATUS


def test_what_can_not_be_reviewed_is_found():
    assert hard_to_review('<ul class="lines"><li>two boxes</li></ul>')
    assert hard_to_review("<p>" + "a" * LONGEST + "</p>")
    assert not hard_to_review('<p class="hint">One <b>box</b>, <a href="/">what stands in its line</a></p>\n<pre>')
    assert len(TEMPLATES) > 200
