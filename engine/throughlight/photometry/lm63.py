"""ANSI/IES LM-63 files: the luminous intensity of a real lamp by direction, as its maker measured it.

A first line that names the edition (1986 had none), keywords in brackets, a line `TILT=…`, then numbers in free format:

    lamps  lumens-per-lamp  multiplier  verticals  horizontals  type  units  width  length  height
    ballast-factor  ballast-lamp-factor  watts
    [vertical angles] [horizontal angles] [candela by vertical angle, plane after plane]

    I = value · multiplier · ballast factor · ballast-lamp factor.

Type C only: vertical angles from the nadir (the lamp's axis) over 0–90, 90–180 or 0–180°; half planes round it from
along the lamp's length, over one plane, 0–90, 0–180, 90–270 or 0–360°, the rest by symmetry.
Source: ANSI/IESNA LM-63-2002; older editions as published descriptions tell them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_BYTES = 20_000_000
MOST_ANGLES = 4000
MOST_VALUES = 1_000_000
_EDITIONS = {"IESNA91": "1991", "IESNA:LM-63-1995": "1995", "IESNA:LM-63-2002": "2002", "IES:LM-63-2019": "2019"}
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eEdD][+-]?\d+)?")
_SEPARATOR = re.compile(r"[\s,]+")
_KEYWORD = re.compile(r"\s*\[([^\]]{1,40})\]\s*(.*)")
_FOOT = 0.3048
_SPANS = ((0.0, 90.0), (90.0, 180.0), (0.0, 180.0))
_TURNS = ((0.0, 90.0), (0.0, 180.0), (90.0, 270.0), (0.0, 360.0))
_SAME = 1e-3
"""Degrees; angles printed with few digits are still the same."""


class LampFileError(ValueError):
    """What is wrong with a file: its line, counted from 1, and a sentence."""

    def __init__(self, line: int, sentence: str) -> None:
        """Keep both."""
        super().__init__(f"line {line}: {sentence}")
        self.line = line
        self.sentence = sentence


class Tilt(NamedTuple):
    """How a lamp's light changes as it is tilted: degrees off its upright place, and factors."""

    angles: tuple[float, ...]
    factors: tuple[float, ...]

    def at(self, degrees: float) -> float:
        """Return the factor at a tilt; beyond the ends that of the end."""
        return float(np.interp(degrees, self.angles, self.factors))


class Lamp(NamedTuple):
    """What a file says.

    edition: "1986" to "2019". keywords: as they stand, those used twice joined by a blank. verticals: (v,) radians.
    horizontals: (h,) radians over the whole turn, or one. candela: (h, v), all factors in it but the tilt's.
    width, length, height: of the luminous opening as written (negative: round), m. lumens: of the lamps, −1 where the
    intensities are absolute. watts: input. tilt: None where the lamp does not mind.
    """

    edition: str
    keywords: tuple[tuple[str, str], ...]
    verticals: Floats
    horizontals: Floats
    candela: Floats
    width: float
    length: float
    height: float
    lumens: float
    watts: float
    tilt: Tilt | None


class _Numbers:
    """The numbers after TILT=, one after the other, each with its line."""

    def __init__(self, lines: list[str], first: int) -> None:
        self._words = self._all(lines, first)
        self.line = first

    @staticmethod
    def _all(lines: list[str], first: int) -> Iterator[tuple[int, str]]:
        for number, line in enumerate(lines, first):
            for word in _SEPARATOR.split(line.strip("\x1a\x00")):
                if word:
                    yield number, word

    def number(self, what: str) -> float:
        """Return the next number, or say that `what` is missing."""
        self.line, word = next(self._words, (self.line, ""))
        if not word:
            raise LampFileError(self.line, f"the file ends where {what} would stand")
        if len(word) > 40 or _NUMBER.fullmatch(word) is None:
            shown = "".join(c if c.isprintable() else "�" for c in word[:20])
            raise LampFileError(self.line, f'found "{shown}" where {what} would stand, a number')
        value = float(word.replace("d", "e").replace("D", "e"))
        if not math.isfinite(value):
            raise LampFileError(self.line, f"{what} is too large a number")
        return value

    def numbers(self, count: int, what: str) -> Floats:
        """Return the next `count` numbers."""
        return np.array([self.number(what) for _ in range(count)])

    def whole(self, what: str, low: int, high: int) -> int:
        """Return the next number, which has to be whole and between bounds."""
        value = self.number(what)
        if value != int(value) or not low <= value <= high:
            raise LampFileError(self.line, f"found {value:g} for {what}; a whole number from {low} to {high} would fit")
        return int(value)

    def ascending(self, count: int, what: str) -> Floats:
        """Return the next `count` numbers, which have to ascend."""
        angles = self.numbers(count, what)
        if np.any(np.diff(angles) <= 0.0):
            raise LampFileError(self.line, f"{what}s do not ascend")
        return angles

    def end(self) -> None:
        """Refuse anything that still stands there."""
        line, word = next(self._words, (0, ""))
        if word:
            raise LampFileError(line, "more numbers stand there than the counts promise")


def tilt_file_named(text: str) -> str | None:
    """Return the name of the file that `TILT=` refers to, or None."""
    for line in text.splitlines():
        if line.strip().upper().startswith("TILT="):
            name = line.strip()[5:].strip()
            return None if name.upper() in ("NONE", "INCLUDE") else name
    return None


def parse(text: str, tilt_text: str | None = None) -> Lamp:
    """Return what a file says.

    Parameters
    ----------
    text
        The file.
    tilt_text
        The file that `TILT=` refers to, where it refers to one.

    Raises
    ------
    LampFileError
        When it is not such a file, is cut short or contradicts itself, or is of type A or B.
    """
    if len(text) > MOST_BYTES:
        raise LampFileError(1, f"the file has more than {MOST_BYTES // 10**6} MB")
    lines = text.splitlines()
    at = next((i for i, line in enumerate(lines) if line.strip().upper().startswith("TILT=")), None)
    if at is None:
        raise LampFileError(1, "no line begins with TILT=, so this is no LM-63 file")
    edition, keywords = _heading(lines[:at])
    numbers = _Numbers(lines[at + 1 :], at + 2)
    return _lamp(edition, keywords, _tilt(lines[at].strip()[5:].strip(), at + 1, numbers, tilt_text), numbers)


def _heading(lines: list[str]) -> tuple[str, tuple[tuple[str, str], ...]]:
    first = lines[0].strip().lstrip("\ufeff").upper() if lines else ""
    edition = next((year for name, year in _EDITIONS.items() if first.startswith(name)), "1986")
    keywords: dict[str, str] = {}
    last = ""
    for line in lines:
        match = _KEYWORD.match(line[:1000])
        if match is None:
            continue
        key = match.group(1).strip().upper()
        last = last if key == "MORE" else key
        keywords[last] = f"{keywords[last]} {match.group(2)}".strip() if last in keywords else match.group(2).strip()
    return edition, tuple(keywords.items())


def _tilt(said: str, line: int, numbers: _Numbers, tilt_text: str | None) -> Tilt | None:
    if said.upper() == "NONE":
        return None
    if said.upper() == "INCLUDE":
        return _tilt_numbers(numbers)
    if tilt_text is None:
        raise LampFileError(line, "TILT= refers to a file that is not there")
    beside = _Numbers(tilt_text[:MOST_BYTES].splitlines(), 1)
    try:
        return _tilt_numbers(beside)
    except LampFileError as trouble:
        raise LampFileError(line, f"the file that TILT= refers to: {trouble}") from None


def _tilt_numbers(numbers: _Numbers) -> Tilt:
    numbers.whole("the lamp's place in the luminaire", 1, 3)
    count = numbers.whole("the number of tilts", 1, MOST_ANGLES)
    angles = numbers.ascending(count, "a tilt")
    factors = numbers.numbers(count, "a tilt's factor")
    if np.any(factors < 0.0):
        raise LampFileError(numbers.line, "a tilt's factor is below zero")
    return Tilt(tuple(float(one) for one in angles), tuple(float(one) for one in factors))


def _lamp(edition: str, keywords: tuple[tuple[str, str], ...], tilt: Tilt | None, numbers: _Numbers) -> Lamp:
    numbers.number("the number of lamps")
    lumens = numbers.number("the lumens of a lamp")
    factor = numbers.number("the multiplier")
    v = numbers.whole("the number of vertical angles", 2, MOST_ANGLES)
    h = numbers.whole("the number of horizontal angles", 1, MOST_ANGLES)
    if v * h > MOST_VALUES:
        raise LampFileError(numbers.line, f"{v} × {h} intensities are more than {MOST_VALUES}")
    kind = numbers.whole("the photometric type", 1, 3)
    if kind != 1:
        raise LampFileError(
            numbers.line, f"the photometry is of type {'?CBA'[kind]}; one of type C, as for most lamps, would fit"
        )
    unit = _FOOT if numbers.whole("the units", 1, 2) == 1 else 1.0
    width, length, height = (unit * float(one) for one in numbers.numbers(3, "a size of the luminous opening"))
    factor *= numbers.number("the ballast factor")
    ballast_lamp = numbers.number("the ballast-lamp factor")
    factor *= 1.0 if edition == "2019" else ballast_lamp  # there it codes how the file was made
    watts = numbers.number("the input watts")
    verticals = numbers.ascending(v, "a vertical angle")
    _one_of(_SPANS, verticals, numbers.line, "vertical")
    horizontals = numbers.ascending(h, "a horizontal angle")
    if h > 1:
        _one_of(_TURNS, horizontals, numbers.line, "horizontal")
    with np.errstate(over="ignore", invalid="ignore"):
        candela = factor * numbers.numbers(v * h, "an intensity").reshape(h, v)
    numbers.end()
    if not np.all((candela >= 0.0) & (candela < math.inf)):
        raise LampFileError(numbers.line, "an intensity, with its factors, is below zero or too large a number")
    if not np.any(candela > 0.0):
        raise LampFileError(numbers.line, "every intensity is zero")
    turn, candela = whole_turn(horizontals, candela)
    return Lamp(
        edition, keywords, np.radians(verticals), np.radians(turn), candela, width, length, height, lumens, watts, tilt
    )


def _one_of(spans: tuple[tuple[float, float], ...], angles: Floats, line: int, which: str) -> None:
    ends = float(angles[0]), float(angles[-1])
    if not any(math.isclose(ends[0], a, abs_tol=_SAME) and math.isclose(ends[1], b, abs_tol=_SAME) for a, b in spans):
        fits = ", ".join(f"{a:g} to {b:g}" for a, b in spans)
        raise LampFileError(line, f"{which} angles run from {ends[0]:g} to {ends[1]:g} degrees; {fits} would fit")


def whole_turn(horizontals: Floats, candela: Floats) -> tuple[Floats, Floats]:
    """Return angles (degrees) from 0 to 360 and their intensities, by the symmetry that the angles stand for.

    One plane: the same all round. 0–90: all quadrants alike. 0–180: both sides of the 0–180 plane alike. 90–270: both
    sides of the 90–270 plane alike. 0–360: none.
    """
    if len(horizontals) == 1:
        return np.zeros(1), candela
    first, last = round(float(horizontals[0])), round(float(horizontals[-1]))
    planes = {float(angle): plane for angle, plane in zip(np.mod(horizontals, 360.0), candela, strict=True)}
    if last == 360:  # the last plane is the first once more
        planes.pop(float(np.mod(horizontals[-1], 360.0)))
        planes[float(np.mod(horizontals[0], 360.0))] = candela[0]
    if first == 90 or last == 90:
        planes |= {(180.0 - angle) % 360.0: plane for angle, plane in planes.items()}
    if first == 0 and last != 360:
        planes |= {(360.0 - angle) % 360.0: plane for angle, plane in planes.items()}
    turn = np.array(sorted(planes))
    return np.append(turn, 360.0), np.stack([planes[angle] for angle in turn] + [planes[float(turn[0])]])
