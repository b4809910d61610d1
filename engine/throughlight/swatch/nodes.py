"""Directions in which a stack of layers is solved: quadrature nodes that refraction carries into one another.

Refraction keeps s = n·sin θ (Snell), and with it n²·µ·dµ = −s·ds, µ = cos θ. So one set of values s serves all
layers: in a layer of index n the node s has the cosine µ = √(1 − s²/n²) and the weight w that makes n²·µ·w the same
everywhere. The range of s is cut where a kind of light ends: at 1, beyond which nothing leaves into air, and at every
layer's index. Each piece is a Gauss–Legendre rule in the cosine of the medium in which it reaches grazing, of which a
boundary's transmission is a smooth function; of the cosine on the far side it is not, near the critical angle. The
piece that air has is a Radau rule, which holds the normal itself (Prahl, van Gemert and Welch 1993, Appl. Opt. 32:559).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

Array = NDArray[np.float64]

_CLOSER = 1e-9
"""Indices that differ by less are one index."""


class Nodes(NamedTuple):
    """Directions common to all layers of a stack, the normal last among those that air has.

    Attributes
    ----------
    s
        (n,) n·sin θ, dimensionless.
    share
        (n,) n²·µ·w of each node, dimensionless: its part of a flux.
    in_air
        How many nodes, the first ones, can be in air.
    """

    s: Array
    share: Array
    in_air: int


def radau(count: int) -> tuple[Array, Array]:
    """Return nodes and weights of the Radau rule on (0, 1] that holds 1, exact for degree 2·count − 2.

    The inner nodes are the zeros of P′ of the Jacobi family (1, 0), found as eigenvalues of its recurrence (Golub and
    Welsch 1969, Math. Comp. 23:221), which stays exact where the polynomial's coefficients would not.

    Parameters
    ----------
    count
        Number of nodes, at least 1.

    Returns
    -------
    nodes, weights
        (count,) each, ascending.
    """
    k = np.arange(count - 1, dtype=np.float64)
    middle = -1.0 / ((2 * k + 1) * (2 * k + 3))
    side = np.sqrt(k[1:] * (k[1:] + 1)) / (2 * k[1:] + 1)
    x = np.linalg.eigvalsh(np.diag(middle) + np.diag(side, 1) + np.diag(side, -1))
    lower = legendre.legval(x, [0.0] * (count - 1) + [1.0])
    weights = (1.0 + x) / (count * lower) ** 2
    return 0.5 * (1.0 + np.append(x, 1.0)), 0.5 * np.append(weights, 2.0 / count**2)


def nodes_for(indices: Sequence[float], count: int) -> Nodes:
    """Return the directions for layers of the given refractive indices in air.

    Parameters
    ----------
    indices
        Refractive index of each layer, at least 1.
    count
        Number of directions in a hemisphere, shared evenly between the pieces of the range.

    Returns
    -------
    Nodes
        At least `count` directions.

    Raises
    ------
    ValueError
        If an index is below 1 or fewer than two directions a piece are asked for.
    """
    ends = [1.0]
    for n in sorted(indices):
        if n - ends[-1] > _CLOSER:
            ends.append(n)
    if min(indices) < 1.0 or count < 2 * len(ends):
        raise ValueError(f"{count} directions for the indices {list(indices)}: at least 1 each, two a piece would fit")
    points = -(-count // len(ends))
    cosine, weight = radau(points)
    s, share = [np.sqrt((1.0 - cosine) * (1.0 + cosine))], [cosine * weight]
    x, w = legendre.leggauss(points)
    for start, end in pairwise(ends):
        widest = np.sqrt((end - start) * (end + start)) / end
        cosine, weight = 0.5 * widest * (1.0 + x), 0.5 * widest * w
        s.append(end * np.sqrt((1.0 - cosine) * (1.0 + cosine)))
        share.append(end * end * cosine * weight)
    return Nodes(np.concatenate(s), np.concatenate(share), points)


def cosines(nodes: Nodes, n: float) -> tuple[NDArray[np.bool_], Array, Array]:
    """Return which nodes a layer of index n has, and their cosines and weights there.

    Returns
    -------
    present, cosine, weight
        (n,) mask over all nodes; (k,) cosines and weights of those present.
    """
    present = nodes.s < n + _CLOSER
    ratio = nodes.s[present] / n
    cosine = np.sqrt(np.maximum((1.0 - ratio) * (1.0 + ratio), 1e-300))
    return present, cosine, nodes.share[present] / (n * n * cosine)
