"""Uniform numbers for paths: a counter-based random stream for each path, and a scrambled quasi-random sequence.

Random: the state counts up by an odd constant and a hash of it is the number, so a path's stream is fixed by its key
alone: the same on any number of threads. Sources: Weyl sequence with the finaliser of Steele, Lea and Flood 2014, "Fast
Splittable Pseudorandom Number Generators", in the variant "Mix13" of Stafford 2011.

Quasi-random: the Sobol sequence with the direction numbers of Joe and Kuo 2008, "Constructing Sobol Sequences with
Better Two-Dimensional Projections", SIAM J. Sci. Comput. 30(5), and the nested uniform scrambling of Owen 1995,
"Randomly Permuted (t,m,s)-Nets", by hashing as proposed by Laine and Karras 2011, "Stratified Sampling for Stochastic
Transparency": in a word whose lowest bit is the first binary digit, sums and odd products carry upward only, so every
digit is flipped by a hash of the key and of the digits before it.
"""

from __future__ import annotations

import numpy as np

from throughlight.optics.kernel import inlined, kernel

DIMENSIONS = 16
"""How many dimensions the Sobol sequence has; the numbers of further ones are plain hashes."""

_GOLDEN = np.uint64(0x9E3779B97F4A7C15)  # 2⁶⁴ over the golden ratio, made odd
_MIX_1 = np.uint64(0xBF58476D1CE4E5B9)
_MIX_2 = np.uint64(0x94D049BB133111EB)
_EVEN_1 = np.uint64(0x6C50B47CB23DB9C6)  # even: a digit must not reach itself
_EVEN_2 = np.uint64(0xB82F1E52A6F18B54)
_U1, _U11, _U27, _U30, _U31, _U32 = (np.uint64(k) for k in (1, 11, 27, 30, 31, 32))
_UNIT = 2.0**-53

# Degree s, inner coefficients a and first direction numbers m of dimensions 2, 3, … (Joe and Kuo 2008).
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


def _directions(s: int, a: int, first: tuple[int, ...]) -> list[int]:
    """Return the 32 direction numbers of one dimension, each with its first binary digit in the lowest bit."""
    m = list(first)
    for k in range(s, 32):
        new = m[k - s] ^ (m[k - s] << s)
        for i in range(1, s):
            if a >> (s - 1 - i) & 1:
                new ^= m[k - i] << i
        m.append(new)
    return [int(f"{m[k]:0{k + 1}b}"[::-1], 2) for k in range(32)]


def _by_nibbles() -> np.ndarray:
    """Return (dimensions, 8, 16): what each value of each four bits of an index adds to the point, uint32."""
    directions = np.array([[1 << k for k in range(32)], *(_directions(*row) for row in _JOE_KUO)], np.uint32)
    table = np.zeros((DIMENSIONS, 8, 16), np.uint32)
    for bit in range(4):
        chosen = (np.arange(16) >> bit & 1).astype(np.uint32)
        table ^= directions[:, bit::4, None] * chosen
    return table


_TABLE = _by_nibbles()


@inlined
def mix(z):
    """Return a hash of 64 bits: every bit of the argument flips every bit of the result half the time."""
    z = (z ^ (z >> _U30)) * _MIX_1
    z = (z ^ (z >> _U27)) * _MIX_2
    return z ^ (z >> _U31)


@kernel
def start(seed, replicate, stream, index):
    """Return the state that begins the random stream of one path, a uint64; also used as a key.

    The arguments are whole numbers: the run's seed, the replicate, the stream (a reading or a pixel), and the path.
    """
    z = mix(np.uint64(seed) + _GOLDEN)
    z = mix((z ^ np.uint64(replicate)) + _GOLDEN)
    z = mix((z ^ np.uint64(stream)) + _GOLDEN)
    return mix((z ^ np.uint64(index)) + _GOLDEN)


@inlined
def draw(state):
    """Return a uniform number in [0, 1) of 53 bits, and the next state."""
    state = np.uint64(state) + _GOLDEN
    return np.int64(mix(state) >> _U11) * _UNIT, state


@kernel
def sobol(index, dimension):
    """Return a point of the Sobol sequence in its natural order: 32 binary digits, the first one in the lowest bit.

    0 ≤ dimension < DIMENSIONS; the index counts modulo 2³². `fraction` makes it a number.
    """
    left = np.uint64(index) & np.uint64(0xFFFFFFFF)
    d = np.uint64(dimension)
    x = np.uint64(0)
    k = np.uint64(0)
    while left > np.uint64(0):
        x ^= np.uint64(_TABLE[d, k, left & np.uint64(15)])
        left >>= np.uint64(4)
        k += _U1
    return x


@kernel
def scramble(x, key):
    """Return the binary digits x, first one lowest, scrambled: each flipped by a hash of key and earlier digits.

    The digits above the 32nd, zero in x, become random ones.
    """
    more = mix(key)
    x = (x + key) * ((key >> _U32) | _U1)
    x ^= x * _EVEN_1
    x = (x + more) * ((more >> _U32) | _U1)
    return x ^ (x * _EVEN_2)


@kernel
def fraction(x):
    """Return the number in [0, 1) whose binary digits are x, the first one in the lowest bit."""
    x = ((x & np.uint64(0x5555555555555555)) << _U1) | ((x >> _U1) & np.uint64(0x5555555555555555))
    x = ((x & np.uint64(0x3333333333333333)) << np.uint64(2)) | ((x >> np.uint64(2)) & np.uint64(0x3333333333333333))
    x = ((x & np.uint64(0x0F0F0F0F0F0F0F0F)) << np.uint64(4)) | ((x >> np.uint64(4)) & np.uint64(0x0F0F0F0F0F0F0F0F))
    x = ((x & np.uint64(0x00FF00FF00FF00FF)) << np.uint64(8)) | ((x >> np.uint64(8)) & np.uint64(0x00FF00FF00FF00FF))
    x = ((x & np.uint64(0x0000FFFF0000FFFF)) << np.uint64(16)) | ((x >> np.uint64(16)) & np.uint64(0x0000FFFF0000FFFF))
    x = (x << _U32) | (x >> _U32)
    return np.int64(x >> _U11) * _UNIT


@kernel
def sobol_owen(index, dimension, key):
    """Return the number in [0, 1) of a scrambled Sobol sequence.

    Parameters
    ----------
    index
        Place in the sequence, ≥ 0; the first 2ᵐ points are the evenest. From 2³² on it begins again, each time under
        another scrambling.
    dimension
        ≥ 0; from DIMENSIONS on the number is a plain hash of the three arguments.
    key
        A uint64 that names the scrambling, one for each independent replicate.

    All dimensions belong to one sequence, so points need no shuffling, which only padding with several small sets would
    call for.
    """
    own = mix(np.uint64(key) + np.uint64(dimension) * _GOLDEN)
    if np.uint64(dimension) >= np.uint64(DIMENSIONS):
        return np.int64(mix(own ^ (np.uint64(index) * _MIX_1)) >> _U11) * _UNIT
    lap = np.uint64(index) >> _U32
    if lap > np.uint64(0):
        own = mix(own ^ lap)
    return fraction(scramble(sobol(index, dimension), own))
