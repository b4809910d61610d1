"""Gauss–Legendre quadrature in equal panels: as good as one rule of very many nodes, which costs seconds to find."""

from __future__ import annotations

import numpy as np


def panels(low, high, count, nodes=16):
    """Return nodes and weights on [low, high], `count` panels of `nodes` each."""
    x, w = np.polynomial.legendre.leggauss(nodes)
    width = (high - low) / count
    starts = low + width * np.arange(count)[:, None]
    return (starts + width * (x + 1.0) / 2.0).ravel(), np.tile(w * width / 2.0, count)
