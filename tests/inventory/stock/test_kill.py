"""The server is killed in the middle of 200 movements: what was acknowledged is there, and nothing is there by half.

The server is the real one, killed with SIGKILL; the people are real requests that are sent again, with the same key,
until they are answered. `make soak` kills it ten times (KILLS).
"""

from __future__ import annotations

import http.client
import os
import queue
import signal
import socket
import subprocess
import sys
import threading
import time
import uuid
from pathlib import Path
from urllib.parse import urlencode

import pytest
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.core.management import call_command
from django.db import connection
from django.urls import reverse

from inventory.models import Movement
from inventory.stock import books
from shop.models import Role, Submission
from tests.conftest import NOW, make_user
from tests.inventory.conftest import Shelf
from tests.sample_shop import make_profile

HOUSE = Path(__file__).resolve().parents[3]
KILLS = int(os.environ.get("KILLS", "3"))
MOVEMENTS, PEOPLE, PATIENCE_S = 200, 8, 120
TOKEN = "k" * 32
SERVER = (
    "import time_machine; time_machine.travel({!r}).start(); "
    "from waitress import serve; from shop.wsgi import application; serve(application, listen={!r}, threads=8)"
)


def database_url() -> str:
    """The tests' own database, as the server is told it."""
    settings = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{settings['NAME']}"
    at = f"{settings['HOST'] or '127.0.0.1'}:{settings['PORT'] or 5432}"
    user = settings["USER"] + (f":{settings['PASSWORD']}" if settings["PASSWORD"] else "")
    return f"postgres://{user}@{at}/{settings['NAME']}"


class Server:
    """The service in a process of its own, on a free port."""

    def __init__(self, data: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.environment = {
            **os.environ,
            "DATABASE_URL": database_url(),
            "DATA_DIR": str(data),
            "ORIGIN": f"http://127.0.0.1:{self.port}",
        }
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        command = [sys.executable, "-c", SERVER.format(NOW.timestamp(), f"127.0.0.1:{self.port}")]
        self.process = subprocess.Popen(command, cwd=HOUSE, env=self.environment, stderr=subprocess.DEVNULL)
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
                return
            except OSError:
                assert self.process.poll() is None, "the server did not start"
                time.sleep(0.1)
        raise AssertionError("the server did not answer")

    def kill(self) -> None:
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


def log_in(user, data: Path) -> str:
    """A session of the server's own: its key signs it, so it is made with that key."""
    from django.conf import settings

    session = SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = settings.AUTHENTICATION_BACKENDS[-1]
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.create()
    (data / "secret-key").write_text(settings.SECRET_KEY)
    return session.session_key


class People:
    """Eight people who send what is in the queue, and send it again until it is answered."""

    def __init__(self, port: int, session: str, address: str) -> None:
        self.port, self.session, self.address = port, session, address
        self.to_send: queue.Queue[str] = queue.Queue()
        self.answered: dict[str, str] = {}
        self.wrong: list[str] = []

    def start(self) -> list[threading.Thread]:
        threads = [threading.Thread(target=self.work, daemon=True) for _ in range(PEOPLE)]
        for thread in threads:
            thread.start()
        return threads

    def work(self) -> None:
        while True:
            try:
                key = self.to_send.get_nowait()
            except queue.Empty:
                return
            try:
                self.answered[key] = self.send(key)
            except (OSError, http.client.HTTPException):
                self.to_send.put(key)
                time.sleep(0.05)

    def send(self, key: str) -> str:
        """Where the answer leads. Raises what the network raises when the server is gone."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        body = urlencode({"quantity": "1 g", "csrfmiddlewaretoken": TOKEN, "submission_key": key})
        cookies = f"sessionid={self.session}; csrftoken={TOKEN}"
        line.request(
            "POST", self.address, body, {"Content-Type": "application/x-www-form-urlencoded", "Cookie": cookies}
        )
        answer = line.getresponse()
        answer.read()
        line.close()
        if answer.status != 302 or "?act=" not in answer.headers["Location"]:
            self.wrong.append(f"{answer.status} {answer.headers.get('Location')}")
        return answer.headers.get("Location") or ""


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_a_server_killed_in_the_middle_loses_nothing_it_acknowledged(tmp_path):
    make_profile()
    keeper = make_user(Role.KEEPER)
    shelf = Shelf(keeper)
    shelf.receive("100000", "500.00")
    server = Server(tmp_path)
    people = People(server.port, log_in(keeper, tmp_path), reverse("use", args=[shelf.material.pk]))
    server.start()
    try:
        for kill in range(KILLS):
            for _ in range(MOVEMENTS):
                people.to_send.put(str(uuid.uuid4()))
            threads = people.start()
            enough = len(people.answered) + MOVEMENTS * (kill + 1) // (KILLS + 1)
            until = time.monotonic() + PATIENCE_S
            while len(people.answered) < enough and time.monotonic() < until:
                time.sleep(0.005)
            server.kill()
            acknowledged = dict(people.answered)
            there = set(Movement.objects.filter(kind="use").values_list("act", flat=True))
            assert {uuid.UUID(where.partition("?act=")[2]) for where in acknowledged.values()} <= there
            assert Submission.objects.count() == len(there), "a form that was taken has its movement, and no other"
            assert books.problems() == []
            server.start()
            for thread in threads:
                thread.join(PATIENCE_S)
        assert people.wrong == []
        assert len(people.answered) == MOVEMENTS * KILLS
        assert Movement.objects.filter(kind="use").count() == MOVEMENTS * KILLS
        assert shelf.on_hand == 100_000 - MOVEMENTS * KILLS
        call_command("check_books")  # leaves with an error where anything does not add up
    finally:
        server.kill()
