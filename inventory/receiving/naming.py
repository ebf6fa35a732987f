"""Which of the shop's materials a supplier's words may mean. PURE: words in, a guess or none out."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping

from shop.text.writing import folded

MORE_THAN = 0.5  # share of a material's words, above which the supplier's must hold them; range 0.4 to 0.8, ours
_OF_A_NAME = re.compile(r"[^\W\d_]{2,}|(?<![\d.,/])\d+(?![.,/]?\d)")  # no part of 2.5 or 3/4
_TOKEN = re.compile(r"[^\W\d_]{2,}|\d+")


def tokens(words: str) -> set[str]:
    """The words and numbers of a text as they are compared: without case and accents, and without a plural's s."""
    found = _TOKEN.findall(folded(words))
    return {one[:-1] if len(one) > 3 and one.endswith("s") and not one.endswith("ss") else one for one in found}


class Names:
    """The names of the shop's materials, by any key, to be asked which of them is meant."""

    def __init__(self, names: Mapping[int, str]) -> None:
        self.tokens = {key: tokens(name) for key, name in names.items()}
        self.holding: dict[str, set[int]] = defaultdict(set)
        for key, held in self.tokens.items():
            for token in held:
                self.holding[token].add(key)

    def meant(self, words: str) -> int | None:
        """The material most of whose words are said, all of its numbers among them; None where two fit alike."""
        said = tokens(words)
        near = {key for token in said for key in self.holding.get(token, ())}
        fits = sorted(((self._share(key, said), len(self.tokens[key]), key) for key in near), reverse=True)
        if not fits or fits[0][0] <= MORE_THAN or (len(fits) > 1 and fits[0][:2] == fits[1][:2]):
            return None
        return fits[0][2]

    def _share(self, key: int, said: set[str]) -> float:
        own = self.tokens[key]
        numbers = {token for token in own if token.isdigit()}
        return 0.0 if numbers - said else len(own & said) / len(own)


def pack_words(words: str, name: str) -> str:
    """What a supplier's words say beside the material's own name, from the first number on: "20 kg drum"; else ""."""
    own = tokens(name)

    def beside(found: re.Match[str]) -> str:
        """Nothing for what is part of the name; a number of the name is that once, then one of the pack."""
        said = tokens(found[0])
        if not said or not said <= own:
            return found[0]
        own.difference_update(token for token in said if token.isdigit())
        return ""

    rest = _OF_A_NAME.sub(beside, words)
    found = re.search(r"\d.*", rest, re.DOTALL)
    return " ".join(found[0].split()).strip(" ,;:-")[:80] if found else ""
