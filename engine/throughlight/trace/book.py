"""Where contributions are written down: sums by cell of the film and sums by route, each by layer and band.

A layer is a head, or last the room. A route is 0 when the light came straight from the head's face, else 1 + the part
of the set that it left last before the thing that is read.
"""

from __future__ import annotations

from throughlight.optics.kernel import inlined


@inlined
def deposit(book, cell, route, layer, value):
    """Add one contribution to both sums of a book (cells[cell, layer, band], routes[layer, route, band])."""
    cells, routes = book
    cells[cell, layer, 0] += value[0]
    cells[cell, layer, 1] += value[1]
    cells[cell, layer, 2] += value[2]
    if route < routes.shape[1]:
        routes[layer, route, 0] += value[0]
        routes[layer, route, 1] += value[1]
        routes[layer, route, 2] += value[2]
