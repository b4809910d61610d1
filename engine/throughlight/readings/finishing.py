"""What is done to the picture after the light has been traced, said in words: the sheets list all of it."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import NamedTuple

from throughlight.readings.figures import significant
from throughlight.setup import Finish, Setup


class FinishNote(NamedTuple):
    """One thing that is done to the picture: in words, and as a value under a key that names its unit."""

    words: str
    key: str
    value: float | str

    def as_json(self) -> dict[str, float | str]:
        """Return the note as plain JSON data."""
        return {"words": self.words, self.key: self.value}


def finish_notes(setup: Setup) -> tuple[FinishNote, ...]:
    """Return what `[finish]` does to the picture, in the order in which it is done."""
    finish = setup.finish
    return (*_supports(setup), *_frame(finish), *_light(finish))


def finish_words(setup: Setup) -> str:
    """Return all that is done to the picture in one line, empty where nothing is."""
    return "; ".join(note.words for note in finish_notes(setup))


def _supports(setup: Setup) -> list[FinishNote]:
    if not (setup.finish.hide_supports and setup.supports):
        return []
    if setup.finish.support_shadows:
        words = "supports are hidden: the camera looks past them, their shadows stay"
        return [FinishNote(words, "supports", "hidden, shadows kept")]
    words = "supports are hidden: the picture is traced without them, so their shadows are gone too"
    return [FinishNote(words, "supports", "left out with their shadows")]


def _frame(finish: Finish) -> list[FinishNote]:
    notes = []
    for angle, done, key in (
        (finish.turn, "turned", "turn_deg"),
        (finish.straighten, "straightened", "straighten_deg"),
    ):
        if angle != 0.0:
            degrees = math.degrees(angle)
            way = "counter-clockwise" if degrees > 0.0 else "clockwise"
            words = f"{done} by {significant(abs(degrees), 3)}° {way}"
            notes.append(FinishNote(words, key, round(degrees, 6)))
    if finish.crop is not None:
        words = f"cropped to {ratio_words(finish.crop)}, the largest that fits"
        notes.append(FinishNote(words, "crop_width_over_height", round(finish.crop, 6)))
    return notes


def ratio_words(ratio: float) -> str:
    """Return a ratio as whole numbers where it has small ones: 4:5, and else 1.913:1."""
    near = Fraction(ratio).limit_denominator(50)
    return f"{near.numerator}:{near.denominator}" if abs(near - ratio) < 1e-9 else f"{significant(ratio, 4)}:1"


def _light(finish: Finish) -> list[FinishNote]:
    notes = []
    if finish.exposure != 0.0:
        words = f"lifted by {_stops(finish.exposure)}"
        if finish.exposure < 0.0:
            words = f"taken down by {_stops(-finish.exposure)}"
        notes.append(FinishNote(words, "exposure_lift_stops", finish.exposure))
    if finish.black_point is not None:
        place = f"{_stops(-finish.black_point)} under mid-grey" if finish.black_point < 0.0 else "at mid-grey"
        notes.append(FinishNote(f"black point {place}", "black_point_over_mid_grey_stops", finish.black_point))
    if finish.saturation != 1.0:
        words = f"saturation {significant(100.0 * finish.saturation, 3)} %"
        notes.append(FinishNote(words, "saturation_fraction", finish.saturation))
    return notes


def _stops(count: float) -> str:
    said = significant(count, 3)
    return f"{said} {'stop' if said == '1' else 'stops'}"
