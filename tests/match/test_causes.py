"""The likeliest single change, what can't be told from it, and the second frame that would tell."""

from __future__ import annotations

import numpy as np
import pytest
from frames import judged, light_of, model, noisy, place_of, raw, templates

from throughlight.match.causes import second_frames


def verdict_of(kind=None, of=None, planted=0.0, seed=5):
    truth = model()
    x = np.zeros(truth.count)
    x[truth.vignetting] = 0.3
    if kind is not None:
        x[place_of(truth, kind, of)] = planted
    light = noisy(light_of(truth.exposure(x), 6), np.random.default_rng(seed), photons=1e-4, reading=2e-3)
    found = judged(raw(light), templates(noise=0.01, seed=seed))
    return found.model, found.verdict


@pytest.mark.parametrize(
    ("kind", "of", "planted"),
    [
        ("head", "left", 0.6), ("head", "right", -0.7), ("cloth", "backdrop", 1.2), ("beam", "left", -0.2),
        ("flag", "right flag", 0.8), ("room", "the room", 4.0), ("glare", "the lens", 2.0),
    ],
)  # fmt: skip
def test_the_planted_change_is_the_likeliest(kind, of, planted):
    one, verdict = verdict_of(kind, of, planted)
    assert not verdict.agrees
    first = verdict.causes[0]
    assert first.place == place_of(one, kind, of)
    assert first.explains > 0.9
    assert first.change.value == pytest.approx(planted, rel=0.1)
    assert [cause.cost for cause in verdict.causes] == sorted(cause.cost for cause in verdict.causes)


def test_a_veil_that_falls_off_to_the_corners_is_no_cause():
    truth = model()
    x = np.zeros(truth.count)
    x[place_of(truth, "head", "left")], x[truth.vignetting] = 0.6, 0.3
    own = np.repeat(np.repeat(truth.fields[0].reshape(48, 72), 6, axis=0), 6, axis=1)
    image, veil = truth.parts(x)
    fallen = light_of(image, 6) + light_of(veil, 6) * 2.0 ** (-0.3 * own)
    found = judged(
        raw(noisy(fallen, np.random.default_rng(2), photons=1e-4, reading=2e-3)), templates(noise=0.01, seed=2)
    )
    first = found.verdict.causes[0]
    assert first.place == place_of(found.model, "head", "left")
    assert first.change.low <= 0.6 <= first.change.high


def test_everything_alike_is_one_cause():
    truth = model()
    x = np.zeros(truth.count)
    x[truth.level] = -0.5
    light = noisy(light_of(truth.exposure(x), 6), np.random.default_rng(1), photons=1e-4, reading=1e-3)
    verdict = judged(raw(light), templates(noise=0.01, seed=4)).verdict
    assert verdict.causes[0].place == truth.level
    assert "camera's speed" in verdict.causes[0].words


def test_agreement_is_said():
    _, verdict = verdict_of()
    assert verdict.agrees
    assert verdict.alike == 0


def test_a_frame_without_flash_or_with_one_head_is_what_a_second_frame_can_be():
    assert second_frames(model()) == {"left alone": [0, 2], "right alone": [1, 2], "no flash, a longer exposure": [2]}


def only_veil():
    """Return templates whose flag, when it isn't there, lets the right head reach the lens and nothing else."""
    traced = templates(noise=0.01, seed=6)
    image, veil = traced.slopes[6][0]
    return traced._replace(slopes={**traced.slopes, 6: ((0.0 * image, veil),)})


def test_glare_and_a_flag_that_is_open_look_alike_until_each_head_is_alone():
    # Both lay an even veil over the frame; the flag's is the right head's alone. The first frame can't tell them, a
    # frame with one head can.
    from throughlight.match.model import model_of

    traced = only_veil()
    truth = model_of(traced)
    x = np.zeros(truth.count)
    x[place_of(truth, "flag")] = 0.5
    light = noisy(light_of(truth.exposure(x), 6), np.random.default_rng(3), photons=1e-4, reading=2e-3)
    found = judged(raw(light), traced)
    verdict = found.verdict
    alike = {found.model.templates.changes[cause.place].kind for cause in verdict.causes[: verdict.alike + 1]}
    assert {"glare", "flag"} <= alike
    assert verdict.second is not None
    assert "alone" in verdict.second.frame
    assert any("glare" in words for words in verdict.second.settles)
