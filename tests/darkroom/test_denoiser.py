"""The denoiser: nearer to the truth than the grainy picture, on pictures whose truth is known."""

from __future__ import annotations

import importlib.util

import numpy as np
import pytest

from throughlight.darkroom import denoiser

needed = pytest.mark.skipif(not denoiser.is_here(), reason="the extra `denoise` is not installed")


@needed
@pytest.mark.parametrize("scale", [1e-4, 1.0, 1e3])
def test_grain_is_taken_out_at_any_exposure(scale: float) -> None:
    """A ramp with an edge and exponentially distributed grain of its own size: error and mean against the ramp."""
    rng = np.random.default_rng(5)
    truth = np.linspace(0.2, 1.0, 96)[None, :, None] * np.array([1.0, 0.6, 0.3]) * np.ones((64, 1, 1))
    truth[:, 48:] *= 0.3
    truth = (scale * truth).astype(np.float32)
    grainy = (truth * rng.exponential(size=truth.shape)).astype(np.float32)
    albedo = np.where(np.arange(96)[None, :, None] < 48, 0.9, 0.27) * np.ones_like(truth)
    normal = np.zeros_like(truth)
    normal[..., 2] = 1.0
    kept = grainy.copy()
    quiet = denoiser.denoised(grainy, albedo.astype(np.float32), normal)
    assert np.array_equal(grainy, kept)
    assert quiet.dtype == np.float32
    assert quiet.min() >= 0.0
    before, after = (float(np.sqrt(np.mean((shown - truth) ** 2))) for shown in (grainy, quiet))
    assert after < 0.3 * before
    assert quiet.mean() == pytest.approx(truth.mean(), rel=0.05)


@needed
def test_what_is_no_light_counts_as_none() -> None:
    H = np.full((32, 32, 3), 0.1, np.float32)
    H[4, 4], H[8, 8], H[9, 9] = np.nan, np.inf, -1.0
    quiet = denoiser.denoised(H, np.ones_like(H), np.zeros_like(H))
    assert np.isfinite(quiet).all()


def test_without_the_extra_one_sentence_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    H = np.zeros((4, 4, 3), np.float32)
    with pytest.raises(RuntimeError, match="pip install pyoidn"):
        denoiser.denoised(H, H, H)
