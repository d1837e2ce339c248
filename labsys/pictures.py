"""Pictures that people send: opened, measured and written anew, so that each byte kept is our own.

A picture is known by being decoded, never by its name or by what the browser says it is. Written anew it carries no
place or camera, and nothing hidden behind its end.
"""

import io
import struct
import zlib
from dataclasses import dataclass

from PIL import Image, ImageOps, UnidentifiedImageError

from labsys.records.errors import Refused

LARGEST_PICTURE = 8 * 1024 * 1024  # [bytes] as sent: a telephone's photograph
_MOST_PIXELS = 50_000_000  # before anything is decoded: a small file may unfold to gigabytes
_LONGEST_SIDE = 1_600  # [pixels] as kept: sharp on a desk, light on a phone
_READ = ("PNG", "JPEG", "WEBP")
_UNREADABLE = (
    *(UnidentifiedImageError, Image.DecompressionBombError, Image.DecompressionBombWarning),
    *(OSError, SyntaxError, ValueError, EOFError, struct.error, zlib.error),
)


class PictureRefused(Refused):
    """The file is no picture that can be kept; the message says why and what to do."""


@dataclass(frozen=True)
class Picture:
    """A picture as it is kept: PNG where it can be seen through or has few colours, else JPEG."""

    content: bytes
    media_type: str
    width: int
    height: int


def written_anew(sent: bytes, *, field: str = "file") -> Picture:
    """Return a picture as it is kept. Raises PictureRefused."""
    if not sent:
        raise PictureRefused("Choose a picture.", field=field)
    if len(sent) > LARGEST_PICTURE:
        raise PictureRefused(
            f"The picture is larger than {LARGEST_PICTURE // 1024**2} MB. Make it smaller.", field=field
        )
    try:
        with Image.open(io.BytesIO(sent), formats=_READ) as image:
            if image.width * image.height > _MOST_PIXELS:
                raise PictureRefused("The picture has too many pixels. Make it smaller.", field=field)
            upright = ImageOps.exif_transpose(image)
            is_drawing = image.format == "PNG" or "A" in upright.getbands() or "transparency" in upright.info
            kept = upright.convert("RGBA" if is_drawing else "RGB")
            kept.thumbnail((_LONGEST_SIDE, _LONGEST_SIDE))
    except _UNREADABLE as error:
        raise PictureRefused("This is no whole picture. Choose a PNG, JPEG or WebP file.", field=field) from error
    bare = Image.frombytes(kept.mode, kept.size, kept.tobytes())  # pixels, and nothing that came with them
    written = io.BytesIO()
    if is_drawing:
        bare.save(written, "PNG", optimize=True)
    else:
        bare.save(written, "JPEG", quality=85)
    return Picture(written.getvalue(), "image/png" if is_drawing else "image/jpeg", bare.width, bare.height)
