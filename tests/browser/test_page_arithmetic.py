"""The page's arithmetic against the engine's own: readings, pixels and code values at other powers and settings."""

from __future__ import annotations

import math

import numpy as np
import pytest

from report_sets import readings_at, sphere
from throughlight.darkroom import scale, tone
from throughlight.photometry.exposure import mid_grey
from throughlight.readings.patches import brightest, contenders
from throughlight.sheets.page_picture import finished_layers
from throughlight.sheets.table import reading_lines

WITHIN = 0.01  # stops: what the page promises
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
# thirds by light (None: off), then steps of f-number, shutter and ISO from the set's own
SETTINGS = {
    "as set": ((0, 0, 0), (0, 0, 0)),
    "key down": ((-4, 0, 0), (0, 0, 0)),
    "key up, lamp down": ((9, -15, 3), (0, 0, 0)),
    "key off": ((None, 2, 1), (0, 0, 0)),
    "room off": ((1, -1, None), (0, 0, 0)),
    "lens opened, shutter shorter, ISO up": ((0, 0, 0), (5, -7, 4)),
    "all at once": ((-7, 5, None), (-3, 6, -3)),
}


class At:
    """One setting, on the page and in the engine."""

    def __init__(self, opened, name: str) -> None:
        thirds, (stop, time, speed) = SETTINGS[name]
        self.state = opened.page.evaluate(
            "([thirds, f, t, s]) => { const state = asSet(set); thirds.forEach((third, at) => {"
            " state.thirds[at] = third ?? 0; state.on[at] = third !== null; });"
            " state.fNumber += f; state.shutter += t; state.iso += s; return state; }",
            [list(thirds), stop, time, speed],
        )
        camera = opened.page.evaluate("() => set.camera")
        self.f_number = camera["fNumbers"][self.state["fNumber"]]["value"]
        self.iso = camera["isos"][self.state["iso"]]["value"]
        time_ratio = camera["shutters"][self.state["shutter"]]["value"] / sphere().shot.setup.camera.shutter
        self.factors = np.array([0.0 if third is None else 2.0 ** (third / 3) for third in thirds])
        self.factors *= np.array([1.0, time_ratio, time_ratio])  # only the key head is a flash
        self.opened = opened

    def ask(self, script: str):
        return self.opened.page.evaluate(f"(state) => {script}", self.state)

    @property
    def exposure(self) -> np.ndarray:
        """The engine's linear sum, (h, w, 3) lx·s."""
        shot = sphere().shot
        veil = np.array(list(shot.readings.stray.veil_layers.values()))
        layers = np.stack(list(finished_layers(shot))).astype(float) + veil[:, None, None, :]
        opening = (shot.setup.camera.f_number / self.f_number) ** 2
        return np.tensordot(self.factors * opening, layers, axes=1)


@pytest.fixture(params=SETTINGS)
def at(request, opened) -> At:
    return At(opened, request.param)


def _close(found: dict, expected, what: str) -> None:
    for end in ("value", "low", "high"):
        one, other = found[end], getattr(expected, end)
        one = -math.inf if one is None else one  # what JSON has no word for
        assert one == pytest.approx(other, abs=WITHIN), (what, end)


def test_readings_and_their_intervals(at):
    told = at.ask("readingsOf(set, state)")
    engine = readings_at(sphere(), at.factors, f_number=at.f_number, iso=at.iso)
    subject, backdrop = engine.subject, engine.backdrop
    for key, figure in (
        ("mean", subject.mean), ("median", subject.median), ("percentile5", subject.percentile_5),
        ("percentile95", subject.percentile_95),
    ):  # fmt: skip
        _close(told["subject"][key], figure, key)
    for name, figure in told["subject"]["byHead"]:
        _close(figure, subject.by_head[name], name)
    assert told["subject"]["clipped"]["part"] == pytest.approx(subject.clipped[0], abs=0.002)
    assert told["subject"]["clipped"]["half"] == pytest.approx(subject.clipped[1], abs=0.01)
    for key, figure in (("mean", backdrop.mean), ("cloth", backdrop.cloth), ("veil", backdrop.veil),
                        ("underSubject", backdrop.under_subject)):  # fmt: skip
        _close(told["backdrop"][key], figure, key)
    assert told["backdrop"]["code"] == backdrop.code
    _close(told["stray"]["veil"], engine.stray.veil, "veil")
    for key, amount in (
        ("outside", engine.stray.outside), ("inside", engine.stray.inside), ("low", engine.stray.outside_interval[0]),
        ("high", engine.stray.outside_interval[1]),
    ):  # fmt: skip
        assert told["stray"][key] == pytest.approx(amount, rel=1e-4)
    _close(told["ambient"]["subject"], engine.ambient.subject, "ambient")
    _close(told["ambient"]["backdrop"], engine.ambient.backdrop, "ambient")
    _close(told["spots"][0][1], engine.spots["middle"], "spot")


def test_worst_patch(at):
    """The patches that could be the brightest at these powers, by the second look where it saw them."""
    sums = sphere().shot.readings.replicates
    opening = (sphere().shot.setup.camera.f_number / at.f_number) ** 2
    on_film, grey = at.factors * opening, mid_grey(at.iso)
    second = {int(place): i for i, place in enumerate(sums.second.places)}
    able = contenders(sums.first.light @ on_film, 24)
    cells = np.stack([
        (sums.second.light[:, second[place]] if place in second else sums.first.light[:, cell]) @ on_film
        for cell, place in ((int(cell), int(sums.first.places[cell])) for cell in able)
    ], axis=1) + (sums.veil @ on_film)[:, None]  # fmt: skip
    _, expected = brightest(cells, len(sums.first.places), grey)
    worst = at.ask("readingsOf(set, state).backdrop.worst")
    _close(worst["exposure"], expected, "worst patch")


def test_what_the_set_reads_is_told_in_the_same_words(opened):
    shown = opened.page.evaluate("() => readingLines(readingsOf(set, asSet(set)))")
    readings = sphere().shot.readings
    assert [tuple(line) for line in shown] == list(reading_lines(readings))
    verdicts = opened.page.evaluate("() => readingsOf(set, asSet(set)).verdicts")
    assert [tuple(verdict) for verdict in verdicts] == list(readings.verdicts)


@pytest.mark.parametrize("name", ["key down", "key up, lamp down", "all at once"])
def test_verdicts_at_other_powers(opened, name):
    """Where other patches could be the brightest the engine would look again; the other verdicts are its own."""
    at = At(opened, name)
    engine = readings_at(sphere(), at.factors, f_number=at.f_number, iso=at.iso)
    told = [tuple(verdict) for verdict in at.ask("readingsOf(set, state).verdicts")]
    wanted = list(engine.verdicts)
    assert told[0] == wanted[0]
    assert told[2] == wanted[2]


def test_pixels_in_stops(at):
    found = np.array(at.ask("Array.from(lightAsSeen(set, state, 'all'))")).reshape(32, 48, 3) @ LUMINANCE
    wanted = at.exposure @ LUMINANCE
    lit = wanted > mid_grey(at.iso) * 2.0**-12
    assert lit.all()
    assert np.abs(np.log2(found / wanted)).max() < WITHIN


def test_code_values(at):
    shown = np.array(
        at.ask(
            "{ const view = viewOf(set, document.createElement('canvas')), pixels = new Uint8ClampedArray(4 * 48 * 32);"
            " developInto(pixels, lightAsSeen(set, state, 'all'), 48, settingsOf(set, state).iso, set.look);"
            " return Array.from(pixels); }"
        )
    ).reshape(32, 48, 4)
    wanted = tone.develop(at.exposure, at.iso)
    assert np.abs(shown[:, :, :3] - wanted.astype(int)).max() <= 1
    assert (shown[:, :, 3] == 255).all()


def test_what_is_on_the_canvas_is_what_was_developed(opened):
    opened.settle()
    shown = opened.page.evaluate(
        "() => Array.from(document.getElementById('picture-0').getContext('2d').getImageData(0, 0, 48, 32).data)"
    )
    shot = sphere().shot
    wanted = tone.develop(shot.exposure, shot.setup.camera.iso)
    assert np.abs(np.array(shown).reshape(32, 48, 4)[:, :, :3] - wanted.astype(int)).max() <= 1


def test_stops_as_colour_is_the_engines_scale_with_its_lines(opened):
    at = At(opened, "key down")
    shown = np.array(
        at.ask(
            "{ const pixels = new Uint8ClampedArray(4 * 48 * 32);"
            " stopsInto(pixels, lightAsSeen(set, state, 'all'), 48, settingsOf(set, state).iso);"
            " return Array.from(pixels); }"
        )
    ).reshape(32, 48, 4)[:, :, :3]
    field = np.log2(at.exposure @ LUMINANCE / mid_grey(at.iso))
    wanted = scale.colours(field, scale.contours(field)).astype(int)
    off = np.abs(shown - wanted).max(axis=2)
    # a hundredth of a stop is two thirds of an entry of the scale; beside a line's very edge it may move a pixel
    assert np.mean(off > 2) < 0.01
    assert (scale.contours(field) > 0).any()


@pytest.mark.parametrize("look", [(0.7, None, 1.0), (0.0, -6.0, 1.0), (-0.5, -5.0, 0.4), (0.0, None, 1.6)])
def test_lift_black_point_and_saturation(opened, look):
    """The same three steps in numpy: lift, black point stretched to keep clip, saturation about luminance."""
    exposure, black, saturation = look
    shot = sphere().shot
    iso = shot.setup.camera.iso
    light = shot.exposure.astype(np.float64) * 2.0**exposure
    if black is not None:
        b, c = mid_grey(iso) * 2.0**black, 78.0 / iso
        light = np.maximum(0.0, light - b) * c / (c - b)
    middle = (light @ LUMINANCE)[:, :, None]
    light = np.maximum(0.0, middle + saturation * (light - middle))
    shown = opened.page.evaluate(
        "([light, iso, look]) => Array.from(finished(Float32Array.from(light), look, iso))",
        [shot.exposure.ravel().tolist(), iso, {"exposure": exposure, "blackPoint": black, "saturation": saturation}],
    )
    assert np.array(shown) == pytest.approx(light.ravel(), rel=1e-5, abs=1e-9)
