from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats
from scipy.stats import qmc

from chi2 import agrees, level
from doors import loop
from throughlight.trace import sampler

MASK = 2**64 - 1
KEYS = np.random.default_rng(2024).integers(0, 2**64, 2000, dtype=np.uint64)


@loop
def _draws(seed, replicate, stream, index, count):
    out = np.empty(count)
    state = sampler.start(seed, replicate, stream, index)
    for i in range(count):
        out[i], state = sampler.draw(state)
    return out


@loop
def _first_draws(seed, replicate, stream, count):
    """The first three numbers of many neighbouring paths."""
    out = np.empty((count, 3))
    for i in range(count):
        state = sampler.start(seed, replicate, stream, i)
        for j in range(3):
            out[i, j], state = sampler.draw(state)
    return out


@loop
def _draw_once(state):
    return sampler.draw(state)


@loop
def _plain(count, first=0):
    out = np.empty((count, sampler.DIMENSIONS))
    for i in range(count):
        for d in range(sampler.DIMENSIONS):
            out[i, d] = sampler.fraction(sampler.sobol(first + i, d))
    return out


@loop
def _scrambled(count, key, first=0):
    out = np.empty((count, sampler.DIMENSIONS))
    for i in range(count):
        for d in range(sampler.DIMENSIONS):
            out[i, d] = sampler.sobol_owen(first + i, d, key)
    return out


@loop
def _means(count, keys, d0, d1):
    """For each key the mean over `count` points of x, and of e^(x+y)."""
    line, smooth = np.zeros(len(keys)), np.zeros(len(keys))
    for j in range(len(keys)):
        for i in range(count):
            x, y = sampler.sobol_owen(i, d0, keys[j]), sampler.sobol_owen(i, d1, keys[j])
            line[j] += x / count
            smooth[j] += math.exp(x + y) / count
    return line, smooth


@loop
def _flips(keys, depth):
    """±1 for each key and each node of the binary tree of `depth` levels: whether its digit is flipped."""
    out = np.empty((2**depth - 1, len(keys)))
    for j in range(len(keys)):
        node = 0
        for digit in range(depth):
            for before in range(2**digit):
                word = sampler.scramble(np.uint64(before), sampler.mix(keys[j]))
                out[node, j] = 2.0 * np.float64((word >> np.uint64(digit)) & np.uint64(1)) - 1.0
                node += 1
    return out


# --- random ---------------------------------------------------------------------------------------------------------


def unmix(z):
    """Invert the hash: each xor-shift by repeating it, each product by the odd constant's inverse modulo 2⁶⁴."""

    def unshift(value, by):
        result = value
        for _ in range(64 // by):
            result = value ^ (result >> by)
        return result

    z = unshift(z, 31) * pow(0x94D049BB133111EB, -1, 2**64) & MASK
    z = unshift(z, 27) * pow(0xBF58476D1CE4E5B9, -1, 2**64) & MASK
    return unshift(z, 30)


def test_published_sequence():
    """SplitMix64 from the state 1234567: the values that independent implementations agree on (from memory)."""
    expected = (
        6457827717110365317,
        3203168211198807973,
        9817491932198370423,
        4593380528125082431,
        16408922859458223821,
    )
    state = np.uint64(1234567)
    for value in expected:
        u, state = _draw_once(state)
        assert u == (value >> 11) / 2**53
        state = np.uint64(state)


@pytest.mark.parametrize(("hashed", "expected"), [(MASK, 1.0 - 2.0**-53), (0, 0.0)])
def test_ends_of_the_range(hashed, expected):
    state = np.uint64((unmix(hashed) - 0x9E3779B97F4A7C15) & MASK)
    assert _draw_once(state)[0] == expected < 1.0


def test_draws_are_uniform_and_independent():
    n = 2**20
    u = _draws(1, 2, 3, 4, n)
    assert u.min() >= 0.0
    assert u.max() < 1.0
    agrees(np.bincount((u * 1024).astype(int), minlength=1024), np.full(1024, n / 1024), tests=5)
    # Low digits of the 53 as well as high ones.
    agrees(np.bincount((u * 2.0**53 % 1024).astype(int), minlength=1024), np.full(1024, n / 1024), tests=5)
    # Pairs and triples of successive numbers.
    pairs = (u[0::2] * 32).astype(int) * 32 + (u[1::2] * 32).astype(int)
    agrees(np.bincount(pairs, minlength=1024), np.full(1024, n / 2048), tests=5)
    cut = u[: n // 3 * 3].reshape(-1, 3)
    triples = ((cut * 10).astype(int) @ [100, 10, 1]).astype(int)
    agrees(np.bincount(triples, minlength=1000), np.full(1000, len(cut) / 1000), tests=5)
    assert stats.kstest(u[:100_000], "uniform").pvalue > level(5)


def test_no_serial_correlation():
    """Correlation at lags 1 to 20 is normal with error 1/√n: twenty tests share a level of one per cent."""
    u = _draws(5, 0, 0, 0, 2**20) - 0.5
    z = np.array([12.0 * np.mean(u[lag:] * u[:-lag]) * math.sqrt(len(u) - lag) for lag in range(1, 21)])
    assert (2.0 * stats.norm.sf(np.abs(z)) > level(20)).all(), z


def test_neighbouring_paths_are_independent():
    n = 2**18
    first = _first_draws(1, 0, 7, n)
    for j in range(3):
        agrees(np.bincount((first[:, j] * 256).astype(int), minlength=256), np.full(256, n / 256), tests=6)
    # The same number of the next path, of the next replicate, of the next stream and of the next seed.
    u = first[:, 0]
    others = [
        np.roll(u, 1),
        _first_draws(1, 1, 7, n)[:, 0],
        _first_draws(1, 0, 8, n)[:, 0],
        _first_draws(2, 0, 7, n)[:, 0],
    ]
    z = np.array([12.0 * np.mean((u - 0.5) * (v - 0.5)) * math.sqrt(n) for v in others])
    assert (2.0 * stats.norm.sf(np.abs(z)) > level(len(z))).all(), z
    cells = (u * 16).astype(int) * 16 + (others[0] * 16).astype(int)
    agrees(np.bincount(cells, minlength=256), np.full(256, n / 256), tests=6)


def test_each_part_of_the_key_changes_half_of_the_bits():
    rng = np.random.default_rng(3)
    changed = np.zeros((4, 64))
    rounds = 2000
    for _ in range(rounds):
        parts = [int(v) for v in rng.integers(0, 2**40, 4)]
        base = int(sampler.start(*parts))
        for place in range(4):
            other = list(parts)
            other[place] ^= 1 << int(rng.integers(0, 40))
            difference = base ^ int(sampler.start(*other))
            changed[place] += [difference >> bit & 1 for bit in range(64)]
    z = (changed - rounds / 2) / math.sqrt(rounds / 4)
    assert (2.0 * stats.norm.sf(np.abs(z)) > level(z.size)).all(), np.abs(z).max()


def test_parts_of_the_key_are_not_interchangeable():
    starts = {int(sampler.start(*parts)) for parts in itertools.product(range(6), repeat=4)}
    assert len(starts) == 6**4


# --- quasi-random ---------------------------------------------------------------------------------------------------


def test_points_are_those_of_scipy():
    """scipy orders the same points by a Gray code: its i-th is the (i ⊕ i/2)-th of the sequence itself."""
    reference = qmc.Sobol(sampler.DIMENSIONS, scramble=False, bits=32).random(2**10)
    i = np.arange(2**10)
    np.testing.assert_array_equal(_plain(2**10)[i ^ (i >> 1)], reference)


def test_far_points_are_those_of_scipy():
    start = 2**22
    reference = qmc.Sobol(sampler.DIMENSIONS, scramble=False, bits=32).fast_forward(start).random(256)
    i = np.arange(start, start + 256)
    gray = i ^ (i >> 1)
    np.testing.assert_array_equal(np.array([_plain(1, g)[0] for g in gray]), reference)


@pytest.mark.parametrize("m", [1, 3, 6, 9, 12])
def test_scrambling_keeps_every_elementary_interval(m):
    """Dimensions 0 and 1 are a (0, m, 2)-net: one point in each 2^−a × 2^−(m−a) (Niederreiter 1992; Owen 1995).

    Every one of the 16 dimensions alone has one point in each 2^−m; and so has every later block of 2^m points.
    """
    count = 2**m
    for key in KEYS[:8]:
        for first in (0, 5 * count):
            points = _scrambled(count, key, first)
            assert points.min() >= 0.0
            assert points.max() < 1.0
            for a in range(m + 1):
                cells = (points[:, 0] * 2**a).astype(int) * 2 ** (m - a) + (points[:, 1] * 2 ** (m - a)).astype(int)
                assert len(np.unique(cells)) == count
            for d in range(sampler.DIMENSIONS):
                assert len(np.unique((points[:, d] * count).astype(int))) == count


def test_scrambling_is_nested():
    """Numbers that share exactly their first k digits share exactly their first k digits afterwards (Owen 1995)."""
    rng = np.random.default_rng(5)
    for key in KEYS[:300]:
        k = int(rng.integers(0, 32))
        a, rest = (int(x) for x in rng.integers(0, 2**32, 2))
        b = a ^ (1 << k) ^ (rest >> (k + 1) << (k + 1))
        differ = int(sampler.scramble(np.uint64(a), key)) ^ int(sampler.scramble(np.uint64(b), key))
        assert differ & ((1 << k) - 1) == 0
        assert differ >> k & 1 == 1


def test_each_scrambled_point_is_uniform():
    """Over keys, any point of any dimension is uniform and successive dimensions are independent."""
    one = np.array([_scrambled(1, key, 13)[0] for key in KEYS])
    for d in range(sampler.DIMENSIONS):
        agrees(np.bincount((one[:, d] * 50).astype(int), minlength=50), np.full(50, len(KEYS) / 50), tests=24)
    for d in range(8):
        cells = (one[:, d] * 8).astype(int) * 8 + (one[:, d + 1] * 8).astype(int)
        agrees(np.bincount(cells, minlength=64), np.full(64, len(KEYS) / 64), tests=24)


def test_flips_of_digits_are_independent():
    """Owen's scrambling flips the digit below every node of the tree by itself: means, pairs, triples and fours vanish.

    31 nodes (five digits) for pairs, the first 15 for triples and fours; 40 000 keys; Šidák over all of them.
    """
    keys = np.random.default_rng(6).integers(0, 2**64, 40_000, dtype=np.uint64)
    flips = _flips(keys, 5)
    fewer = flips[:15]
    means = [flips.mean(axis=1)]
    means.append(np.array([(flips[a] * flips[b]).mean() for a, b in itertools.combinations(range(31), 2)]))
    for size in (3, 4):
        chosen = itertools.combinations(range(15), size)
        means.append(np.array([np.prod(fewer[list(nodes)], axis=0).mean() for nodes in chosen]))
    z = np.concatenate(means) * math.sqrt(len(keys))
    assert (2.0 * stats.norm.sf(np.abs(z)) > level(len(z))).all(), np.abs(z).max()


@pytest.mark.parametrize(("m", "keys"), [(0, 2000), (3, 2000), (6, 2000), (9, 1000)])
def test_variance_of_a_ramp(m, keys):
    """One point at random in each 1/n, independently: the mean of x has the variance 1/(12·n³) exactly (Owen 1997).

    The sample variance of k means is off by √(2/k) of itself: four of these, 13 to 18 per cent.
    """
    n = 2**m
    line, _ = _means(n, KEYS[:keys], 3, 4)
    assert abs(line.mean() - 0.5) < 4.0 * math.sqrt(1.0 / (12.0 * n**3) / keys)
    assert line.var() * 12.0 * n**3 == pytest.approx(1.0, abs=4.0 * math.sqrt(2.0 / keys))


def test_variance_of_a_smooth_integrand_falls_with_the_cube():
    """e^(x+y) over the square: n⁻³ but for a logarithm (Owen 1997, "Scrambled net variance for integrals of smooth
    functions", Annals of Statistics 25). The mean is (e − 1)², by random points the variance would fall with n⁻¹.
    """
    sizes = 2 ** np.arange(2, 13)
    means = [_means(n, KEYS[:400], 0, 1)[1] for n in sizes]
    exact = (math.e - 1.0) ** 2
    for values in means:
        assert abs(values.mean() - exact) < 4.0 * values.std() / math.sqrt(len(values))
    variances = [values.var() for values in means]
    slope = np.polyfit(np.log(sizes), np.log(variances), 1)[0]
    print("slope", slope, "gain over random points", ((math.e**2 - 1) ** 2 / 4 - exact**2) / sizes[-1] / variances[-1])
    assert -3.1 < slope < -2.7


def test_further_dimensions_and_laps_are_independent():
    """From dimension 16 on numbers are plain hashes; from 2³² points on the sequence begins again, scrambled anew."""
    n = 1 << 14
    further = np.array([[sampler.sobol_owen(i, d, KEYS[0]) for d in (15, 16, 17, 1000)] for i in range(n)])
    for column in further.T[1:]:
        agrees(np.bincount((column * 64).astype(int), minlength=64), np.full(64, n / 64), tests=3)
    z = np.corrcoef(further.T)[np.triu_indices(4, 1)] * math.sqrt(n)
    assert (2.0 * stats.norm.sf(np.abs(z)) > level(len(z))).all(), z
    laps = [_scrambled(1024, KEYS[0], lap << 32) for lap in range(3)]
    assert not np.array_equal(laps[0], laps[1])
    assert not np.array_equal(laps[1], laps[2])
    for d in range(sampler.DIMENSIONS):  # each a whole sequence
        assert len(np.unique((laps[2][:, d] * 1024).astype(int))) == 1024
