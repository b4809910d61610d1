"""What is wrong, or doubtful, between the things of a set: names used twice, things that stand in one another."""

from __future__ import annotations

import numpy as np

from throughlight.setup.convex import Solid, frame, overlap, surrounds
from throughlight.setup.kind import found
from throughlight.setup.profile import LampFile
from throughlight.setup.solids import solids
from throughlight.setup.subject_solids import subject_solid
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
    flats = (setup.cards, setup.flags, setup.supports)
    lists = (setup.heads, *flats, setup.spots, setup.windows, setup.subjects, setup.sheets)
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


_LEFT_OUT = 0.001


def setup_warnings(setup: Setup) -> list[str]:
    """Return a sentence for each pair of things that stand in one another, and for each other doubt.

    Against other things a mesh is judged by its box, a slice and a body of revolution by their convex hull, which the
    sentence says. Subjects may stand within one another or in one another's hollow. Doubtful are also a subject of an
    implausible size, a liquid that stands aslant, and a skin rougher than the model bears.

    Parameters
    ----------
    setup
        The checked set.

    Returns
    -------
    list of str
        Sentences, in the order heads, cards, flags, sheets, backdrop, table, subject, supports.
    """
    return [*standing_in_one_another(setup).values(), *_sizes(setup), *_aslant(setup), *_light_left_out(setup)]


def standing_in_one_another(setup: Setup) -> dict[tuple[str, str], str]:
    """Return the pairs of things that stand in one another, by name as sentences call them, each with its sentence.

    Parameters
    ----------
    setup
        The checked set.
    """
    things = solids(setup)
    pairs = ((a, b) for i, a in enumerate(things) for b in things[i + 1 :])
    return {
        (_named(a), _named(b)): _doubt(a, b, depth)
        for a, b in pairs
        if _near(a, b) and (depth := overlap(a, b)) > TOUCHING and not _meant(setup, a, b)
    }


def _meant(setup: Setup, a: Solid, b: Solid) -> bool:
    """Return whether two subjects that seem to overlap stand in one another's hollow, or one in the other's matter."""
    if a.key[0] != "subject" or b.key[0] != "subject":
        return False
    from throughlight.setup.nesting import together

    one, other = (setup.subjects[int(body.key[1])] for body in (a, b))
    return together(one, other, setup.camera.at, TOUCHING)


_LARGE, _SMALL = 3.0, 1e-4


def _sizes(setup: Setup) -> list[str]:
    """Return a doubt for each subject that is larger or smaller, m, than what is photographed on a table."""
    doubts = []
    for subject in setup.subjects:
        body = subject_solid(subject, ("subject",), setup.camera.at)
        size = float(np.ptp(body.corners, axis=0).max()) + 2.0 * body.radius
        if not _SMALL <= size <= _LARGE:
            told = f"{size:.3g} m" if size > 1.0 else f"{size * 1e3:.2g} mm"
            doubts.append(f"{subject.name}: it is {told} from end to end; its unit may be a wrong one")
    return doubts


def _aslant(setup: Setup) -> list[str]:
    """Return a doubt for each filled vessel that does not stand upright: the liquid is tilted with it."""
    doubts = []
    for subject in setup.subjects:
        upright = frame(subject.at, subject.faces(setup.camera.at), subject.turn)[1, 1]
        if subject.fill is not None and upright < 1.0 - 1e-6:
            doubts.append(
                f"{subject.name}: the vessel is tilted, and the liquid's surface with it; "
                "an aim at the height of its place, and no turn, would stand it upright"
            )
    return doubts


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
