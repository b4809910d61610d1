"""What a calibration writes: the likeliest change, what the photo needs besides, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from frames import COLUMNS, ROWS, SQUARE, developed, judged, light_of, model, noisy, place_of, raw, templates

from throughlight.match.fit import interval, weigh
from throughlight.match.model import model_of
from throughlight.match.observe import observe
from throughlight.match.patches import gather
from throughlight.match.settle import settled


def written(planted, traced=None, seed=5):
    """Return the model, the verdict and what would be written, for changes planted by kind and name."""
    prediction = templates(noise=0.01, seed=seed) if traced is None else traced
    truth = model() if traced is None else model_of(traced)
    x = np.zeros(truth.count)
    x[truth.vignetting] = 0.3
    for (kind, of), value in planted.items():
        x[truth.level if kind == "level" else place_of(truth, kind, of)] = value
    light = noisy(light_of(truth.exposure(x), 6), np.random.default_rng(seed), photons=1e-4, reading=2e-3)
    found = judged(raw(light), prediction)
    one, (patches, weights, fit, verdict) = found.model, found
    changes = {place: interval(one, fit, place) for place in fit.free if place <= one.vignetting}
    return one, verdict, settled(one, patches.data, weights, fit, changes, verdict)


def test_two_changes_are_both_written_and_nothing_else():
    one, _, found = written({("head", "left"): 0.6, ("cloth", "backdrop"): 1.5})
    left, cloth = place_of(one, "head", "left"), place_of(one, "cloth")
    assert set(found) == {left, cloth}
    for place, planted in ((left, 0.6), (cloth, 1.5)):
        assert found[place].low <= planted <= found[place].high
        assert found[place].value == pytest.approx(planted, abs=0.05)


def test_of_an_even_step_of_everything_each_head_gets_the_same():
    one, verdict, found = written({("level", ""): -0.5})
    assert verdict.causes[0].place == one.level
    heads = [place_of(one, "head", name) for name in ("left", "right")]
    assert set(found) == set(heads)
    for place in heads:
        assert found[place].value == pytest.approx(-0.5, abs=0.02)
        assert found[place].low <= -0.5 <= found[place].high


def test_where_photo_and_prediction_agree_nothing_is_written():
    assert written({})[2] == {}


def alike():
    """Return templates whose right head lights all that the left one does, a quarter as strongly; no room light."""
    traced = templates(noise=0.01, seed=8)

    def same(layers):
        return np.stack([layers[:, 0], 0.25 * layers[:, 0], 0.0 * layers[:, 2]], axis=1)

    base, twin = (one._replace(image=same(one.image), veil=same(one.veil)) for one in (traced.base, traced.twin))
    slopes = {place: some for place, some in traced.slopes.items() if place != 6}
    return traced._replace(base=base, twin=twin, changes=traced.changes[:6], slopes=slopes)


def test_heads_that_light_alike_are_not_told_apart_and_intervals_hold_each_way():
    one, verdict, found = written({("head", "left"): 0.5}, alike())
    causes = verdict.causes[: verdict.alike + 1]
    left, right = (place_of(one, "head", name) for name in ("left", "right"))
    assert {left, right, one.level} <= {cause.place for cause in causes}
    # All three say the same of the frame: by how much the sum of both heads is more, (1 + ¼·2^x) : (2^0.5 + ¼).
    more = (2.0**0.5 + 0.25) / 1.25
    value = {cause.place: cause.change.value for cause in causes}
    assert value[one.level] == pytest.approx(np.log2(more), abs=0.02)
    assert value[right] == pytest.approx(np.log2(4.0 * (1.25 * more - 1.0)), abs=0.05)
    for place, each in found.items():
        if place in value:
            assert each.low <= value[place] <= each.high
    # A frame with one head alone tells them apart.
    assert verdict.second is not None
    assert "alone" in verdict.second.frame


def test_cells_of_which_nothing_is_known_do_not_judge_the_others():
    """8 bits: the cloth is code 0, so its residuals are small beside their doubt; the subject's are not outliers."""
    truth = model()
    x = np.zeros(truth.count)
    x[place_of(truth, "head", "left")] = 0.4
    dim = light_of(truth.exposure(x), 6) * 0.02
    prediction = templates(noise=0.05, seed=3)
    base, twin = (
        one._replace(image=one.image * 0.02, veil=one.veil * 0.02) for one in (prediction.base, prediction.twin)
    )
    slopes = {k: tuple((a * 0.02, b * 0.02) for a, b in some) for k, some in prediction.slopes.items()}
    dark = prediction._replace(base=base, twin=twin, slopes=slopes)
    seen = observe(developed(noisy(dim, np.random.default_rng(1), photons=1e-6)), dark.base.grid, SQUARE)
    patches = gather(dark, seen, 2)
    weights, _ = weigh(patches.model, patches.data)
    subject = (patches.region == 0) & patches.data.used
    assert (seen.offset > seen.mean)[np.arange(COLUMNS * ROWS) % COLUMNS < 4].mean() > 0.5
    assert weights.used[subject].mean() > 0.99
