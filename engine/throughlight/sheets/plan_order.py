"""The order in which a set like this is built, one step after the other (common practice, no source)."""

from __future__ import annotations

import math
from collections.abc import Iterator

from throughlight.readings.figures import significant, time_words
from throughlight.setup import Wanted
from throughlight.sheets.plan import Plan
from throughlight.sheets.plan_kit import numbered, power_words
from throughlight.sheets.plan_pieces import Piece
from throughlight.sheets.plan_places import floor_words
from throughlight.sheets.plan_sight import leans
from throughlight.sheets.plan_words import Tape, tilt_words

_MOST_NAMED = 12
"""Heads with a step of their own; more are set together."""


def order_of_work(plan: Plan, tape: Tape) -> tuple[str, ...]:
    """Return the steps, a sentence or two each."""
    return (
        *_ground(plan, tape),
        *_camera(plan, tape),
        *_subject(plan, tape),
        *_heads(plan, tape),
        *_flats(plan, tape),
        *_frames(plan),
    )


def _where(plan: Plan, piece: Piece, tape: Tape) -> str:
    return plan.place(piece.number).where_prose(tape)


def _ground(plan: Plan, tape: Tape) -> Iterator[str]:
    for piece in numbered(plan, "backdrop"):
        yield f"Hang the backdrop ({piece.number}), its middle {_where(plan, piece, tape)}; steam or stretch it flat."
    height = plan.setup.mark_height
    at = "" if height is None else f", {floor_words(height, tape)} over the floor"
    table = numbered(plan, "table")
    if table:
        level = plan.place(table[0].number).over_mark
        lies = f"the mark is {_over(level, tape)}{at}"
        yield f"Set up the table ({table[0].number}) and mark the subject's place on it; {lies}."
    else:
        cross = "a cross of tape on the floor under it, with a plumb line"
        yield f"Mark the subject's place{at}: {cross}. All is measured from there."


def _over(table: float, tape: Tape) -> str:
    """Return how the mark lies to a table top that is `table` over it."""
    said = tape.length(abs(table))
    if abs(table) < 0.5e-3:
        return "at its top"
    return f"{said} {'over' if table < 0.0 else 'under'} its top"


def _camera(plan: Plan, tape: Tape) -> Iterator[str]:
    camera, reading = plan.setup.camera, plan.camera
    frame = tape.sides(reading.frame_width, reading.frame_height)
    yield (
        f"Set the camera (1) with its lens {_where(plan, plan.pieces[0], tape)}, aimed at {tape.point(camera.aim)}. "
        f"Focus at {tape.length(camera.focus)} from the lens: there the frame takes in {frame}{_sharp(plan, tape)}. "
        f"f/{camera.f_number:g}, {time_words(camera.shutter)}, ISO {camera.iso:g}."
    )


def _sharp(plan: Plan, tape: Tape) -> str:
    near, far, _ = plan.camera.depth_of_field
    if leans(plan.setup.camera):
        return ""
    return f", and it is sharp from {tape.length(near)} {f'to {tape.length(far)}' if math.isfinite(far) else 'on'}"


def _subject(plan: Plan, tape: Tape) -> Iterator[str]:
    supports = [str(piece.number) for piece in numbered(plan, "support")]
    held = f" on its support ({', '.join(supports)})" if 0 < len(supports) <= _MOST_NAMED else ""
    for piece in numbered(plan, "subject")[:_MOST_NAMED]:
        yield f"Bring the subject “{piece.name}” ({piece.number}){held}: {_where(plan, piece, tape)}."
        held = ""


def _heads(plan: Plan, tape: Tape) -> Iterator[str]:
    heads = list(zip(numbered(plan, "head"), plan.power.heads, strict=True))
    if len(heads) > _MOST_NAMED:
        yield f"Place the {len(heads)} heads by the table, one by one, each with all others off."
        return
    for piece, power in heads:
        place = plan.place(piece.number)
        alone = "" if len(heads) == 1 else ", all others off"
        yield (
            f"Place “{piece.name}” ({piece.number}) {_where(plan, piece, tape)}, aimed at {place.aim_words(tape)}, "
            f"{tilt_words(place.tilt or 0.0)}; {power_words(power)}{alone}."
        )


def _flats(plan: Plan, tape: Tape) -> Iterator[str]:
    for kind, what in (("sheet", "the sheets"), ("card", "the cards"), ("flag", "the flags")):
        pieces = numbered(plan, kind)
        if pieces:
            shown = ", ".join(str(piece.number) for piece in pieces[:_MOST_NAMED])
            more = " and the rest" if len(pieces) > _MOST_NAMED else ""
            check = "; look from the lens that none stands in the frame" if kind == "flag" else ""
            yield f"Bring in {what if len(pieces) > 1 else what.removesuffix('s')} ({shown}{more}){check}."


def _frames(plan: Plan) -> Iterator[str]:
    windows = ", ".join(str(piece.number) for piece in numbered(plan, "window")[:_MOST_NAMED])
    if windows:
        yield f"Read the window again with a spot meter just before the first frame ({windows}): its light changes."
    if any(plan.setup.flashes) or not plan.setup.lights:
        yield "Expose a frame with every head off, at these settings: it shows what the room alone does."
    names = numbered(plan, "head")
    if len(names) > 1:
        yield "Expose a frame with each head alone, then one with all."
    elif names:
        yield "Expose a test frame."
    wished = _wished(plan.setup.wanted)
    if wished:
        yield f"Compare: wanted is {', '.join(wished)}."


def _wished(wanted: Wanted) -> list[str]:
    """Return what the frames are compared with, as far as the set asks for it."""
    wished = []
    if wanted.subject is not None:
        wished.append(f"the subject {_over_grey(wanted.subject)}")
    if wanted.backdrop_under is not None:
        wished.append(f"the backdrop's worst patch {_stops(wanted.backdrop_under)} under the subject")
    if wanted.veil is not None:
        wished.append(f"the veil at most {_over_grey(wanted.veil).removeprefix('at ')}")
    return wished


def _over_grey(stops: float) -> str:
    return f"{_stops(abs(stops))} {'over' if stops > 0.0 else 'under'} mid-grey" if stops else "at mid-grey"


def _stops(count: float) -> str:
    said = significant(count, 2)
    return f"{said} {'stop' if said == '1' else 'stops'}"
