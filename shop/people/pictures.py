"""Photos made fit to keep: upright, small enough, and without the place and time that a phone writes into them.

What is kept is always drawn anew as a JPEG, so that nothing else can travel inside a file that calls itself a picture.
"""

from __future__ import annotations

import io
import uuid
import warnings
from typing import BinaryIO

from PIL import Image, ImageOps

LONGEST_SIDE = 1600  # px: enough to see a hairline crack, small enough for a phone's line
SMALL_SIDE = 320  # px, for lists
MOST_PIXELS = 80_000_000  # the largest phone pictures have 50 million or so; more is a picture made to fill the memory
READS = ("JPEG", "PNG", "WEBP")  # JPEG with a second picture in it, as many phones write, counts as JPEG
QUALITY = 85


class NotAPicture(ValueError):
    """What was sent cannot be kept as a photo; `sentence` says why and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


def new_name() -> str:
    """A file name nobody can guess."""
    return f"{uuid.uuid4().hex}.jpg"


def tidied(file: BinaryIO, *, longest: int = LONGEST_SIDE) -> bytes:
    """The picture as JPEG bytes: turned as its camera meant, at most `longest` px, no metadata but its colour profile.

    Raises NotAPicture for what is none, is broken, or has more pixels than any camera's.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(file, formats=READS) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise NotAPicture("This picture has too many pixels to be opened. Take it smaller.")
                picture.draft("RGB", (longest, longest))
                return _drawn_anew(picture, longest)
    except NotAPicture:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise NotAPicture("This picture has too many pixels to be opened. Take it smaller.") from None
    except (OSError, SyntaxError, ValueError, EOFError, MemoryError):
        raise NotAPicture(
            "This is not a picture that can be read, or it is damaged. Send a photo as JPEG, PNG or WebP."
        ) from None


def _drawn_anew(picture: Image.Image, longest: int) -> bytes:
    upright = ImageOps.exif_transpose(picture)
    sheet = Image.new("RGB", upright.size, "white")  # a new image: nothing that the old one carried comes along
    profile = upright.info.get("icc_profile") if upright.mode == "RGB" else None
    if upright.mode == "RGB":
        sheet.paste(upright)
    else:
        with_alpha = upright.convert("RGBA")
        sheet.paste(with_alpha, mask=with_alpha.getchannel("A"))
    sheet.thumbnail((longest, longest))
    out = io.BytesIO()
    sheet.save(out, "JPEG", quality=QUALITY, optimize=True, **({"icc_profile": profile} if profile else {}))
    return out.getvalue()
