"""What is wrong, or doubtful, between the things of a set: names used twice, things that stand in one another."""

from __future__ import annotations

from throughlight.setup.kind import found
from throughlight.setup.profile import LampFile
from throughlight.setup.solids import Solid, overlap, solids, surrounds
from throughlight.setup.whole import LISTS, Setup
from throughlight.setup.words import Path

TOUCHING = 1e-3
"""m; things that overlap by no more only touch."""


def between_tables(setup: Setup) -> list[tuple[Path, str]]:
    """Return the mistakes that only show when the tables are seen together, as path and words."""
    return [*_names_used_twice(setup), *_camera_inside(setup)]


def _names_used_twice(setup: Setup) -> list[tuple[Path, str]]:
    seen: dict[str, str] = {}
    mistakes: list[tuple[Path, str]] = []
    lists = (setup.heads, setup.cards, setup.flags, setup.supports, setup.spots, setup.windows)
    names = [[thing.name for thing in things] for things in lists]
    for key, i, name in ((key, i, name) for key, some in zip(LISTS, names, strict=True) for i, name in enumerate(some)):
        if name in seen:
            words = f"found {found(name)} a second time (first in {seen[name]}); a name of its own would fit"
            mistakes.append(((key, i, "name"), words))
        else:
            seen[name] = f"{key}[{i + 1}]"
    return mistakes


def _camera_inside(setup: Setup) -> list[tuple[Path, str]]:
    return [
        (("camera", "at"), f"the camera stands inside {_named(body)}; a place outside of it would fit")
        for body in solids(setup)
        if surrounds(body, setup.camera.at)
    ]


_ROUGH = 0.1
_LEFT_OUT = 0.001


def setup_warnings(setup: Setup) -> list[str]:
    """Return a sentence for each pair of things that stand in one another, and for a skin rougher than the model bears.

    A mesh is judged by its box and a polygon slice by its convex hull, which the sentence says.

    Parameters
    ----------
    setup
        The checked set.

    Returns
    -------
    list of str
        Sentences, in the order heads, cards, flags, backdrop, table, subject, supports.
    """
    things = solids(setup)
    pairs = ((a, b) for i, a in enumerate(things) for b in things[i + 1 :] if a.key != b.key)
    doubts = [_doubt(a, b, depth) for a, b in pairs if _near(a, b) and (depth := overlap(a, b)) > TOUCHING]
    return doubts + _rough_skin(setup) + _light_left_out(setup)


def _rough_skin(setup: Setup) -> list[str]:
    """Return a caution where the boundary's model loses light that is scattered more than once between facets.

    The losses are those of a thick lossless slab, n = 1.4, in an even room: .1 stop at α = .1, .4 at .3, .75 at .5.
    """
    subject = setup.subject
    if subject is None or subject.material is None:
        return []
    roughness = subject.material.roughness
    if subject.material.n == 1.0 or roughness <= _ROUGH:
        return []
    return [
        f"{subject.name}: a skin of roughness {roughness:g} leaves out light that bounces between its facets; a thick "
        f"pale body then reads up to {1.55 * roughness - 0.05:.1f} stop too dark (up to {_ROUGH:g} is within 0.1)"
    ]


def _light_left_out(setup: Setup) -> list[str]:
    """Return a caution for each lamp file whose light partly goes behind the face."""
    files = [(head.name, head.profile) for head in setup.heads if isinstance(head.profile, LampFile)]
    return [
        f"{name}: {100.0 * profile.behind:.2g} % of {profile.path.name} goes behind the face and is left out"
        for name, profile in files
        if profile.behind > _LEFT_OUT
    ]


def _near(a: Solid, b: Solid) -> bool:
    """Return whether the upright boxes round two bodies meet: most pairs are settled by this."""
    low = a.corners.min(0) - a.radius <= b.corners.max(0) + b.radius
    high = b.corners.min(0) - b.radius <= a.corners.max(0) + a.radius
    return bool(low.all() and high.all())


def _doubt(a: Solid, b: Solid, depth: float) -> str:
    rough = a.contains is not None or b.contains is not None
    closing = " (by the outline of its box or hull; it may yet pass)" if rough else ""
    if b.key[0] == "support" and a.key[0] == "subject":
        return f"{_named(b)} runs through {_named(a)}, {_far(depth)} deep{closing}"
    return f"{_named(a)} and {_named(b)} stand in one another; one must move by {_far(depth)} to come free{closing}"


def _named(body: Solid) -> str:
    kind = str(body.key[0])
    return f"the {kind}" if body.name == kind else f'the {kind} "{body.name}"'


def _far(depth: float) -> str:
    return f"{depth * 1e3:.0f} mm" if depth < 0.1 else f"{depth * 1e2:.0f} cm"
