"""Pages as they are read, however their HTML is laid out in lines."""

from __future__ import annotations

import re

BOXES = (
    "address article aside body br caption dd details div dl dt fieldset figure footer form h1 h2 h3 h4 header legend "
    "li main nav ol option p section summary table tbody td tfoot th thead tr ul"
)
EDGE = re.compile(rf"\s*(</?(?:{'|'.join(BOXES.split())})(?=[\s>])[^>]*>)\s*")


def says(answer) -> str:
    """The HTML of an answer with every run of white space as one space, and none where a box or a tag ends."""
    html = " ".join(answer.content.decode().split())
    return EDGE.sub(r"\1", re.sub(r" >", ">", html))
