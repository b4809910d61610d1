from __future__ import annotations

import math

import numba
import numpy as np
import pytest
from scipy import stats
from scipy.stats import qmc

import chi2
from throughlight.trace.sampler import DIMENSIONS, draw, fraction, mix, scramble, sobol, sobol_owen, start

KEY = np.uint64(20240229)


@numba.njit
def _sobol(indices, dimensions):
    out = np.empty((len(indices), dimensions))
    for i in range(len(indices)):
        for d in range(dimensions):
            out[i, d] = fraction(sobol(indices[i], d))
    return out


@numba.njit
def _scrambled(first, count, dimensions, key):
    out = np.empty((count, len(dimensions)))
    for i in range(count):
        for d in range(len(dimensions)):
            out[i, d] = sobol_owen(first + i, dimensions[d], key)
    return out


@numba.njit
def _draws(state, count):
    out = np.empty(count)
    for i in range(count):
        out[i], state = draw(state)
    return out


def scrambled(count, dimensions, key=KEY, first=0):
    return _scrambled(np.int64(first), count, np.array(dimensions, np.int64), key)


def gray(i):
    return i ^ (i >> 1)


def test_sobol_points_scipy():
    """scipy.stats.qmc.Sobol has Joe and Kuo's numbers too, and counts by the Gray code (Antonov and Saleev 1979)."""
    expected = qmc.Sobol(DIMENSIONS, scramble=False).random_base2(12)
    indices = gray(np.arange(1 << 12))
    assert np.array_equal(_sobol(indices, DIMENSIONS), expected)


def test_sobol_points_far_along_the_sequence_scipy():
    sequence = qmc.Sobol(DIMENSIONS, scramble=False)
    sequence.fast_forward((1 << 26) + 12345)
    indices = gray((1 << 26) + 12345 + np.arange(64))
    assert np.array_equal(_sobol(indices, DIMENSIONS), sequence.random(64))


@pytest.mark.parametrize("m", [1, 4, 7, 10])
@pytest.mark.parametrize("key", [1, 77, 123456789])
def test_scrambled_points_remain_a_0_m_2_net(m, key):
    """Nested scrambling keeps the net property (Owen 1995): one of 2ᵐ points in each box of area 2⁻ᵐ, wide or tall."""
    points = scrambled(1 << m, (0, 1), np.uint64(key))
    for wide in range(m + 1):
        boxes = np.floor(points[:, 0] * 2**wide) * 2 ** (m - wide) + np.floor(points[:, 1] * 2 ** (m - wide))
        assert len(np.unique(boxes)) == 1 << m


@pytest.mark.parametrize("dimension", range(DIMENSIONS))
def test_each_dimension_is_stratified(dimension):
    points = scrambled(1 << 11, (dimension,))
    assert np.array_equal(np.sort(np.floor(points[:, 0] * 2**11)), np.arange(1 << 11))


def test_scrambling_is_nested():
    """Two numbers that share exactly their first k digits share exactly their first k digits afterwards (Owen 1995)."""
    rng = np.random.default_rng(5)
    for _ in range(300):
        k = int(rng.integers(0, 32))
        a, rest = (int(x) for x in rng.integers(0, 1 << 32, 2))
        b = a ^ (1 << k) ^ (rest >> (k + 1) << (k + 1))
        key = np.uint64(rng.integers(0, 1 << 63))
        differ = int(scramble(np.uint64(a), key)) ^ int(scramble(np.uint64(b), key))
        assert differ & ((1 << k) - 1) == 0
        assert (differ >> k) & 1 == 1


@numba.njit
def _flips(depth, keys):
    """Whether each key flips digit `depth`, for every value of the digits before it: (keys, 2^depth) of ±1."""
    out = np.empty((keys, 1 << depth))
    for k in range(keys):
        for prefix in range(1 << depth):
            digit = (scramble(np.uint64(prefix), mix(np.uint64(k))) >> np.uint64(depth)) & np.uint64(1)
            out[k, prefix] = 1.0 - 2.0 * digit
    return out


@pytest.mark.parametrize("depth", range(1, 9))
def test_digits_flip_independently_in_any_two_strata(depth):
    """Owen 1997 derives the variance from this: flips are even, and uncorrelated between any two strata."""
    keys = 20_000
    flips = _flips(depth, keys)
    pairs = (flips.T @ flips)[np.triu_indices(1 << depth, 1)] / math.sqrt(keys)
    means = flips.sum(axis=0) / math.sqrt(keys)
    # z-tests, Šidák-corrected for their number: the largest of n of |N(0, 1)|.
    for z in (pairs, means):
        assert np.abs(z).max() < stats.norm.isf(chi2.level(8 * 2 * len(z)) / 2)


@numba.njit
def _means(count, dimension, keys):
    out = np.zeros(keys)
    for k in range(keys):
        key = mix(np.uint64(k + 1))
        for i in range(count):
            out[k] += sobol_owen(np.int64(i), np.int64(dimension), key) / count
    return out


@pytest.mark.parametrize("dimension", [0, 1, 9])
@pytest.mark.parametrize("m", [0, 3, 6, 9])
def test_variance_of_a_scrambled_mean_owen_1997(dimension, m):
    """Scrambled, each of n = 2ᵐ strata holds one even point of its own, so the mean of u has variance 1/(12·n³)."""
    keys, n = 4000, 1 << m
    ratio = np.var(_means(n, dimension, keys), ddof=1) * 12.0 * n**3
    # The variance of a normal sample has a relative standard error √(2/(keys − 1)) = .0224; 4 of them.
    assert abs(ratio - 1.0) < 4.0 * math.sqrt(2.0 / (keys - 1))
    assert abs(np.mean(_means(n, dimension, keys)) - 0.5) < 4.0 * math.sqrt(1.0 / (12.0 * n**3 * keys))


def _spread_of_estimates(integrand, dimensions, m):
    return np.std([integrand(scrambled(1 << m, dimensions, np.uint64(1000 + k))).mean() for k in range(64)], ddof=1)


def test_error_of_a_smooth_integral_falls_faster_than_by_chance():
    """∏ (π/2)·sin(πx) over four dimensions is 1; by chance its standard deviation is √((π²/8)⁴ − 1)/√n = 1.146/√n.

    From 2⁶ to 2¹² points chance gains a factor 8, n^(−3/4) gains 23, and Owen 1997 has n^(−3/2) up to logarithms in the
    end. Measured: .0477 at 2⁶ and .00139 at 2¹², 34 times smaller and 13 times under chance.
    """

    def integrand(x):
        return np.prod(0.5 * math.pi * np.sin(math.pi * x), axis=1)

    chance = math.sqrt((math.pi**2 / 8.0) ** 4 - 1.0)
    few, many = (_spread_of_estimates(integrand, (4, 5, 6, 7), m) for m in (6, 12))
    print(f"standard deviations {few:.3g} at 2^6, {many:.3g} at 2^12; by chance {chance / 8:.3g}, {chance / 64:.3g}")
    assert few / many > 23.0
    assert many < chance / 64.0 / 10.0


def test_a_jump_is_integrated_better_than_by_chance():
    """The share of the square under x + y < 0.7, a jump: by chance √(.245·.755/n)."""

    def integrand(x):
        return (x.sum(axis=1) < 0.7).astype(float)

    assert _spread_of_estimates(integrand, (0, 1), 12) < math.sqrt(0.245 * 0.755 / 4096.0) / 4.0


def test_dimensions_beyond_the_table_and_later_laps_are_random():
    beyond = scrambled(1 << 14, (DIMENSIONS, DIMENSIONS + 1, 1000))
    laps = [scrambled(1 << 10, (0, 1), first=lap << 32) for lap in range(3)]
    assert np.abs(np.corrcoef(beyond.T)[np.triu_indices(3, 1)]).max() < 4.0 / math.sqrt(1 << 14)
    assert not np.array_equal(laps[0], laps[1])
    assert not np.array_equal(laps[1], laps[2])
    for points in (beyond[:, 0], beyond[:, 2], laps[1][:, 0]):
        assert stats.kstest(points, "uniform").pvalue > 1e-3
    # A lap is a whole sequence of its own.
    assert np.array_equal(np.sort(np.floor(laps[2][:, 1] * 1024)), np.arange(1024))


def test_keys_are_independent():
    means = np.array([scrambled(16, (0,), np.uint64(k)).mean() for k in range(4000)])
    assert abs(np.corrcoef(means[:-1], means[1:])[0, 1]) < 4.0 / math.sqrt(len(means))


@pytest.fixture(scope="module")
def numbers():
    return _draws(start(1, 2, 3, 4), 1 << 20)


def test_draws_are_uniform_and_below_one(numbers):
    assert (numbers >= 0.0).all()
    assert (numbers < 1.0).all()
    chi2.agrees(np.bincount((numbers * 1024).astype(int), minlength=1024), np.full(1024, (1 << 20) / 1024), tests=3)
    low = (numbers * 2.0**53).astype(np.int64) % 256
    chi2.agrees(np.bincount(low, minlength=256), np.full(256, (1 << 20) / 256), tests=3)


def test_draws_are_uncorrelated(numbers):
    n = len(numbers)
    centred = (numbers - 0.5) * math.sqrt(12.0)
    for lag in (1, 2, 3, 4, 7, 16, 64):
        assert abs(np.mean(centred[:-lag] * centred[lag:])) * math.sqrt(n) < 4.0
    x, y, z = (numbers[: n - n % 3] * 16).astype(int).reshape(-1, 3).T
    cells = (x * 16 + y) * 16 + z
    chi2.agrees(np.bincount(cells, minlength=4096), np.full(4096, len(cells) / 4096), tests=3)


@numba.njit
def _first_of_streams(which, count):
    out = np.empty(count)
    for i in range(count):
        key = [np.int64(7), np.int64(7), np.int64(7), np.int64(7)]
        key[which] = i - 2
        out[i], _ = draw(start(key[0], key[1], key[2], key[3]))
    return out


@pytest.mark.parametrize("which", range(4))
def test_neighbouring_paths_replicates_streams_and_seeds_are_unrelated(which):
    first = _first_of_streams(which, 1 << 16)
    assert len(np.unique(first)) == 1 << 16
    assert stats.kstest(first, "uniform").pvalue > 1e-3
    centred = (first - 0.5) * math.sqrt(12.0)
    for lag in (1, 2, 8, 256):
        assert abs(np.mean(centred[:-lag] * centred[lag:])) * math.sqrt(len(first)) < 4.0


def test_the_four_parts_of_a_key_are_not_interchangeable():
    states = {int(start(*key)) for key in [(1, 2, 3, 4), (2, 1, 3, 4), (1, 3, 2, 4), (1, 2, 4, 3), (4, 3, 2, 1)]}
    assert len(states) == 5


def test_splitmix64_published_numbers():
    """First outputs for the seed 1234567, as listed by Rosetta Code, "Pseudo-random numbers/Splitmix64"."""
    expected = [
        6457827717110365317,
        3203168211198807973,
        9817491932198370423,
        4593380528125082431,
        16408922859458223821,
    ]
    state = np.uint64(1234567)
    for number in expected:
        u, state = draw(np.uint64(state))  # which Python hands back as a plain int
        assert u == (number >> 11) * 2.0**-53
