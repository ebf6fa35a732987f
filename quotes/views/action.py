"""Something to press on a page. The pages of a step, a job and a quote say with these what may be done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Action:
    """Something to press and its words: `href` opens a page, `post` is sent to an address with what `also` says, `form`
    sends the form on the page that has this id.

    `heard` are more words that a screen reader says after the others, `mark` is a drawing of `marks.svg` beside them,
    `look` the class. What answers a `post` with a PDF is `by_browser`.
    """

    words: str
    href: str = ""
    post: str = ""
    form: str = ""
    mark: str = ""
    look: str = "go plain"
    heard: str = ""
    by_browser: bool = False
    also: Mapping[str, str] = field(default_factory=dict)
