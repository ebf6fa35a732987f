"""What a backup says of itself: a zip with `manifest.json`, the rows, and the photos and sheets under `media/`.

Rows are one file as the database's own tool writes it, or, to be read by either kind of database, JSON lines a table.
The manifest holds the SHA-256 of each part and the migrations that the rows have had.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import IO, Any

MANIFEST = "manifest.json"
LINES, DUMP = 1, 2  # formats: JSON lines a table, or the database's own
LARGEST = 50_000_000  # bytes of a manifest; more is no manifest


class BackupProblem(RuntimeError):
    """A backup cannot be written or read, in a sentence for whoever asked for it."""


@dataclass(frozen=True)
class Manifest:
    """`rows` by table or file, each with its number of rows and hash; `media` by name, with hash and bytes."""

    format: int
    version: str
    made_at: str
    database: str
    migrations: list[str]
    rows: dict[str, dict[str, Any]] = field(default_factory=dict)
    media: dict[str, dict[str, Any]] = field(default_factory=dict)

    @property
    def row_count(self) -> int:
        """All rows of the user's."""
        return sum(int(part["count"]) for part in self.rows.values())

    @property
    def had(self) -> set[tuple[str, str]]:
        """The migrations that the rows have had, by app and name."""
        return {(app, name) for app, _, name in (key.partition(".") for key in self.migrations)}

    def rows_part(self, name: str) -> str:
        """Where in the archive the rows of that name are."""
        return f"rows/{name}.jsonl" if self.format == LINES else name

    def parts(self) -> dict[str, str]:
        """Every part of the archive with its SHA-256."""
        rows = {self.rows_part(name): str(part["sha256"]) for name, part in self.rows.items()}
        return rows | {f"media/{name}": str(part["sha256"]) for name, part in self.media.items()}

    def write(self, archive: zipfile.ZipFile) -> None:
        """Adds itself, once all parts are in."""
        archive.writestr(MANIFEST, json.dumps({"software": "dryrack", **vars(self)}, indent=1))

    @classmethod
    def read(cls, archive: zipfile.ZipFile) -> Manifest:
        """Raises KeyError, TypeError, ValueError or what zipfile raises where it is no manifest of ours."""
        with archive.open(MANIFEST) as part:
            said = json.loads(part.read(LARGEST))
        if said.pop("software", None) != "dryrack":
            raise ValueError("of another program")
        manifest = cls(**{name: said[name] for name in cls.__dataclass_fields__})
        readable = manifest.format >= LINES and all("." in key for key in manifest.migrations)
        if not readable or not manifest.parts() or manifest.row_count < 0:
            raise ValueError("no manifest")
        return manifest

    def stranger(self) -> str | None:
        """The first name among the media that would land outside of their folder."""
        return next((name for name in self.media if leaves(name)), None)


def leaves(name: str) -> bool:
    """Whether a file of that name would lie outside of its folder."""
    return PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts


def copied(source: IO[bytes], target: IO[bytes] | None = None) -> str:
    """Copies to the end and gives the SHA-256 of what was copied; without a target it only reads."""
    running = hashlib.sha256()
    while chunk := source.read(1 << 20):
        running.update(chunk)
        if target is not None:
            target.write(chunk)
    return running.hexdigest()
