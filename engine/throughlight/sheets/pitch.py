"""A pitch: what a client is shown of several looks, as a PDF: a title, a page a look, on request all side by side.

Pictures come with their colour profile, and every page that shows one says that it is computed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, NamedTuple

import throughlight
from throughlight.readings.figures import significant
from throughlight.readings.finishing import FinishNote, finish_notes, ratio_words
from throughlight.readings.power import HeadPower, power_reading
from throughlight.setup import Setup
from throughlight.sheets import pitch_pictures
from throughlight.sheets.pitch_changes import changes, settings
from throughlight.sheets.pitch_pictures import MILLIMETRES, LookPicture, Paper, in_rows, place_on
from throughlight.sheets.pitch_words import Words, put, stops

SCHEMA = "throughlight/pitch/1"
MOST_LOOKS = 24
_MOST_LINES, _FEWEST_LINES = 7, 3
_SIZES = ("margin", "top", "caption", "foot", "gap", "heading", "under")


class Style(NamedTuple):
    """How a pitch looks: paper, ground, whether looks are compared, details told, pages marked as a preview."""

    paper: Paper
    ground: Literal["light", "dark"] = "light"
    comparison: bool = False
    details: bool = False
    watermark: bool = True


@dataclass(frozen=True)
class Look:
    """One look: its set, the file it came from, and its picture."""

    setup: Setup
    file: Path
    picture: LookPicture

    @property
    def name(self) -> str:
        """Return what the look is called."""
        return self.setup.title if self.setup.pitch.look is None else self.setup.pitch.look


@dataclass(frozen=True)
class PitchSheet:
    """Looks with the words and the style they are shown in."""

    looks: tuple[Look, ...]
    words: Words
    style: Style

    @property
    def title(self) -> str:
        """Return the title of the whole."""
        first = self.looks[0].setup.title
        return next((one.title for one in self._pitches if one.title is not None), first)

    @property
    def creators(self) -> list[str]:
        """Return who made it, each once."""
        return list(dict.fromkeys(one.creator for one in self._pitches if one.creator is not None))

    @property
    def pages(self) -> int:
        """Return how many pages there are."""
        return 1 + len(self.looks) + self._compares

    @property
    def _pitches(self) -> list[Any]:
        return [look.setup.pitch for look in self.looks]

    @property
    def _compares(self) -> bool:
        return self.style.comparison and len(self.looks) > 1

    def changes(self, look: Look) -> list[str]:
        """Return what is different from the first look."""
        return changes(self.looks[0].setup, look.setup, self.words, details=self.style.details)

    @staticmethod
    def told_finish(look: Look) -> list[str]:
        """Return what was done to a look's picture, in English sentences for a terminal."""
        return [note.words for note in finish_notes(look.setup)]

    def pdf(self) -> bytes:
        """Return the pitch as a PDF.

        Raises
        ------
        TypesetError
            When the pages could not be set.
        OSError
            When a picture cannot be read any more.
        """
        from throughlight.sheets.typeset import pdf

        return pdf("pitch.typ", *self._told())

    def _told(self) -> tuple[dict[str, Any], dict[str, bytes]]:
        """Return what the template is told, and the pictures by name."""
        parts, looks = {}, []
        for number, look in enumerate(self.looks, 1):
            kind, content = look.picture.part()
            name = f"look-{number}.{kind}"
            parts[name] = content
            looks.append(self._look(look, number, name))
        client = next((one.client for one in self._pitches if one.client is not None), None)
        words = dict(self.words)
        rows = in_rows(self.style.paper, [look["ratio"] for look in looks])
        told = {
            "title": self.title,
            "creator": ", ".join(self.creators),
            "client": "" if client is None else put(words, "for_client", client=client),
            "watermark": words["preview"] if self.style.watermark else "",
            "paper": self.style.paper.name,
            "ground": self.style.ground,
            "comparison": rows._asdict() if self._compares else None,
            "page": {name: getattr(pitch_pictures, name.upper()) for name in _SIZES},
            "words": words,
            "looks": looks,
            "count": self.pages,
        }
        return told, parts

    def _look(self, look: Look, number: int, picture: str) -> dict[str, Any]:
        ratio = look.picture.wide / look.picture.high
        place = place_on(self.style.paper, ratio)
        said = self.changes(look) if number > 1 else []
        if number > 1 and not said:
            said = [self.words["same"]]
        details, notes = self._details(look.setup) if self.style.details else [], self._notes(look)
        # Under a picture there is little height: what else is told takes lines from the changes, not from the type.
        most = _MOST_LINES if place.beside else max(_FEWEST_LINES, _MOST_LINES - len(details) - len(notes))
        if len(said) > most:
            said = [*said[: most - 1], put(self.words, "more", count=len(said) - most + 1)]
        return {
            "number": put(self.words, "look", number=number),
            "name": look.name,
            "sentence": "" if look.setup.pitch.sentence is None else look.setup.pitch.sentence,
            "picture": picture,
            **place._asdict(),
            "ratio": ratio,
            "changes": said,
            "details": details,
            "notes": notes,
        }

    def _details(self, setup: Setup) -> list[str]:
        lines = [" · ".join(settings(setup.camera))]
        for head in power_reading(setup).heads:
            lines.append(put(self.words, "head_at", name=head.name, setting=self._setting(head)))
        return lines

    def _setting(self, head: HeadPower) -> str:
        key = "at_full" if abs(head.stops) < 0.005 else "stops_over" if head.stops > 0.0 else "stops_under"
        turned = put(self.words, key, stops=stops(self.words, abs(head.stops)))
        return turned if head.asked is None else f"{significant(head.asked, 3)} {head.unit}, {turned}"

    def _notes(self, look: Look) -> list[str]:
        """Return what was done to the picture: hidden supports and denoising always, the rest with the details."""
        told = [note for note in finish_notes(look.setup) if note.key == "supports" or self.style.details]
        denoised = [self.words["denoised"]] if look.picture.made.get("denoised") else []
        return [self._note(note) for note in told] + denoised

    def _note(self, note: FinishNote) -> str:
        if note.key == "supports":
            return self.words["supports_past" if "kept" in str(note.value) else "supports_gone"]
        value = float(note.value)
        told = stops(self.words, value) if note.key.endswith("_stops") else _value(note.key, value)
        return put(self.words, note.key, value=told)

    def as_json(self, file: Path) -> dict[str, Any]:
        """Return what was made as plain JSON data, units in the keys."""
        return {
            "schema": SCHEMA,
            "engine_version": throughlight.__version__,
            "title": self.title,
            "creators": self.creators,
            "file": str(file),
            "pages": self.pages,
            "paper": self.style.paper.name,
            "watermark": self.style.watermark,
            "computed": True,
            "looks": [self._look_json(look) for look in self.looks],
        }

    def _look_json(self, look: Look) -> dict[str, Any]:
        picture = look.picture
        place = place_on(self.style.paper, picture.wide / picture.high)
        return {
            "setup": str(look.file),
            "look": look.name,
            "sentence": look.setup.pitch.sentence,
            "changes": self.changes(look),
            "finish": [note.as_json() for note in finish_notes(look.setup)],
            "picture_file": str(picture.path),
            "picture_kept_from_before": picture.kept,
            "wide_pixels": picture.wide,
            "high_pixels": picture.high,
            "dots_per_inch": round(picture.wide / place.wide * MILLIMETRES, 1),
            **picture.made,
        }


def _value(key: str, value: float) -> str:
    """Return the figure of a note as a page shows it."""
    if key == "crop_width_over_height":
        return ratio_words(value)
    if key == "saturation_fraction":
        return f"{significant(100.0 * value, 3)} %"
    return significant(value, 3).replace("-", "−")


def sheet(looks: Sequence[Look], words: Words, style: Style) -> PitchSheet:
    """Return the pitch of one look or more.

    Raises
    ------
    ValueError
        When there is none, or more than can be told apart.
    """
    if not 1 <= len(looks) <= MOST_LOOKS:
        raise ValueError(f"found {len(looks)} looks; from 1 to {MOST_LOOKS} would fit")
    return PitchSheet(tuple(looks), words, style)
