"""What holds for everything that a page offers to press."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable
from pathlib import Path

from django.conf import settings

from quotes.views.action import Action


@functools.cache
def drawn() -> set[str]:
    marks = Path(settings.BASE_DIR) / "shop/static/shop/marks.svg"
    return set(re.findall(r'<symbol id="([a-z]+)"', marks.read_text()))


def sound(action: Action) -> bool:
    """It goes to one place, and its mark is drawn."""
    return sum(map(bool, (action.href, action.post, action.form))) == 1 and (not action.mark or action.mark in drawn())


def words(actions: Iterable[Action]) -> list[str]:
    return [action.words for action in actions]


def loud(actions: Iterable[Action]) -> list[Action]:
    """The buttons that a page says first."""
    return [action for action in actions if action.look == "go"]
