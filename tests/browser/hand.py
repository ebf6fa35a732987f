"""A hand at a screen: taps, types and waits as a person does, counts it, and says how long the person would take.

The keystroke-level model of Card, Moran and Newell, "The Psychology of Human-Computer Interaction" (1983): a key 0.28 s
(an average typist), pointing and tapping 1.1 s, making up one's mind 1.35 s. The mind is made up once for each field
and once for each button that ends a page. A page is waited for half a second, so that no test fails on a busy
machine; what they took here is printed beside.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Locator, Page, Request

KEY, TAP, THINK, PAGE = 0.28, 1.1, 1.35, 0.5


class Hand:
    """One person's hand on one page. `says()` has the figures; the tests' last lines print those that were kept."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.taps = self.keys = self.thoughts = self.loads = 0
        self.waited = 0.0
        self.asked: set[Request] = set()
        page.on("request", self._begin)
        page.on("requestfinished", lambda request: self.asked.discard(request))
        page.on("requestfailed", lambda request: self.asked.discard(request))

    def _begin(self, request: Request) -> None:
        """What is asked for is waited for; a page counts, by link or form, once where it sends on."""
        if request.resource_type not in ("document", "xhr", "fetch") or not request.url.startswith("http"):
            return
        self.asked.add(request)
        self.loads += request.redirected_from is None and (request.is_navigation_request() or request.method == "POST")

    @contextmanager
    def _waiting(self) -> Iterator[None]:
        before, began = self.loads, time.perf_counter()
        yield
        self.page.wait_for_timeout(10)  # what the tap asks for is on its way
        while self.asked:
            self.page.wait_for_timeout(5)
        self.page.wait_for_load_state("load")
        if self.loads > before:
            self.waited += time.perf_counter() - began

    def go(self, url: str) -> None:
        """Open an address that the person had at hand: no tap, one page."""
        with self._waiting():
            self.page.goto(url)

    def tap(self, what: Locator, *, think: bool = True) -> None:
        """One tap: a button, a link, a box to tick. Something seen a moment ago needs no thought."""
        self.taps += 1
        self.thoughts += think
        with self._waiting():
            what.click()

    def type(self, what: Locator, text: str) -> None:
        """Tap into a field and type over what is there."""
        self.taps += 1
        self.thoughts += 1
        self.keys += len(text)
        what.fill(text)

    def choose(self, what: Locator, label: str) -> None:
        """Open a list and take an entry by what it says: two taps, one thought."""
        self.taps += 2
        self.thoughts += 1
        what.select_option(label=label)

    def photograph(self, what: Locator, *files: str) -> None:
        """Open the camera from the page and press its button once a photo."""
        self.taps += 1 + len(files)
        self.thoughts += 1
        what.set_input_files(list(files))

    @property
    def seconds(self) -> float:
        """What a practised person needs, in s."""
        return self.keys * KEY + self.taps * TAP + self.thoughts * THINK + self.loads * PAGE

    def says(self) -> str:
        return (
            f"{self.seconds:.0f} s: {self.loads} page loads (here {self.waited:.1f} s), {self.taps} taps, "
            f"{self.keys} characters, {self.thoughts} times to think"
        )
