"""The arithmetic of the benchmarks on estimators whose variance is known, and the order they are measured in."""

from __future__ import annotations

import math

import numpy as np
import pytest
from benchmarks.blobs import RADIUS, blob, coherent_rays, incoherent_rays
from benchmarks.found import Row, Series
from benchmarks.peer_sets import lattices
from benchmarks.peers import candidates, version_of
from benchmarks.turns import Trial, apart, cost, in_turns, medians, ratio_factor


def _normal_trials(variance, paths, replicates=4000, turns=3, seconds=2.0):
    """Return trials of normal replicate means round 5 with a relative variance per path."""
    draw = np.random.default_rng(4)
    spread = 5.0 * math.sqrt(variance / paths)
    return [Trial(draw.normal(5.0, spread, replicates), paths, seconds, 2 * seconds) for _ in range(turns)]


def test_cost_of_normal_replicates():
    """The variance of a normal sample's variance is 2σ⁴/(n − 1): 12 000 replicates give V to 1.3 %, checked at 4 σ."""
    told = cost(_normal_trials(variance=30.0, paths=64))
    assert told.variance == pytest.approx(30.0, rel=4 * math.sqrt(2 / told.freedom))
    assert told.mean == pytest.approx(5.0, abs=4 * told.error)
    assert told.error == pytest.approx(5.0 * math.sqrt(30.0 / 64 / 12000), rel=0.05)
    assert told.microseconds == pytest.approx(2.0 / (64 * 4000) * 1e6)
    assert told.processor_microseconds == pytest.approx(2 * told.microseconds)
    assert told.product == pytest.approx(told.variance * told.microseconds)


def test_ratio_and_distance_of_two_costs():
    first, second = cost(_normal_trials(30.0, 64)), cost(_normal_trials(3.0, 64))
    assert ratio_factor(first, second) == pytest.approx(math.exp(math.sqrt(4.0 / first.freedom)))
    off, error = apart(first, second)
    assert abs(off) <= 4 * error
    assert error == pytest.approx(math.hypot(first.error, second.error) / 5.0 / math.log(2.0), rel=0.01)


def test_turns_alternate_after_a_warm_up():
    seen = []
    doers = {name: lambda turn, name=name: seen.append((name, turn)) or float(turn) for name in ("ours", "peer")}
    assert in_turns(doers, 2) == {"ours": [1.0, 2.0], "peer": [1.0, 2.0]}
    assert seen == [(name, turn) for turn in range(3) for name in ("ours", "peer")]
    assert medians(doers, 3) == {"ours": 2.0, "peer": 2.0}


def test_lattices_cover_a_picture_evenly():
    picture = np.arange(64.0).reshape(8, 8)
    means = lattices(picture, 2)
    assert len(means) == 4
    assert means.mean() == picture.mean()
    assert means[0] == picture[::2, ::2].mean()


def test_exponent_of_a_power_law():
    points = tuple((x, 3.0 * x**1.5) for x in (1.0, 10.0, 100.0))
    assert Series("", "", "", "", points).exponent == pytest.approx(1.5)
    assert Series("", "", "", "", points[:1]).exponent is None


def test_goals_are_lower_or_upper_limits_of_ratio_or_figure():
    assert Row("", "", ours=1.0, ratio=25.0, goals=(20.0, 60.0)).met == (True, False)
    assert Row("", "", ours=2.6, goals=(2.5,), judged="ours", most=True).met == (False,)
    assert Row("", "", ours=1.0, goals=(20.0,)).met is None
    assert Row("", "", ours=1.0).met is None


@pytest.mark.parametrize("triangles", [1000, 20000])
def test_blob_is_closed_and_faces_outward(triangles):
    """Each edge runs once either way, and the volume is that of the ball with its relief, within a tenth."""
    corners, faces = blob(triangles)
    assert len(faces) == pytest.approx(triangles, rel=0.05)
    edges = {(int(a), int(b)) for face in faces for a, b in zip(face, np.roll(face, -1), strict=True)}
    assert len(edges) == 3 * len(faces)
    assert edges == {(b, a) for a, b in edges}
    a, b, c = (corners[faces[:, k]] for k in range(3))
    volume = np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0
    assert volume == pytest.approx(4.0 / 3.0 * math.pi * RADIUS**3, rel=0.1)


def test_rays_are_unit_vectors_that_look_at_the_ball():
    for origins, directions in (incoherent_rays(1000, 1), coherent_rays(1000)):
        assert np.allclose(np.linalg.norm(directions, axis=1), 1.0)
        closest = np.linalg.norm(np.cross(origins, directions), axis=1)
        assert closest.max() < 1.6 * RADIUS


def test_versions_told_by_names_of_libllvm():
    names = ("libLLVM.so.19.1", "libLLVM-15.so.1", "libLLVM.dylib", "libLLVM-18.so")
    assert [version_of(f"/usr/lib/{name}") for name in names] == [19, 15, 0, 18]


def test_old_libllvm_is_never_tried_and_a_named_one_alone():
    found = ["/a/libLLVM-15.so.1", "/a/libLLVM-16.so.1", "/a/libLLVM.so.19.1", "/a/libLLVM.so"]
    assert candidates(found, None) == ["", "/a/libLLVM.so.19.1", "/a/libLLVM-16.so.1"]
    assert candidates(found, "/b/libLLVM-17.so") == ["/b/libLLVM-17.so"]
