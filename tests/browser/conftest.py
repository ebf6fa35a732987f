"""A real browser on a live server: Debian's chromium, phone-sized by default, nothing allowed off the origin."""

from __future__ import annotations

import os
import shutil

import pytest

from tests.browser.hand import Hand
from tests.conftest import missing

CHROMIUM = shutil.which("chromium")
PHONE = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True}
READER = ("chrome:", "chrome-extension:")  # the browser's own reader of papers
COUNTER = {"viewport": {"width": 1280, "height": 800}}


def pytest_collection_modifyitems(items):
    here = os.path.dirname(__file__)
    for item in items:
        if not str(item.path).startswith(here):
            continue
        item.add_marker(pytest.mark.browser)
        if missing("chromium"):
            item.add_marker(pytest.mark.skip(reason="chromium is not installed: apt-get install chromium"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item, call):
    """A failed journey says which page it stood on and what that page said."""
    report = yield
    page, hand = (getattr(item, "funcargs", {}).get(name) for name in ("page", "hand"))
    if hand is not None and report.when == "call":
        report.user_properties.append(("by hand", f"{item.originalname}: {hand.says()}"))
    if report.failed and page is not None and report.when == "call":
        report.sections.append(("the page", f"{page.url}\n{page.locator('body').inner_text(timeout=2000)[:2500]}"))
    return report


@pytest.fixture
def hand(page):
    """A hand that counts, on the page of this test; what it counted is printed when the tests are done."""
    return Hand(page)


def pytest_terminal_summary(terminalreporter):
    ended = [report for outcome in ("passed", "failed") for report in terminalreporter.stats.get(outcome, [])]
    said = [words for report in ended for name, words in report.user_properties if name == "by hand"]
    if said:
        terminalreporter.section("by hand")
        terminalreporter.line("\n".join(sorted(said)))


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    assert CHROMIUM, "CI must have chromium: .ci/system test installs it"
    return {
        **browser_type_launch_args,
        "executable_path": CHROMIUM,
        "args": [
            "--no-sandbox",  # root needs it
            "--disable-dev-shm-usage",  # a small /dev/shm does
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--no-first-run",
        ],
    }


@pytest.fixture(scope="session")
def browser_context_args(browser_context_args):
    return {**browser_context_args, **PHONE}


@pytest.fixture(autouse=True)
def _no_long_waits(request):
    if "page" in request.fixturenames:
        request.getfixturevalue("page").set_default_timeout(30_000)


@pytest.fixture
def log_in(live_server, client):
    """Log a page's context in as a person, without going through the login form."""

    def put_cookie(page, user):
        client.force_login(user)
        cookie = client.cookies["sessionid"]
        page.context.add_cookies([{"name": "sessionid", "value": cookie.value, "url": live_server.url}])

    return put_cookie


@pytest.fixture
def quiet(page, live_server):
    """Fails the test if the page asked anything of another origin, or the browser complained."""
    strangers, complaints = [], []
    page.on(
        "request",
        lambda r: strangers.append(r.url) if not r.url.startswith((live_server.url, "data:", *READER)) else None,
    )
    page.on("console", lambda m: complaints.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: complaints.append(str(e)))
    yield page
    assert not strangers, f"asked off the origin: {strangers}"
    unexpected = [c for c in complaints if "422" not in c and "404" not in c]
    assert not unexpected, f"the browser complained: {unexpected}"
