"""Pictures inside a page."""

from __future__ import annotations

import base64
import io

import numpy as np
import pytest
from PIL import Image, features

from fencegis.exports.pictures import picture_uri


def _read(uri: str) -> Image.Image:
    kind, _, data = uri.partition(",")
    assert kind.startswith("data:image/")
    assert kind.endswith(";base64")
    return Image.open(io.BytesIO(base64.b64decode(data)))


def _slope(side: int) -> np.ndarray:
    rgba = np.full((side, side, 4), 255, dtype=np.uint8)
    rgba[..., 0] = np.linspace(0, 255, side).astype(np.uint8)
    rgba[..., 1] = np.linspace(255, 0, side).astype(np.uint8)[:, None]
    return rgba


def test_a_picture_comes_back_in_its_size_and_near_its_colours() -> None:
    back = _read(picture_uri(_slope(64)))
    assert back.size == (64, 64)
    assert np.abs(np.asarray(back.convert("RGB"), dtype=int) - _slope(64)[..., :3]).mean() < 6


def test_what_is_seen_through_stays_so() -> None:
    rgba = _slope(32)
    rgba[:16, :, 3] = 0
    alpha = np.asarray(_read(picture_uri(rgba)).convert("RGBA"))[..., 3]
    assert (alpha[:16] == 0).all()
    assert (alpha[16:] == 255).all()


def test_a_picture_too_heavy_is_squeezed() -> None:
    rgba = np.random.default_rng(7).integers(0, 256, (256, 256, 4), dtype=np.uint8)
    rgba[..., 3] = 255
    free = len(picture_uri(rgba))
    assert len(picture_uri(rgba, greatest_bytes=free // 3)) < 0.8 * free


def test_without_webp_it_is_png_and_exact(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(features, "check", lambda name: name != "webp")
    uri = picture_uri(_slope(16))
    assert uri.startswith("data:image/png;")
    assert (np.asarray(_read(uri)) == _slope(16)[..., :3]).all()


@pytest.mark.parametrize("wrong", [np.zeros((4, 4, 3), dtype=np.uint8), np.zeros((4, 4, 4))])
def test_another_shape_or_type_is_refused(wrong: np.ndarray) -> None:
    with pytest.raises(ValueError, match=r"a picture is \(row, column, 4\) of uint8"):
        picture_uri(wrong)
