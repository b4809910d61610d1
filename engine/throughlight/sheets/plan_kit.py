"""What has to be carried to the set: camera, heads with their powers, cards, sheets, cloth, stands, supports."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from throughlight.readings.figures import significant, time_words
from throughlight.readings.power import HeadPower
from throughlight.setup import Card, Disc, Head, Sheet, Subject, Support, Surface, Tube
from throughlight.sheets.numbers import MINUS
from throughlight.sheets.plan import Plan
from throughlight.sheets.plan_pieces import Piece
from throughlight.sheets.plan_tones import Tone, tone_of
from throughlight.sheets.plan_words import Tape

_OVER_SET = 0.25
"""m in plan; what hangs nearer to the mark than this, and well above it, hangs on a boom."""
_WELL_ABOVE = 0.25
THIN_SUPPORT = 0.003
"""m; a support thinner than this is a wire or a blade (common sense, no source)."""


class Item(NamedTuple):
    """One thing of the kit: the number of its piece, 0 where it has none, its name, and what it is."""

    number: int
    name: str
    words: str


class Group(NamedTuple):
    """Things that are packed together."""

    heading: str
    items: tuple[Item, ...]


def kit_list(plan: Plan, tape: Tape) -> tuple[Group, ...]:
    """Return what the set needs, in groups that are not empty."""
    groups = (
        Group("Camera", tuple(_camera(plan, tape))),
        Group("Light", tuple(_light(plan, tape))),
        Group("Cards, flags, sheets", tuple(_flats(plan, tape))),
        Group("Ground and subject", tuple(_ground(plan, tape))),
        Group("Stands and supports", tuple(_stands(plan, tape))),
    )
    return tuple(group for group in groups if group.items)


def numbered(plan: Plan, *kinds: str) -> list[Piece]:
    """Return the pieces of some kinds, in the order of the set."""
    return [piece for piece in plan.pieces if piece.kind in kinds]


def _camera(plan: Plan, tape: Tape) -> Iterator[Item]:
    camera = plan.setup.camera
    width, height = (f"{1e3 * side:g}" for side in camera.sensor)
    body = "" if camera.body in (None, f"{width}x{height}") else f" ({camera.body})"
    yield Item(1, "body", f"sensor {width} × {height} mm{body}, ISO {camera.iso:g}, {time_words(camera.shutter)}")
    hood = "" if camera.hood == 0.0 else f", hood {tape.length(camera.hood)} deep"
    moved = ", on a camera with movements" if camera.movements.any else ""
    across, up = (f"{math.degrees(angle):.1f}°" for angle in (plan.sight.angle_width, plan.sight.angle_height))
    lens = f"{1e3 * camera.focal:g} mm at f/{camera.f_number:g}, picture angle {across} across, {up} up"
    yield Item(1, "lens", f"{lens}{hood}{moved}")


def _light(plan: Plan, tape: Tape) -> Iterator[Item]:
    heads = zip(numbered(plan, "head"), plan.setup.heads, plan.power.heads, strict=True)
    for piece, head, power in heads:
        yield Item(piece.number, head.name, f"{power_words(power)}; {_modifier(head, tape)}")
    for piece, window in zip(numbered(plan, "window"), plan.setup.windows, strict=True):
        luminance = significant(window.luminance, 3)
        yield Item(piece.number, window.name, f"window {tape.sides(*piece.size)}, a spot meter reads {luminance} cd/m²")


def power_words(power: HeadPower) -> str:
    """Return what a head is set to: joules or watts where they are known, and stops."""
    what = "flash" if power.seconds is None else "lamp"
    count = significant(abs(power.stops), 3)
    stops = f"{'+' if power.stops > 0.0 else MINUS}{count} {'stop' if count == '1' else 'stops'}"
    if power.asked is None or power.full is None:
        return f"{what}, {stops} from the {power.given}" if power.stops else f"{what}, at the {power.given}"
    full = f"{significant(power.full, 3)} {power.unit}"
    if power.stops == 0.0:
        return f"{what}, at its full {full}"
    return f"{what} of {full} set to {significant(power.asked, 3)} {power.unit} ({stops})"


def _modifier(head: Head, tape: Tape) -> str:
    face = head.face
    if head.modifier is not None:
        said = head.modifier
    elif isinstance(face, Disc):
        said = f"round face {tape.length(face.diameter)}"
    elif isinstance(face, Tube):
        said = f"bare tube {tape.length(face.length)}"
    else:
        said = f"face {tape.sides(face.width, face.height)}"
    hung = []
    if head.grid is not None:
        hung.append(f"grid {math.degrees(head.grid):.0f}°")
    if head.snoot is not None:
        hung.append(f"snoot {tape.length(head.snoot.length)}")
    if head.barn_doors is not None:
        hung.append("barn doors")
    if head.gel is not None:
        hung.append(f"gel {head.gel.name}")
    return ", ".join([said, *hung])


def _flats(plan: Plan, tape: Tape) -> Iterator[Item]:
    cards: tuple[Card, ...] = (*plan.setup.cards, *plan.setup.flags)
    for piece, card in zip(numbered(plan, "card", "flag"), cards, strict=True):
        yield Item(piece.number, card.name, f"{piece.kind} {tape.sides(card.width, card.height)}, {sides_words(card)}")
    for piece, sheet in zip(numbered(plan, "sheet"), plan.setup.sheets, strict=True):
        yield Item(piece.number, sheet.name, _sheet(sheet, tape))


def sides_words(card: Card) -> str:
    """Return what the two sides of a card do with light."""
    front, back = _side(card.front), _side(card.back)
    return f"{front} on both sides" if front == back else f"{front} front, {back} back"


def _side(surface: Surface) -> str:
    tone = tone_of(surface)
    return f"{tone.value} ({surface.name})" if tone is Tone.MIRROR and surface.name != tone.value else tone.value


def _sheet(sheet: Sheet, tape: Tape) -> str:
    return f"{sheet.sheeting.name}, {tape.sides(sheet.width, sheet.height)}"


def _ground(plan: Plan, tape: Tape) -> Iterator[Item]:
    drop, table = plan.setup.backdrop, plan.setup.table
    for piece in numbered(plan, "backdrop", "table"):
        surface = drop.surface if piece.kind == "backdrop" and drop is not None else None
        surface = table.surface if surface is None and table is not None else surface
        cloth = "" if surface is None else f"{surface.name}, "
        yield Item(piece.number, piece.kind, f"{cloth}{tape.sides(*piece.size)}")
    for piece, subject in zip(numbered(plan, "subject"), plan.setup.subjects, strict=True):
        yield Item(piece.number, subject.name, _subject(subject, piece, tape))


def _subject(subject: Subject, piece: Piece, tape: Tape) -> str:
    made = subject.material if subject.material is not None else subject.surface
    matter = "" if made is None else f"{made.name}, "
    width, height, depth = piece.size
    prop = "" if subject.counts else "; a prop"
    return f"{matter}{tape.length(width)} wide, {tape.length(height)} high, {tape.length(depth)} deep{prop}"


def _stands(plan: Plan, tape: Tape) -> Iterator[Item]:
    yield Item(1, "camera stand", "a tripod, or a column that holds still at this height")
    hung = numbered(plan, "head", "card", "flag", "sheet")
    booms = [piece for piece in hung if on_boom(plan, piece)]
    standing = [piece for piece in hung if piece not in booms]
    if standing:
        yield Item(0, "stands", _stands_words(standing))
    if booms:
        names = ", ".join(str(piece.number) for piece in booms)
        yield Item(0, "booms", f"{len(booms)}, with counterweight and safety cord, for {names}")
    if plan.setup.backdrop is not None:
        yield Item(0, "crossbar", f"on two stands, for a backdrop {tape.length(plan.setup.backdrop.width)} wide")
    for piece, support in zip(numbered(plan, "support"), plan.setup.supports, strict=True):
        yield Item(piece.number, support.name, _support(support, tape))


def _stands_words(standing: list[Piece]) -> str:
    """Return how many stands there are, what for, and what else holds flat things."""
    kinds = list(dict.fromkeys(piece.kind for piece in standing))
    each = kinds[0] if len(kinds) == 1 else f"{', '.join(kinds[:-1])} and {kinds[-1]}"
    clamps = "" if kinds == ["head"] else "; clamps to hold what is flat"
    return f"{len(standing)}, {'for the' if len(standing) == 1 else 'one for each'} {each}{clamps}"


def _support(support: Support, tape: Tape) -> str:
    long = math.dist(support.start, support.end)
    return f"{support.surface.name}, {1e3 * support.diameter:.2g} mm thick, {tape.length(long)} long"


def on_boom(plan: Plan, piece: Piece) -> bool:
    """Return whether a piece hangs over the set, where no stand can be."""
    place = plan.place(piece.number)
    return place.distance < _OVER_SET and place.over_mark > _WELL_ABOVE
