"""What a quote's page offers: for the quote, for each of its boards, for each way. Nothing asks the database."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import reverse

from quotes.models import Quote
from quotes.views.action import Action


@dataclass(frozen=True)
class QuotedWay:
    """A way as the page meets it; `way` is its key."""

    way: int
    position: int
    priced: bool = True
    agreed: bool = False


@dataclass(frozen=True)
class QuotedBoard:
    """A board of the quote with its ways; `quoted` is the key of its place there, `job` that of what became of it."""

    quoted: int
    state: str  # of Quote.State
    ways: tuple[QuotedWay, ...] = ()
    room: bool = True  # for one more way
    job: int | None = None

    @property
    def asked(self) -> bool:
        """The customer has the paper and has not agreed to a way for this board."""
        return self.state == Quote.State.SENT and not any(way.agreed for way in self.ways)

    @property
    def its_job(self) -> Action | None:
        return Action("Open the job", href=reverse("job", args=[self.job]), look="go") if self.job else None

    @property
    def add_way(self) -> Action | None:
        """The loud one while there is none."""
        if self.state != Quote.State.DRAFT or not self.room:
            return None
        look = "go plain" if self.ways else "go"
        return Action("Add a way", href=reverse("way-new", args=[self.quoted]), mark="plus", look=look)

    @property
    def way_actions(self) -> tuple[tuple[Action, ...], ...]:
        """For each of its ways what may be done with it."""
        return tuple(tuple(self._of_way(way)) for way in self.ways)

    def _of_way(self, way: QuotedWay) -> Iterator[Action]:
        named = f" way {way.position}"
        if self.asked:
            look = "go" if way.priced else "go plain"
            href = reverse("way-agree", args=[way.way])
            yield Action("Agree on this", href=href, look=look, heard=f":{named}")
        elif self.state == Quote.State.DRAFT and not way.agreed:
            yield Action("Change", href=reverse("way-edit", args=[way.way]), heard=named)
            if way.position > 1:
                yield Action("Move up", post=reverse("way-up", args=[way.way]), look="quiet", heard=named)


@dataclass(frozen=True)
class QuotePage:
    """A quote as its page meets it; `quote` is its key."""

    quote: int
    state: str  # of Quote.State
    boards: tuple[QuotedBoard, ...] = ()
    lacking: bool = False  # something stands between a way and its price
    guesses: bool = False  # a price is worked out with one that was guessed
    no_papers: bool = False  # the shop has not said what its papers must carry
    refused: bool = False  # what was asked of it just now can not be done
    on_paper: bool = False  # there is a paper that was sent
    expired: bool = False
    newer: tuple[int, int] | None = None  # key and version of the quote that replaced it

    @property
    def draft(self) -> bool:
        return self.state == Quote.State.DRAFT

    @property
    def sent(self) -> bool:
        return self.state == Quote.State.SENT

    @property
    def has_ways(self) -> bool:
        return any(board.ways for board in self.boards)

    @property
    def can_send(self) -> bool:
        """Every board has a way, and every way its price."""
        return self.draft and self.has_ways and all(board.ways for board in self.boards) and not self.lacking

    @property
    def work_out_first(self) -> Action | None:
        """Under a refusal, what may help."""
        if not self.refused or not self.draft or self.no_papers:
            return None
        return Action("Work it out at today’s prices", post=self._at("quote-work-out"), look="go")

    @property
    def show_customer(self) -> Action | None:
        if not self.has_ways:
            return None
        return Action("Turn the screen to the customer", href=self._at("quote-customer"), mark="turn")

    @property
    def open_newer(self) -> Action | None:
        if self.newer is None:
            return None
        key, version = self.newer
        return Action(f"Open version {version}", href=reverse("quote", args=[key]))

    @property
    def type_prices(self) -> Action | None:
        """Where its prices are typed, while some are guessed."""
        if not self.guesses or not self.draft:
            return None
        return Action("Type the prices", href=self._at("quote-price-sheet"))

    @property
    def primary_action(self) -> Action | None:
        """The loud button at the foot of the page: a draft is sent, what waits for its answer is opened on paper."""
        if self.can_send:
            return Action("Send: number it for good", post=self._at("quote-send"), mark="print", look="go")
        return self._paper("go") if self.sent else None

    def _paper(self, look: str) -> Action | None:
        if self.draft or not self.on_paper:
            return None
        return Action("Open the paper", href=self._at("quote-pdf"), mark="print", look=look)

    @property
    def actions(self) -> tuple[Action, ...]:
        """The row at the foot of the page, the primary one first."""
        return tuple(action for action in self._actions() if action)

    def _actions(self) -> Iterator[Action | None]:
        yield self.primary_action or self._paper("go plain")
        if self.draft:
            yield from self._of_draft()
        if self.state in (Quote.State.SENT, Quote.State.DECLINED):
            yield Action("New version", href=self._at("quote-replace"), look="go plain half")
        if self.sent:
            yield Action("Declined", href=self._at("quote-decline"), look="go plain half")

    def _of_draft(self) -> Iterator[Action]:
        if self.has_ways:
            yield Action("Preview the paper", href=self._at("quote-preview"))
            yield Action("Work out again", post=self._at("quote-work-out"))
        yield Action("Payer and note", href=self._at("quote-edit"), look="go plain half")
        yield Action("One more board", href=self._at("quote-board-new"), look="go plain half")
        yield Action("Drop it", href=self._at("quote-decline"))

    def _at(self, name: str) -> str:
        return reverse(name, args=[self.quote])
