"""Random numbers without memory: every number is a hash of what it is for, so any thread may ask for any of them.

Two kinds. A *state* gives a stream of independent numbers: a counter stepped by the golden ratio and mixed (SplitMix64:
Steele, Lea and Flood 2014, OOPSLA, "Fast Splittable Pseudorandom Number Generators"). A *quasi-random point* spreads a
sequence evenly over its dimensions: Sobol' points with the direction numbers of Joe and Kuo 2008 (SIAM J. Sci. Comput.
30:2635), their digits scrambled by nested uniform scrambling (Owen 1995), done by a hash (Laine and Karras 2011, EGSR,
"Stratified Sampling for Stochastic Transparency"; Burley 2020, JCGT 9(4), "Practical Hash-based Owen Scrambling").

Integers are hashed modulo 2⁶⁴, and every literal among them is an np.uint64, else numba would make it a float.
"""

from __future__ import annotations

import numpy as np

from throughlight.optics.kernel import kernel

DIMENSIONS = 16
"""Dimensions of the Sobol' sequence; further ones are plain hashes."""

_BITS = 32
# Degree, inner coefficients and initial numbers of the primitive polynomial of each dimension from the second on:
# the first rows of the table that goes with Joe and Kuo 2008, criterion D⁽⁶⁾.
_JOE_KUO = (
    (1, 0, (1,)),
    (2, 1, (1, 3)),
    (3, 1, (1, 3, 1)),
    (3, 2, (1, 1, 1)),
    (4, 1, (1, 1, 3, 3)),
    (4, 4, (1, 3, 5, 13)),
    (5, 2, (1, 1, 5, 5, 17)),
    (5, 4, (1, 1, 5, 5, 5)),
    (5, 7, (1, 1, 7, 11, 19)),
    (5, 11, (1, 1, 5, 1, 1)),
    (5, 13, (1, 1, 1, 3, 11)),
    (5, 14, (1, 3, 5, 5, 31)),
    (6, 1, (1, 3, 3, 9, 7, 49)),
    (6, 13, (1, 1, 1, 15, 21, 21)),
    (6, 16, (1, 3, 1, 13, 27, 49)),
)


def _direction_numbers(degree: int, inner: int, initial: tuple[int, ...]) -> list[int]:
    """Return the numbers m₁, m₂, … of one dimension by the recurrence over GF(2) (Bratley and Fox 1988, eq. 2)."""
    m = list(initial)
    while len(m) < _BITS:
        new = m[-degree] ^ (m[-degree] << degree)
        for k in range(1, degree):
            if (inner >> (degree - 1 - k)) & 1:
                new ^= m[-k] << k
        m.append(new)
    return m


def _nibble_table() -> np.ndarray:
    """Return what each four bits of an index add to a point, as mirrored binary fractions: (dimension, nibble, value).

    Mirrored, bit 0 is the half: scrambling wants the digits in this order, and a table by nibbles needs eight look-ups
    a number where one by bits needs thirty-two.
    """
    columns = [[1] * _BITS] + [_direction_numbers(*row) for row in _JOE_KUO]
    table = np.zeros((DIMENSIONS, _BITS // 4, 16), np.uint32)
    for dimension, numbers in enumerate(columns):
        for bit, m in enumerate(numbers):
            mirrored = int(f"{m:0{bit + 1}b}"[::-1], 2)
            for value in range(16):
                if (value >> (bit % 4)) & 1:
                    table[dimension, bit // 4, value] ^= np.uint32(mirrored)
    return table


_TABLE = _nibble_table()

_STEP = np.uint64(0x9E3779B97F4A7C15)  # 2⁶⁴ over the golden ratio, odd
_MIX_A = np.uint64(0xBF58476D1CE4E5B9)
_MIX_B = np.uint64(0x94D049BB133111EB)
_FRACTION = 1.0 / 9007199254740992.0  # 2⁻⁵³: the finest step that all doubles under 1 share
_DIMENSIONS = np.int64(DIMENSIONS)
_LOW = np.uint64(0xFFFFFFFF)


@kernel
def mix(z):
    """Return a thorough mixing of 64 bits, one to one (Steele, Lea and Flood 2014, with Stafford's 13th constants)."""
    z = (z ^ (z >> np.uint64(30))) * _MIX_A
    z = (z ^ (z >> np.uint64(27))) * _MIX_B
    return z ^ (z >> np.uint64(31))


@kernel
def start(seed, replicate, stream, index):
    """Return the state with which one path begins, uint64.

    Parameters
    ----------
    seed, replicate, stream, index
        int64 each: the run's seed, the independent randomisation, what is sampled, and the path's number.
    """
    z = mix(np.uint64(seed) + _STEP)
    z = mix(z ^ (np.uint64(replicate) + _STEP))
    z = mix(z ^ (np.uint64(stream) * _STEP + np.uint64(1)))
    return mix(z ^ (np.uint64(index) * _MIX_A + np.uint64(7)))


@kernel
def draw(state):
    """Return the next random number, uniform on [0, 1) in steps of 2⁻⁵³, and the state after it."""
    state = state + _STEP
    return np.float64(mix(state) >> np.uint64(11)) * _FRACTION, state


@kernel
def _mirror(x):
    """Return 64 bits in reverse order."""
    x = ((x >> np.uint64(1)) & np.uint64(0x5555555555555555)) | ((x & np.uint64(0x5555555555555555)) << np.uint64(1))
    x = ((x >> np.uint64(2)) & np.uint64(0x3333333333333333)) | ((x & np.uint64(0x3333333333333333)) << np.uint64(2))
    x = ((x >> np.uint64(4)) & np.uint64(0x0F0F0F0F0F0F0F0F)) | ((x & np.uint64(0x0F0F0F0F0F0F0F0F)) << np.uint64(4))
    x = ((x >> np.uint64(8)) & np.uint64(0x00FF00FF00FF00FF)) | ((x & np.uint64(0x00FF00FF00FF00FF)) << np.uint64(8))
    x = ((x >> np.uint64(16)) & np.uint64(0x0000FFFF0000FFFF)) | ((x & np.uint64(0x0000FFFF0000FFFF)) << np.uint64(16))
    return (x >> np.uint64(32)) | (x << np.uint64(32))


@kernel
def _mirrored_point(index, dimension):
    """Return the first 32 binary digits of a Sobol' point, the half as bit 0. Digits of index beyond the 32nd are lost."""
    rest = np.uint64(index) & _LOW
    x = np.uint64(0)
    nibble = np.int64(0)
    while rest:
        x ^= np.uint64(_TABLE[dimension, nibble, rest & np.uint64(15)])
        rest >>= np.uint64(4)
        nibble += 1
    return x


@kernel
def _scramble(x, key):
    """Return mirrored digits after nested uniform scrambling, 64 of them where 32 came in.

    Every step is one to one and carries from low bits to high ones only, so a digit is flipped or not according to the
    digits before it: points that share their first k digits still share k after it. Sums and products with the key are
    Laine and Karras's; the quadratic steps, which make flips of neighbouring strata independent of each other already
    for the first few digits, are those of Klimov and Shamir 2003 (CHES, "A New Class of Invertible Mappings"). Products
    run on past the last digit given, which fills the digits below with hashed ones.
    """
    x += key
    x += (x * x) | np.uint64(5)
    x *= (key >> np.uint64(31)) | np.uint64(1)
    x ^= x * (_MIX_B << np.uint64(1))
    x += key >> np.uint64(17)
    x += (x * x) | np.uint64(5)
    x ^= x * (_MIX_A << np.uint64(1))
    return x


@kernel
def sobol(index, dimension):
    """Return one coordinate of an unscrambled Sobol' point, in steps of 2⁻³².

    Parameters
    ----------
    index
        int64, 0 … 2³² − 1: the point's number in the order of Sobol' (not of the Gray code).
    dimension
        int64, 0 … DIMENSIONS − 1.
    """
    return np.float64(_mirror(_mirrored_point(index, dimension)) >> np.uint64(32)) * (1.0 / 4294967296.0)


@kernel
def sobol_owen(index, dimension, key):
    """Return one coordinate of a scrambled Sobol' point, uniform on [0, 1) in steps of 2⁻⁵³.

    Each dimension is scrambled by a key of its own, hashed from `key` and the dimension. All dimensions belong to one
    sequence, so its points need no shuffling, which only padding with several low-dimensional sets would call for;
    another `key` gives an independent randomisation of the whole sequence. From dimension DIMENSIONS on, numbers are
    plain hashes. An index of 2³² or more begins the sequence again with another scrambling.

    Parameters
    ----------
    index
        int64, the point's number, ≥ 0; the first 2ᵐ points for any m are the evenest.
    dimension
        int64, ≥ 0.
    key
        uint64, which randomisation of the sequence.
    """
    own = mix(key + np.uint64(dimension) * _STEP)
    if dimension >= _DIMENSIONS:
        return np.float64(mix(own ^ (np.uint64(index) * _MIX_A)) >> np.uint64(11)) * _FRACTION
    beyond = np.uint64(index) >> np.uint64(32)
    if beyond:
        own = mix(own ^ beyond)
    return np.float64(_mirror(_scramble(_mirrored_point(index, dimension), own)) >> np.uint64(11)) * _FRACTION
