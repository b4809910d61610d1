"""The usual cautions that fit a set: short, and never in place of local rules.

The distances from which on a caution is given are common sense and have no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from throughlight.setup import Material
from throughlight.sheets.plan import Plan
from throughlight.sheets.plan_kit import THIN_SUPPORT, numbered, on_boom
from throughlight.sheets.plan_pieces import Flat, Piece
from throughlight.sheets.plan_words import Tape

LAST = "These reminders don't replace local rules, the makers' instructions or a licensed electrician."
_CLOSE = 0.5
"""m between a head's face and what could scorch."""
_HIGH = 0.25
"""m over the mark from which on a head stands high."""
_PERISHABLE = (
    "apple flesh", "potato", "pear flesh", "whole milk", "skim milk", "regular milk, forward", "soy milk",
    "chocolate milk", "cream", "tomato sauce", "chicken meat", "grapefruit juice", "apple juice", "cranberry juice",
    "honey, clear", "honey, set", "olive oil", "red wine", "white wine", "lager beer", "cola", "tea", "black coffee",
    "leaf", "young leaf", "autumn leaf", "red leaf", "white petal", "ice", "cloudy ice",
)  # fmt: skip


def cautions(plan: Plan, tape: Tape) -> tuple[str, ...]:
    """Return the cautions that fit, a sentence or two each; the last says what they don't replace."""
    rules: tuple[Callable[[Plan, Tape], str | None], ...] = (_flash, _heat, _eyes, _heavy, _cables, _wire, _food)
    said = [words for rule in rules if (words := rule(plan, tape)) is not None]
    return (*said, LAST)


def _flashes(plan: Plan) -> list[Piece]:
    return [piece for piece, one in zip(numbered(plan, "head"), plan.setup.heads, strict=True) if not one.continuous]


def _list(pieces: list[Piece]) -> str:
    numbers = [str(piece.number) for piece in pieces]
    return numbers[0] if len(numbers) == 1 else f"{', '.join(numbers[:-1])} and {numbers[-1]}"


def _flash(plan: Plan, tape: Tape) -> str | None:
    if not _flashes(plan):
        return None
    return (
        "Flash heads run on mains and hold charged capacitors, also when unplugged: never open one, follow the maker's "
        "instructions, leave wiring to a licensed electrician and keep to the local electrical code."
    )


def _heat(plan: Plan, tape: Tape) -> str | None:
    heads = numbered(plan, "head")
    flats = [flat for piece in numbered(plan, "backdrop", "sheet", "card", "flag") for flat in piece.flats]
    near = [piece for piece in heads if any(_apart(piece, flat) < _CLOSE for flat in flats)]
    if not heads:
        return None
    words = (
        "Modelling lamps and continuous lamps get hot: keep them off cloth, paper, film and gels, or switch them off."
    )
    return f"{words} Nearer than {tape.length(_CLOSE)} to such: {_list(near)}." if near else words


def _apart(piece: Piece, flat: Flat) -> float:
    """Return how far a head's face is from a flat piece, m, by its middle and a grid of places on that piece."""
    a, b, _, d = flat.corners
    share = np.linspace(0.0, 1.0, 21)
    places = a + share[:, None, None] * (b - a) + share[None, :, None] * (d - a)
    return float(np.linalg.norm(places - np.asarray(piece.at), axis=2).min())


def _eyes(plan: Plan, tape: Tape) -> str | None:
    flashes = _flashes(plan)
    if not flashes:
        return None
    lens = np.asarray(plan.setup.camera.at)
    facing = [piece for piece in flashes if _points_at(piece, lens)]
    words = "Never fire a flash close to anyone's eyes."
    if not facing:
        return words
    verb, them = ("shines", "it") if len(facing) == 1 else ("shine", "them")
    return f"{words} {_list(facing)} {verb} toward the camera: look away from {them} when you fire."


def _points_at(piece: Piece, place: np.ndarray) -> bool:
    if piece.aim is None:
        return False
    along, way = np.subtract(piece.aim, piece.at), place - np.asarray(piece.at)
    cosine = float(along @ way) / float(np.linalg.norm(along) * np.linalg.norm(way))
    half = math.radians(60.0) if piece.beam is None else piece.beam.half
    return cosine > math.cos(half)


def _heavy(plan: Plan, tape: Tape) -> str | None:
    high = [piece for piece in numbered(plan, "head") if plan.place(piece.number).over_mark > _HIGH]
    booms = [piece for piece in numbered(plan, "head", "card", "flag", "sheet") if on_boom(plan, piece)]
    if not high and not booms:
        return None
    words = f"Weigh down the stands of what stands high ({_list(high)})" if high else "Weigh down stands"
    return f"{words}; give a boom its counterweight and a safety cord, and stand clear of it."


def _cables(plan: Plan, tape: Tape) -> str | None:
    if not plan.setup.heads:
        return None
    wet = any(one.fill is not None for one in plan.setup.subjects)
    words = "Tape cables down where anyone walks, with slack at every stand."
    return f"{words} Keep liquids away from plugs and heads." if wet else words


def _wire(plan: Plan, tape: Tape) -> str | None:
    thin = [
        piece
        for piece, one in zip(numbered(plan, "support"), plan.setup.supports, strict=True)
        if one.diameter < THIN_SUPPORT
    ]
    if not thin:
        return None
    return f"Mind eyes and fingers near thin wire and blades ({_list(thin)}); cover loose ends."


def _food(plan: Plan, tape: Tape) -> str | None:
    matters: list[Material | None] = []
    for one in plan.setup.subjects:
        matters += [one.material]
        matters += [part.material for part in (one.fill, one.coat) if part is not None]
    if not any(matter is not None and {matter.name, matter.like} & set(_PERISHABLE) for matter in matters):
        return None
    return (
        "Food and flowers suffer under lamps: bring the good piece last, modelling lamps off, and let nobody eat what "
        "has been on the set."
    )
