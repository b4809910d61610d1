"""Linear layers as whole numbers for a page: every re-exposure of them stays within a hundredth of a stop.

A layer's light X is coded against its own share o of the veil, q = round(log2(1 + X/o) / STEP), and read back as
o·(2^(q·STEP) − 1). Veil and layer are always turned up and down together, so that the relative error of X + o is that
of any sum of layers with their veil: half a step at most. Codes are therefore few where light drowns in the veil. Where
there is next to no veil, a floor far under the darkest stop of the scale stands for it.

Grain is what costs: it can't be foretold. All three bands share their paths and so most of their grain; red and blue
are therefore kept as what they differ from green by. Each number is foretold from its neighbours to the left and above,
and what is left over, the rest, is folded to numbers from zero up (0, −1, 1, −2, …). Rests are sorted by how large the
rests about them were, quiet places first and grainy ones last (a fifth is saved by that), and written as low and high
bytes, which DEFLATE (RFC 1951, in the wrapper of RFC 1950) packs by how often each occurs.
"""

from __future__ import annotations

import zlib
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[np.int32]
Floats = NDArray[np.floating]

STEP = 0.0185
"""Stops between codes: a sum of layers is right to half of that."""
FLOOR_STOPS = -16.5
"""Stops over mid-grey that stand for the veil of a layer that has next to none."""
LIVELY = (1, 6, 16, 40, 90, 180)
"""From which sums of the four sizes of rest about a place on it belongs to the next livelier kind of place."""
_GREEN, _OTHERS = 1, (0, 2)


class Coded(NamedTuple):
    """A layer as bytes.

    Attributes
    ----------
    low
        Packed: how many rests there are of each kind of place, green's kinds first, then red's, then blue's (32-bit,
        low byte first), then the low bytes of all rests by kind.
    high
        Packed: their high bytes, nearly all of which are zero.
    offset
        The light that code 0 is dark against, lx·s by band.
    """

    low: bytes
    high: bytes
    offset: tuple[float, float, float]


def encode(layer: Floats, veil: Floats, floor: float) -> Coded:
    """Return a layer as bytes.

    Parameters
    ----------
    layer
        (h, w, 3) lx·s; negative and not-a-number count as no light.
    veil
        (3,) lx·s that the layer itself lays over the frame.
    floor
        The least that stands for it, lx·s.
    """
    offset = np.maximum(np.asarray(veil, np.float64), floor)
    light = np.maximum(np.nan_to_num(np.asarray(layer, np.float64)), 0.0)
    codes = np.rint(np.log2(1.0 + light / offset) / STEP).astype(np.int32)
    green = codes[:, :, _GREEN]
    counts, sorted_rests = [], []
    for plane in (green, *(codes[:, :, band] - green for band in _OTHERS)):
        rest = plane - foretold(plane)
        kind = kinds(rest).ravel()
        counts.append(np.bincount(kind, minlength=len(LIVELY) + 1))
        sorted_rests.append(np.where(rest < 0, -2 * rest - 1, 2 * rest).ravel()[np.argsort(kind, kind="stable")])
    folded = np.concatenate(sorted_rests)
    head = np.concatenate(counts).astype("<u4").tobytes()
    low = head + folded.astype(np.uint8).tobytes()
    high = (folded >> 8).astype(np.uint8).tobytes()
    red, green_offset, blue = offset.tolist()
    return Coded(
        min(_packed(low, zlib.Z_HUFFMAN_ONLY), _packed(low, zlib.Z_RLE), key=len), _packed(high, zlib.Z_RLE),
        (red, green_offset, blue),
    )  # fmt: skip


def foretold(plane: Codes) -> Codes:
    """Return what each number of an (h, w) plane is expected to be: the mean of four neighbours, rounded down.

    They are the left one and the three above. What lies outside the plane is as the nearest inside; in the first row
    the left one stands for all four, and before the first of all numbers there is a zero.
    """
    above = np.zeros_like(plane)
    above[1:] = plane[:-1]
    left = np.zeros_like(plane)
    left[:, 1:] = plane[:, :-1]
    left[:, 0] = above[:, 0]
    above[0] = left[0]
    before = np.concatenate([above[:, :1], above[:, :-1]], axis=1)
    after = np.concatenate([above[:, 1:], above[:, -1:]], axis=1)
    before[0] = after[0] = left[0]
    expected: Codes = (left + above + before + after) >> 2
    return expected


def kinds(rest: Codes) -> NDArray[np.int64]:
    """Return the kind of each place of an (h, w) plane of rests, from quiet to lively; outside are rests of zero."""
    size = np.pad(np.abs(rest), ((1, 0), (1, 1)))
    about = size[1:, :-2] + size[:-1, :-2] + size[:-1, 1:-1] + size[:-1, 2:]
    found: NDArray[np.int64] = np.digitize(about, LIVELY)
    return found


def _packed(content: bytes, how: int) -> bytes:
    """Return bytes packed; looking for repeats gains nothing in grain: single bytes only, or runs of one byte too."""
    packer = zlib.compressobj(9, zlib.DEFLATED, zlib.MAX_WBITS, 9, how)
    return packer.compress(content) + packer.flush()
