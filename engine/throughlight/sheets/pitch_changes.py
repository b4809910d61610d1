"""What changes between two looks, told in words a client knows: who was moved, added, made brighter.

Nothing of the lens is said, and no figure, unless details are asked for. Two sets are compared thing by thing, by name.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from throughlight.readings.figures import length_words, significant, time_words
from throughlight.readings.power import power_reading
from throughlight.setup import Camera, Card, Finish, Head, Setup, Subject
from throughlight.setup.place import Vec3
from throughlight.sheets.pitch_words import Words, put, stops
from throughlight.study.light import content_key

_SAME_PLACE = 1e-3  # m
_SAME_LIGHT = 0.05  # stop
_SAME_ANGLE = math.radians(1.0)
_SAME_COLOUR = 50.0  # K
_SAME_SIZE = 0.01  # of the size


class _Teller:
    """Says changes in the words of a file, with figures or without."""

    def __init__(self, words: Words, details: bool) -> None:
        self.words, self.details = words, details

    def say(self, key: str, **values: object) -> str:
        return put(self.words, key, **values)

    def by(self, change: float, unless: float, more: str, less: str) -> list[str]:
        """Say how much longer a length has become, m."""
        if abs(change) <= unless:
            return []
        key = more if change > 0.0 else less
        return [self.say(f"{key}_by", length=length_words(abs(change)))] if self.details else [self.say(key)]

    def light(self, change: float) -> list[str]:
        """Say by how many stops something has become brighter."""
        if abs(change) <= _SAME_LIGHT:
            return []
        key = "brighter" if change > 0.0 else "darker"
        return [self.say(f"stops_{key}", stops=stops(self.words, abs(change)))] if self.details else [self.say(key)]

    def whether(self, change: float, unless: float, more: str, less: str) -> list[str]:
        """Say which way something has changed."""
        return [self.say(more if change > 0.0 else less)] if abs(change) > unless else []


_Compared = Callable[[Any, Any, _Teller], list[str]]
"""Says what is different between two things of one kind."""


def changes(first: Setup, other: Setup, words: Words, *, details: bool = False) -> list[str]:
    """Return what is different in the second set, a line for each thing; none where nothing is.

    Parameters
    ----------
    first, other
        The checked descriptions.
    words
        The phrases.
    details
        Whether amounts, and what was set at the lens, are told.
    """
    tell = _Teller(words, details)
    lines = [
        *_subjects(first, other, tell), *_heads(first, other, tell), *_flats(first, other, tell),
        *_surroundings(first, other, tell), *_one("camera", _camera(first.camera, other.camera, tell), tell),
        *_one("picture", _finish(first.finish, other.finish, tell), tell),
    ]  # fmt: skip
    return lines


def _alike(before: object, now: object) -> bool:
    """Return whether two parts of sets say the same; files by what is in them."""
    return before == now or content_key(before) == content_key(now)


def _line(name: str, said: Sequence[str], tell: _Teller) -> list[str]:
    return [tell.say("of_thing", name=name, changes=", ".join(said))] if said else []


def _one(key: str, said: Sequence[str], tell: _Teller) -> list[str]:
    return _line(tell.words[key], said, tell)


def _pairs(before: Sequence[Any], now: Sequence[Any], tell: _Teller) -> Iterator[tuple[Any, Any, list[str]]]:
    """Yield things of one kind by name: both, or one and None, and whether it was added or taken away."""
    old, new = ({thing.name: thing for thing in things} for things in (before, now))
    for name in dict.fromkeys((*old, *new)):
        gone = [] if name in new else [tell.say("taken_away")]
        yield old.get(name), new.get(name), gone if name in old else [tell.say("added")]


def _lines(before: Sequence[Any], now: Sequence[Any], tell: _Teller, compared: _Compared) -> list[str]:
    lines: list[str] = []
    for old, new, said in _pairs(before, now, tell):
        thing = old if new is None else new
        lines += _line(thing.name, said if said else compared(old, new, tell), tell)
    return lines


def _moved(before: Vec3, now: Vec3, tell: _Teller, *, around: bool = True) -> list[str]:
    """Say how a place has changed, seen from the subject's mark."""
    if math.dist(before, now) <= _SAME_PLACE:
        return []
    (was, old), (bearing, new) = (_plan(before), _plan(now))
    said = _round(was, bearing, tell) if around else []
    said += tell.by(new - old, max(0.02 * old, 5e-3), "farther", "nearer") if around else []
    said += tell.by(now[1] - before[1], 5e-3, "higher", "lower")
    return said if said else [tell.say("moved")]


def _plan(place: Vec3) -> tuple[float, float]:
    """Return bearing round the subject, −π to π, and distance from it in plan."""
    return math.atan2(place[0], place[2]), math.hypot(place[0], place[2])


def _round(before: float, now: float, tell: _Teller) -> list[str]:
    """Say how a bearing has changed."""
    if abs(math.remainder(now - before, 2.0 * math.pi)) <= _SAME_ANGLE:
        return []
    said = [tell.say("other_side")] if before * now < 0.0 and abs(before) < math.pi - _SAME_ANGLE else []
    behind = abs(now) > 0.5 * math.pi
    to_back, to_front = ("behind", "from_side") if behind else ("from_side", "in_front")
    said += tell.whether(abs(now) - abs(before), _SAME_ANGLE, to_back, to_front)
    said = said if said else [tell.say("to_the_side")]
    if tell.details:
        said[-1] += f" ({_between(_degrees(before), _degrees(now), tell)})"
    return said


def _degrees(angle: float) -> str:
    return f"{math.degrees(angle):.0f}°".replace("-", "−")


def _between(before: str, now: str, tell: _Teller) -> str:
    return tell.say("from_to", before=before, now=now)


def _subjects(first: Setup, other: Setup, tell: _Teller) -> list[str]:
    return _lines(first.subjects, other.subjects, tell, _subject)


def _subject(before: Subject, now: Subject, tell: _Teller) -> list[str]:
    said = [] if _alike(before.shape, now.shape) else [tell.say("other_shape")]
    matter = ("material", "surface", "fill", "coat")
    if not all(_alike(getattr(before, key), getattr(now, key)) for key in matter):
        said.append(tell.say("other_matter"))
    said += _moved(before.at, now.at, tell, around=False)
    return said + ([] if (before.aim, before.turn) == (now.aim, now.turn) else [tell.say("turned")])


def _heads(first: Setup, other: Setup, tell: _Teller) -> list[str]:
    light: dict[tuple[str, str], float] = {}
    for when, setup in (("before", first), ("now", other)):
        light |= {(when, head.name): head.output.luminous_energy for head in power_reading(setup).heads}

    def compared(before: Head, now: Head, tell: _Teller) -> list[str]:
        was, gives = light["before", before.name], light["now", now.name]
        said = _modifier(before, now, tell) + _moved(before.at, now.at, tell)
        said += tell.light(math.log2(gives / was)) if was > 0.0 and gives > 0.0 else []
        said += tell.whether(before.temperature - now.temperature, _SAME_COLOUR, "warmer", "cooler")
        if math.dist(before.aim, now.aim) > _SAME_PLACE:
            said.append(tell.say("aimed"))
        return said if said or _alike(before, now) else [tell.say("otherwise")]

    return _lines(first.heads, other.heads, tell, compared)


def _modifier(before: Head, now: Head, tell: _Teller) -> list[str]:
    said = []
    if before.modifier != now.modifier and before.modifier is not None and now.modifier is not None:
        said.append(tell.say("instead", now=now.modifier, before=before.modifier))
    elif before.face != now.face:
        said.append(tell.say("other_shape"))
    if before.gel != now.gel:
        said.append(tell.say("no_gel") if now.gel is None else tell.say("gel", name=now.gel.name))
    if before.grid != now.grid:
        open_angle = math.pi
        was, cuts = (open_angle if grid is None else grid for grid in (before.grid, now.grid))
        said += tell.whether(cuts - was, 0.0, "spread", "gathered")
    return said


def _flats(first: Setup, other: Setup, tell: _Teller) -> list[str]:
    kinds = ("cards", "flags", "sheets", "windows", "supports")
    return [line for kind in kinds for line in _lines(getattr(first, kind), getattr(other, kind), tell, _flat)]


def _flat(before: Any, now: Any, tell: _Teller) -> list[str]:  # noqa: ANN401 - cards, flags, sheets, windows, supports
    if _alike(before, now):
        return []
    if not hasattr(before, "width"):  # a support
        return [tell.say("moved" if (before.start, before.end) != (now.start, now.end) else "otherwise")]
    said = _moved(before.at, now.at, tell)
    size = now.width * now.height / (before.width * before.height) - 1.0
    said += tell.whether(size, _SAME_SIZE, "larger", "smaller")
    if (before.aim, before.roll) != (now.aim, now.roll):
        said.append(tell.say("turned"))
    if isinstance(before, Card) and not _alike((before.front, before.back), (now.front, now.back)):
        said.append(tell.say("other_surface"))
    return said if said else [tell.say("otherwise")]


def _surroundings(first: Setup, other: Setup, tell: _Teller) -> list[str]:
    """Say what has become of backdrop, table and the light of the room."""
    lines: list[str] = []
    for key, compared in (("backdrop", _backdrop), ("table", _backdrop), ("ambient", _room)):
        before, now = getattr(first, key), getattr(other, key)
        if before is None or now is None:
            said = [] if before is now else [tell.say("taken_away" if now is None else "added")]
        else:
            said = compared(before, now, tell)
        lines += _one("room" if key == "ambient" else key, said, tell)
    return lines


def _backdrop(before: Any, now: Any, tell: _Teller) -> list[str]:  # noqa: ANN401 - a backdrop or a table
    if _alike(before, now):
        return []
    said = []
    if not _alike(before.surface, now.surface):
        named = before.surface.name != now.surface.name
        instead = {"now": now.surface.name, "before": before.surface.name}
        said.append(tell.say("instead", **instead) if named else tell.say("other_surface"))
    said += _moved(before.at, now.at, tell)
    return said if said else [tell.say("otherwise")]


def _room(before: Any, now: Any, tell: _Teller) -> list[str]:  # noqa: ANN401 - the ambient light
    said = []
    if before.illuminance > 0.0 and now.illuminance > 0.0:
        said += tell.light(math.log2(now.illuminance / before.illuminance))
    elif before.illuminance != now.illuminance:
        said.append(tell.say("added" if now.illuminance > 0.0 else "taken_away"))
    return said + tell.whether(before.temperature - now.temperature, _SAME_COLOUR, "warmer", "cooler")


def _camera(before: Camera, now: Camera, tell: _Teller) -> list[str]:
    said = _moved(before.at, now.at, tell)
    if math.dist(before.aim, now.aim) > _SAME_PLACE or before.roll != now.roll:
        said.append(tell.say("aimed"))
    said += tell.whether(math.log2(now.focal / before.focal), 0.01, "tighter", "wider")
    said += tell.whether(math.log2(now.f_number / before.f_number), 0.05, "deeper_focus", "shallower_focus")
    if tell.details:
        return said + [_between(a, b, tell) for a, b in zip(settings(before), settings(now), strict=True) if a != b]
    exposed = math.log2(now.iso / before.iso) - 2.0 * math.log2(now.f_number / before.f_number)
    said += tell.light(exposed)
    return said if said or _alike(before, now) else [tell.say("otherwise")]


def settings(camera: Camera) -> list[str]:
    """Return what is set at the camera, as it is engraved: focal length, f-number, shutter time, ISO speed."""
    return [
        f"{significant(1e3 * camera.focal, 4)} mm",
        f"f/{significant(camera.f_number, 3)}",
        time_words(camera.shutter),
        f"ISO {camera.iso:.0f}",
    ]


def _finish(before: Finish, now: Finish, tell: _Teller) -> list[str]:
    said = tell.light(now.exposure - before.exposure)
    black = [-100.0 if point is None else point for point in (before.black_point, now.black_point)]
    said += tell.whether(black[1] - black[0], _SAME_LIGHT, "blacker", "softer_blacks")
    said += tell.whether(now.saturation - before.saturation, 0.005, "stronger_colours", "paler_colours")
    if abs(now.whole_turn - before.whole_turn) > 1e-3:
        said.append(tell.say("turned"))
    if before.crop != now.crop:
        said.append(tell.say("cropped"))
    if before.hide_supports != now.hide_supports:
        said.append(tell.say("supports_hidden" if now.hide_supports else "supports_shown"))
    elif now.hide_supports and before.support_shadows != now.support_shadows:
        said.append(tell.say("shadows_shown" if now.support_shadows else "shadows_hidden"))
    return said
