"""Pictures as telephones and drawing programs send them."""

import io
from typing import Any

from PIL import Image


def png(*, size: tuple[int, int] = (40, 30), **save: Any) -> bytes:
    return _written("PNG", size, **save)


def jpeg(*, size: tuple[int, int] = (40, 30), **save: Any) -> bytes:
    return _written("JPEG", size, **save)


def _written(kind: str, size: tuple[int, int], **save: Any) -> bytes:
    written = io.BytesIO()
    Image.new("RGB", size, "white").save(written, kind, **save)
    return written.getvalue()
