"""The main job as a whole: same seed same bits, tolerance and time kept, Ctrl-C, things missing, routes, JSON.

What the figures themselves are worth is checked in tests/validation; here it is whether they are told rightly.
"""

from __future__ import annotations

import json
import math
import re
import time

import meter_sets as sets
import pytest

from throughlight.readings.meter import meter
from throughlight.readings.reading import SCHEMA
from throughlight.setup import loads


@pytest.fixture(scope="module")
def whole():
    return meter(loads(sets.WHOLE), threads=2)


def figures(readings):
    """Return everything that is traced, without how long it took."""
    told = readings.as_json()
    told["made"].pop("tracing_seconds")
    return told


def test_same_seed_same_bits_on_any_number_of_threads(whole):
    for threads in (1, 3):
        assert figures(meter(loads(sets.WHOLE), threads=threads)) == figures(whole)
    exact = [meter(loads(sets.WHOLE), threads=threads).stray.outside for threads in (1, 2, 3)]
    assert exact[0] == exact[1] == exact[2]


def test_the_sets_own_seed_is_the_default(whole):
    assert whole.making.seed == 5
    assert figures(meter(loads(sets.WHOLE), seed=5)) == figures(whole)


def test_another_seed_differs_within_the_intervals(whole):
    """Four figures of two seeds, each pair within 4 standard errors of its difference (t of 15 degrees: 2.131)."""
    other = meter(loads(sets.WHOLE), seed=6)
    pairs = [
        (whole.subject.mean, other.subject.mean),
        (whole.backdrop.mean, other.backdrop.mean),
        (whole.backdrop.cloth, other.backdrop.cloth),
        (whole.stray.veil, other.stray.veil),
    ]
    for one, two in pairs:
        assert one.value != two.value
        assert abs(one.value - two.value) < 4.0 * math.hypot(one.half, two.half) / 2.131


@pytest.mark.parametrize("tolerance", [0.2, 0.05, 0.02])
def test_tolerance_is_reached(tolerance):
    readings = meter(loads(sets.WHOLE), tolerance=tolerance)
    assert readings.making.reason == "tolerance"
    assert readings.making.tolerance == tolerance
    for figure in (readings.subject.mean, readings.backdrop.mean, readings.stray.veil):
        assert figure.half <= tolerance
    low, high = readings.stray.outside_interval
    assert math.log2(high / low) / 2 <= 1.02 * tolerance
    assert all(spot.half <= 2 * tolerance for spot in readings.spots.values())


def test_time_limit_is_kept_and_told():
    begun = time.monotonic()
    readings = meter(loads(sets.WHOLE), tolerance=1e-5, time_limit=0.5)
    assert readings.making.reason == "time"
    # The round that is under way is given up, but for the tasks that threads are in.
    assert time.monotonic() - begun < 5.0
    assert readings.subject.mean.half > 1e-5


@pytest.mark.parametrize(("tolerance", "limit"), [(0.0, None), (-0.1, None), (math.nan, None), (0.05, 0.0)])
def test_senseless_wishes_are_refused(tolerance, limit):
    with pytest.raises(ValueError, match="positive"):
        meter(loads(sets.WHOLE), tolerance=tolerance, time_limit=limit)


def stopped_when(condition, **wishes):
    """Return the readings of a run that Ctrl-C ends as soon as the condition on (what, share, figures) holds."""

    def progress(what, share, told):
        if condition(what, share, told):
            raise KeyboardInterrupt

    return meter(loads(sets.WHOLE), progress=progress, **wishes)


def test_interrupted_run_tells_its_full_rounds():
    readings = stopped_when(lambda what, share, told: bool(told), tolerance=1e-5)
    assert readings.making.reason == "interrupted"
    complete = meter(loads(sets.WHOLE), tolerance=1e3)
    # The subject's sampler goes on for some rounds whatever the tolerance; these two stop after their first.
    assert readings.backdrop.cloth == complete.backdrop.cloth
    assert readings.stray.outside == complete.stray.outside
    json.dumps(readings.as_json(), allow_nan=False)


def test_interrupted_in_the_second_look():
    readings = stopped_when(lambda what, share, told: what == "worst patch")
    assert readings.making.reason == "interrupted"
    assert math.isfinite(readings.backdrop.worst.exposure.value)
    json.dumps(readings.as_json(), allow_nan=False)


def test_interrupted_before_anything_is_known():
    with pytest.raises(KeyboardInterrupt):
        stopped_when(lambda what, share, told: True)


def test_progress_tells_shares_and_figures():
    seen = []
    meter(loads(sets.WHOLE), tolerance=0.02, progress=lambda *told: seen.append(told))
    assert {what for what, _, _ in seen} == {"readings", "worst patch"}
    assert all(0.0 < share <= 1.0 for _, share, _ in seen)
    assert any(set(told) == {"subject", "backdrop", "stray light", "veil"} for _, _, told in seen)


def test_sum_and_parts(whole):
    """Light adds: heads and room make the subject, cloth and veil the backdrop."""

    def linear(stops):
        return 2.0**stops.value

    parts = sum(linear(part) for part in whole.subject.by_head.values()) + linear(whole.ambient.subject)
    assert parts == pytest.approx(linear(whole.subject.mean), rel=1e-9)
    veil = linear(whole.stray.veil)
    assert linear(whole.backdrop.cloth) + veil == pytest.approx(linear(whole.backdrop.mean), rel=1e-9)
    assert linear(whole.subject.image) + veil == pytest.approx(linear(whole.subject.mean), rel=1e-9)
    under = whole.subject.mean.value - whole.backdrop.mean.value
    assert whole.backdrop.under_subject.value == pytest.approx(under, abs=1e-9)
    assert whole.backdrop.worst_under_subject.value == pytest.approx(
        whole.subject.mean.value - whole.backdrop.worst.exposure.value, abs=0.01
    )
    assert whole.backdrop.worst.exposure.value >= whole.backdrop.mean.value
    assert whole.subject.percentile_5.value < whole.subject.median.value < whole.subject.percentile_95.value


def test_nothing_before_the_lens():
    readings = meter(loads(sets.CAMERA))
    assert readings.subject is None
    assert readings.backdrop is None
    assert readings.ambient is None
    assert readings.stray.outside == 0.0
    assert readings.stray.veil.value == -math.inf
    assert readings.making.reason == "tolerance"
    json.dumps(readings.as_json(), allow_nan=False)


def test_room_light_alone():
    readings = meter(loads(sets.CAMERA + sets.SUBJECT + sets.BACKDROP + sets.ROOM))
    assert readings.subject.mean.value == pytest.approx(readings.ambient.subject.value, abs=1e-9)
    assert readings.backdrop.mean.value == pytest.approx(readings.ambient.backdrop.value, abs=1e-9)
    assert {route.head for route in readings.backdrop.routes} == {"room light"}
    assert readings.stray.seen == {}


def test_dark_room_without_heads():
    readings = meter(loads(sets.CAMERA + sets.SUBJECT + sets.BACKDROP + sets.SPOTS))
    assert readings.subject.mean.value == -math.inf
    assert readings.backdrop.under_subject is None
    assert readings.spots["corner"].value == -math.inf
    assert readings.backdrop.code == 0
    json.dumps(readings.as_json(), allow_nan=False)


@pytest.mark.parametrize("missing", ["SUBJECT", "BACKDROP"])
def test_set_without_subject_or_backdrop(missing):
    text = sets.CAMERA + sets.LEFT + (sets.SUBJECT if missing == "BACKDROP" else sets.BACKDROP)
    readings = meter(loads(text))
    told = readings.as_json()
    assert told[missing.lower()] is None
    other = readings.subject if missing == "BACKDROP" else readings.backdrop
    assert math.isfinite(other.mean.value)
    if missing == "SUBJECT":
        assert readings.backdrop.under_subject is None
        assert readings.backdrop.worst_under_subject is None


def test_spots_read_what_lies_there(whole):
    """The middle shows the slice, the corner the backdrop."""
    assert set(whole.spots) == {"middle of the slice", "corner"}
    low, high = whole.subject.percentile_5.value - 0.5, whole.subject.percentile_95.value + 0.5
    assert low < whole.spots["middle of the slice"].value < high
    assert whole.spots["corner"].value == pytest.approx(whole.backdrop.mean.value, abs=0.5)


SPILL = (
    sets.CAMERA
    + sets.BACKDROP
    + """
[[head]]
name = "far head"
face = { shape = "disc", diameter = "10 cm" }
at = ["100 cm", "0 cm", "-20 cm"]
aim = ["200 cm", "0 cm", "-20 cm"]
energy = "100 J"

[[card]]
name = "bounce"
at = ["150 cm", "0 cm", "-20 cm"]
aim = ["0 cm", "0 cm", "-50 cm"]
width = "80 cm"
height = "80 cm"

[[flag]]
name = "lens flag"
at = ["30 cm", "0 cm", "40 cm"]
aim = ["100 cm", "0 cm", "30 cm"]
width = "50 cm"
height = "60 cm"
"""
)


def test_spill_by_one_obvious_route():
    """A head turned away from the set shines on a card, whose white face lights the backdrop; nothing else can."""
    readings = meter(loads(SPILL))
    first = readings.backdrop.routes[0]
    assert (first.head, first.by) == ("far head", "bounce, white card face")
    assert first.words == "far head → bounce, white card face"
    assert first.share > 0.95
    assert readings.backdrop.worst.route == first.words
    assert all(route.by for route in readings.backdrop.routes)
    assert readings.stray.seen == {"far head": (0.0, 0.0)}


def test_straight_spill_is_told_as_such():
    readings = meter(loads(sets.CAMERA + sets.BACKDROP + sets.FRONT))
    assert readings.backdrop.worst.route == "front head, directly"
    assert readings.backdrop.routes[0].by == ""


HALF = (
    sets.CAMERA
    + """
[[head]]
name = "side head"
face = { shape = "rectangle", width = "40 cm", height = "40 cm" }
at = ["100 cm", "0 cm", "-100 cm"]
aim = ["0 cm", "0 cm", "60 cm"]
energy = "100 J"

[[flag]]
name = "half flag"
at = ["50 cm", "50 cm", "-20 cm"]
aim = ["0 cm", "50 cm", "60 cm"]
width = "200 cm"
height = "100 cm"
"""
)


def test_half_flagged_head_is_seen_by_half():
    """The flag's lower edge crosses the line from the lens to the face's middle: half of the face is free."""
    part, half = meter(loads(HALF)).stray.seen["side head"]
    print(f"measured {part:.4f} ± {half:.4f} (95 %), expected 0.5")
    assert half < 0.02
    assert abs(part - 0.5) <= 2 * half


UNITS = re.compile(r"(_|^)(stops|lx_s|lm_s|cd_s|mm|um|deg|s|seconds|J|iso_100|fraction|over_mid_grey|8_bit)(_|$)")
PURE = {
    "share", "seed", "paths", "replicates", "paths_cut", "paths_lost_in_open_bodies", "paths_not_a_number",
    "magnification", "effective_f_number",
}  # fmt: skip


def bare_numbers(told, keys=()):
    """Yield the keys of numbers that name no unit, as the table they stand in, and are no counts or ratios."""
    if isinstance(told, dict):
        for name, value in told.items():
            yield from bare_numbers(value, (*keys, name))
    elif isinstance(told, list):
        for value in told:
            yield from bare_numbers(value, keys)
    elif isinstance(told, (int, float)) and not isinstance(told, bool) and keys[-1] not in PURE:
        yield from () if any(UNITS.search(key) for key in keys[-2:]) else (keys[-1],)


def test_json_is_finite_and_names_its_units(whole):
    told = json.loads(json.dumps(whole.as_json(), allow_nan=False))
    assert told["schema"] == SCHEMA == "throughlight/readings/1"
    assert re.fullmatch(r"\d+\.\d+\.\d+", told["engine_version"])
    assert told["made"]["seed"] == 5
    assert sorted(set(bare_numbers(told))) == []
    for figure in (told["subject"]["mean_over_mid_grey"], told["backdrop"]["mean_over_mid_grey"]):
        assert figure["low_stops"] < figure["stops"] < figure["high_stops"]
