"""How figures are said in words."""

from __future__ import annotations

import pytest

from shop.text.formats import in_ten


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "less than 1 in 10"),
        (0.049, "less than 1 in 10"),
        (0.05, "1 in 10"),
        (0.31, "3 in 10"),
        (0.499, "4 in 10"),  # below even is not called even
        (0.5, "even"),
        (0.54, "even"),
        (0.55, "6 in 10"),
        (0.75, "8 in 10"),
        (0.949, "9 in 10"),
        (0.95, "more than 9 in 10"),
        (1.0, "more than 9 in 10"),
    ],
)
def test_a_chance_is_said_in_ten(chance, words):
    assert in_ten(chance) == words
