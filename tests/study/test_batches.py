"""What is traced at a time adds up to what one run traces, and laying sets out again gives the same tables."""

from __future__ import annotations

import numpy as np
import pytest
from small_studies import BACKDROP, SET

from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.study.batch import (
    FIRST,
    LONGEST,
    Job,
    add,
    batches_at,
    kept,
    packed,
    paths_at,
    pieces,
    reduce,
    stretches,
    trace_job,
    unpacked,
    work,
)
from throughlight.study.staging import Stager
from throughlight.trace.driver import trace

WHOLE = SET + BACKDROP


def job(first, count, batch=0, **more):
    setup = loads(WHOLE)
    staged = Stager().staged("it", setup)
    return Job("it", batch, staged.stage, staged.looks, first, count, seed=3, **more)


def test_levels_double_and_batches_tile_them():
    covered = [stretch for level in range(1, 9) for stretch in stretches(level)]
    starts, counts = zip(*covered, strict=True)
    assert list(starts) == [0, *np.cumsum(counts)[:-1]]
    assert sum(counts) == paths_at(8) == FIRST * 2**7
    assert max(counts) <= LONGEST
    assert len(covered) == batches_at(8)


def test_two_batches_are_one_long_one():
    (one, *_), (two, *_) = stretches(1), stretches(2)
    apart = add(trace_job(job(*one)), trace_job(job(*two, batch=1)))
    together = trace_job(job(0, paths_at(2)))
    assert apart.keys() == together.keys()
    for name, value in together.items():
        assert np.allclose(apart[name], value, rtol=1e-6, atol=0.0), name  # single precision: 6e-8 a sum


def test_sums_are_those_of_the_driver():
    """One target traced in one go, as a reading does it."""
    it = job(*stretches(1)[0])
    sums = trace_job(it)
    tally = trace(it.stage, it.looks["subject"], range(it.replicates), it.first, it.paths, it.seed)
    assert np.array_equal(sums["light subject"], tally.cells.sum(axis=1))
    assert np.array_equal(sums["met subject"], tally.counts[:, :, 0].sum(axis=1))
    assert sums["paths subject"] == it.paths


def test_pieces_may_come_in_any_order():
    it = job(*stretches(1)[0])
    done = {piece: work(it, piece) for piece in reversed(list(pieces(it)))}
    forward = trace_job(it)
    for name, value in reduce(it, done).items():
        assert np.array_equal(value, forward[name]), name


def test_interrupted_job_has_no_sums():
    assert trace_job(job(*stretches(1)[0]), lambda: True) is None


def test_bytes_and_back():
    sums = trace_job(job(*stretches(1)[0], squares=True))
    back = unpacked(packed(sums))
    assert back.keys() == sums.keys()
    for name, value in sums.items():
        assert np.array_equal(back[name], value), name
        assert back[name].shape == value.shape
    assert packed(back) == packed(sums)
    assert all(np.array_equal(value, kept(sums)[name]) for name, value in back.items())


@pytest.mark.parametrize("content", [b"", b"nothing", packed({"it": np.zeros(3)})[:-5]])
def test_damaged_bytes_are_refused(content):
    with pytest.raises(ValueError, match="cannot be read"):
        unpacked(content)


def test_staging_remembers_without_changing_anything():
    """A head moved behind the subject leaves the sorted film alone; one moved into the picture does not."""
    stager = Stager()
    bearings = ["60 deg", "150 deg", "178 deg"]
    sets = [loads(WHOLE.replace('bearing = "60 deg", distance = "70 cm", height = "20 cm"', f'bearing = "{one}", '
                                'distance = "70 cm", height = "2 cm"')) for one in bearings]  # fmt: skip
    staged = [stager.staged(str(i), setup) for i, setup in enumerate(sets)]
    assert len(stager._sights.made) == 2
    for setup, it in zip(sets, staged, strict=True):
        fresh, _ = build(setup)
        assert all(np.array_equal(a, b) for a, b in zip(it.stage, fresh, strict=True))
        alone = Stager().staged("alone", setup)
        assert it.looks.keys() == alone.looks.keys()
        assert all(np.array_equal(it.looks[name].cells, alone.looks[name].cells) for name in it.looks)
    sees = [len(it.looks["rest"].cells) if "rest" in it.looks else 0 for it in staged]
    assert sees[0] == sees[1] < sees[2]
    assert stager.staged("0", sets[0]) is staged[0]


def test_trees_are_kept(monkeypatch):
    text = WHOLE.replace(
        'shape = { kind = "sphere", diameter = "60 mm" }',
        'shape = { kind = "slab", outline = { shape = "polygon", points = [["0 mm", "0 mm"], '
        '["40 mm", "0 mm"], ["20 mm", "30 mm"]] }, '
        'thickness = "5 mm" }',
    )
    import throughlight.study.staging as staging

    built = []
    real = staging.mesh_tables
    monkeypatch.setattr(staging, "mesh_tables", lambda bodies: built.append(1) or real(bodies))
    stager = Stager()
    setups = [loads(text.replace('bearing = "60 deg"', f'bearing = "{angle} deg"')) for angle in (50, 60, 70)]
    staged = [stager.staged(str(i), setup) for i, setup in enumerate(setups)]
    assert len(built) == 1
    for setup, it in zip(setups, staged, strict=True):
        fresh, _ = build(setup)
        assert all(np.array_equal(a, b, equal_nan=a.dtype.kind == "f") for a, b in zip(it.stage, fresh, strict=True))
