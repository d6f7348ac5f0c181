"""Pictures as text: an RGBA array becomes a data URI that a page carries inside itself."""

from __future__ import annotations

import base64
import io
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image, features

if TYPE_CHECKING:
    import numpy.typing as npt

# Two pictures of this size in base64, Leaflet and 12 500 posts stay under 8 MB together.
GREATEST_BYTES = 2_400_000


def picture_uri(rgba: npt.NDArray[np.uint8], *, greatest_bytes: int = GREATEST_BYTES) -> str:
    """Return (row, column, 4) uint8 as a `data:` URI: WebP, or PNG where Pillow is built without it.

    The quality falls from 75 until the picture is no larger than `greatest_bytes`; at the last step, 20, its size is
    taken as it comes. Raises ValueError for an array of another shape or type.
    """
    if rgba.ndim != 3 or rgba.shape[2] != 4 or rgba.dtype != np.uint8:
        raise ValueError(f"a picture is (row, column, 4) of uint8, not {rgba.shape} of {rgba.dtype}")
    opaque = bool((rgba[..., 3] == 255).all())
    image = Image.fromarray(np.ascontiguousarray(rgba[..., :3] if opaque else rgba))
    if not features.check("webp"):
        return _uri("png", _encoded(image, format="PNG", optimize=False))
    # Method 1 of 0 to 6: within a tenth of the size of method 4 in under half its time.
    for quality in (75, 60, 45, 30, 20):
        data = _encoded(image, format="WEBP", quality=quality, method=1)
        if len(data) <= greatest_bytes:
            break
    return _uri("webp", data)


def _encoded(image: Image.Image, **options: object) -> bytes:
    memory = io.BytesIO()
    image.save(memory, **options)  # type: ignore[arg-type]
    return memory.getvalue()


def _uri(kind: str, data: bytes) -> str:
    return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"
