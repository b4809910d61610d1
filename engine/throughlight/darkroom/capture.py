"""A photo as linear light: raw, 16-bit TIFF, JPEG or PNG, with what its file says of the exposure.

Light is linear BT.709 with white 1. What stands for mid-grey (H = 10/S, ISO 12232) depends on the file:

- raw, and files said to be linear: 1 is the exposure that saturates, H = 78/S, so mid-grey is 10/78 = 0.128;
- developed pictures (an sRGB or other curve): mid-grey is code 118, linear 0.181. A camera's own tone curve isn't
  known; such a picture is believed only up to a stop over mid-grey, where the usual shoulder begins.

Code values are decoded by the file's own profile where that has a curve for each band and three primaries (see `icc`),
else as sRGB (IEC 61966-2-1), whatever their bits: a converter that writes linear light says so in a profile, and an
untagged picture is taken as sRGB everywhere else in a studio (common practice, no source). Floating-point numbers
without a profile are linear. Finer photos than asked for are averaged down in linear light by a whole factor, so that
the mean of a patch, and the noise that is left in it, stay what they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import icc, tone
from throughlight.darkroom.capture_codes import KINDS, Codes, light_of, read_codes
from throughlight.darkroom.capture_data import CaptureError, ExposureData, Unfit
from throughlight.darkroom.quiet import decoders_silenced
from throughlight.photometry.exposure import (
    CLIP_CONSTANT,
    MID_GREY_CONSTANT,
    MID_GREY_LINEAR,
    mid_grey,
    srgb_decode,
    srgb_encode,
)

__all__ = ["Capture", "CaptureError", "ExposureData", "read_capture"]

Light = NDArray[np.float32]
Encoding = Literal["auto", "sRGB", "linear"]

MOST_BYTES = 1_000_000_000
MOST_ACROSS = 2048
"""Pixels along the longer side that are kept unless another number is asked for."""
_SMALLEST = 16  # pixels along the shorter side
_ENOUGH = 32  # values that a noise is told from
_PART = 16  # pixels; something seen is at least this large
_DARK_CODES, _STANDS_OUT = 1.0, 6.0  # the brightest part of a frame with light in it: code values, and sigmas of noise
_SIGMA_OF_MAD = 1.4826  # of a Gaussian: its σ over the median of what it is off
_AT_ONCE = 1 << 22


@dataclass(frozen=True)
class Capture:
    """A photo.

    Attributes
    ----------
    path
        The file.
    linear
        (h, w, 3) float32, linear BT.709, white 1, row 0 at the top; a raw file's may be a little below 0.
    clipped
        (h, w) where at least one of the averaged pixels is full in some band: the light there is known only from below.
    data
        What the file says of the exposure.
    kind
        "raw", "linear" (code values proportional to light) or "developed" (a curve for the eye).
    grey
        The linear value of mid-grey.
    believed
        The linear value up to which light is proportional to what is read.
    levels
        Code values from black to white; 0 for floating-point numbers.
    shrunk
        How many pixels, along a side, were averaged to one.
    warnings
        What is doubtful, a sentence each.
    black
        (h, w, 3) which share of the averaged pixels reads 0; by default 1 where `linear` does.
    """

    path: Path
    linear: Light
    clipped: NDArray[np.bool_]
    data: ExposureData
    kind: Literal["raw", "linear", "developed"]
    grey: float
    believed: float
    levels: int
    shrunk: int
    warnings: tuple[str, ...] = ()
    black: NDArray[np.float16] | None = None

    @property
    def at_black(self) -> NDArray[np.float16]:
        """Return which share of the averaged pixels reads 0, (h, w, 3)."""
        return np.asarray(self.linear <= 0.0, np.float16) if self.black is None else self.black

    def exposure(self, iso: float) -> Light:
        """Return luminous exposures on the sensor, lx·s, (h, w, 3), at ISO speed `iso`."""
        return np.asarray(self.linear * (mid_grey(iso) / self.grey), np.float32)

    def step(self, linear: NDArray[np.floating]) -> NDArray[np.float64]:
        """Return how much light one code value makes at these linear values."""
        value = np.asarray(linear, np.float64)
        if self.levels == 0:
            return np.zeros_like(value)
        if self.kind != "developed":
            return np.full_like(value, 1.0 / self.levels)
        code = np.clip(srgb_encode(value), 0.0, 1.0 - 1.0 / self.levels)
        return srgb_decode(code + 1.0 / self.levels) - srgb_decode(code)


class _Averaged(NamedTuple):
    light: Light
    clipped: NDArray[np.bool_]
    black: NDArray[np.float16]
    shrunk: int


def read_capture(path: str | Path, *, encoding: Encoding = "auto", most_across: int = MOST_ACROSS) -> Capture:
    """Read a photo.

    Parameters
    ----------
    path
        JPEG, PNG, WebP, BMP or TIFF by its ending; any other file is tried as a raw file.
    encoding
        How code values stand for light: "sRGB", "linear", or as the file itself says.
    most_across
        Pixels along the longer side that are kept.

    Returns
    -------
    Capture
        The photo as linear light.

    Raises
    ------
    CaptureError
        When it cannot be used; one sentence that names the file: it is missing, broken, too large, too small, animated,
        transparent, full everywhere, black everywhere, or raw with no reader for it.
    """
    file = Path(path)
    try:
        _refuse_file(file)
        with decoders_silenced():
            found = _read(file, encoding, most_across)
        _refuse_useless(found)
    except Unfit as trouble:
        raise CaptureError(_said(file), str(trouble)) from None
    except MemoryError:
        raise CaptureError(_said(file), "it is too large for the memory here; fewer pixels would fit") from None
    except Exception as trouble:  # a broken file breaks a decoder in any way there is
        raw = [one.decode(errors="replace") if isinstance(one, bytes) else str(one) for one in trouble.args]
        reason = " ".join(" ".join(raw).split())[:100]
        raise CaptureError(_said(file), _unread(file, reason)) from None
    return found


def _read(file: Path, encoding: Encoding, most_across: int) -> Capture:
    if file.suffix.lower() in KINDS:
        return _developed(file, encoding, most_across)
    if encoding != "auto":
        raise Unfit(f'the encoding "{encoding}" is of developed pictures, and a raw file has its own; "auto" would fit')
    return _raw(file, most_across)


def _unread(file: Path, reason: str) -> str:
    if file.suffix.lower() in KINDS:
        return f"it cannot be read ({reason}); a whole photo would fit"
    return f"it is no raw file that can be read ({reason}); a whole raw file, a TIFF, a JPEG or a PNG would fit"


def _said(file: Path) -> str:
    return "".join(c if c.isprintable() else "�" for c in str(file))[:300]


def _refuse_file(file: Path) -> None:
    try:
        size = file.stat().st_size if file.is_file() else -1
    except (OSError, ValueError) as trouble:
        raise Unfit(f"it cannot be read ({trouble}); a photo would fit") from None
    if size < 0 and file.is_dir():
        raise Unfit("it is a folder; a photo in it would fit")
    if size < 0:
        raise Unfit("there is no such file; a raw file, a TIFF, a JPEG or a PNG would fit")
    if size > MOST_BYTES:
        raise Unfit(f"it has {size / 1e6:.0f} MB; up to {MOST_BYTES / 1e6:.0f} MB would fit")


def _refuse_useless(capture: Capture) -> None:
    height, width = capture.clipped.shape
    if min(height, width) < _SMALLEST:
        raise Unfit(f"it has {width} x {height} pixels; at least {_SMALLEST} either way would fit")
    if capture.clipped.all():
        raise Unfit("every part of it is clipped; a frame with a shorter exposure would fit")
    if _black(capture):
        raise Unfit("it is black everywhere; a frame with a longer exposure would fit")


def _black(capture: Capture) -> bool:
    """Return whether no part of a frame stands out of a code value and of the noise round black."""
    values = np.nan_to_num(capture.linear.mean(axis=2))
    means = _blocks(values, min(_PART, *values.shape)).mean(axis=(1, 3))
    bends = np.abs(np.diff(means, n=2, axis=1))  # what is even or slanting is no noise
    noise = _SIGMA_OF_MAD / np.sqrt(6.0) * float(np.median(bends)) if bends.size >= _ENOUGH else 0.0
    a_code = float(capture.step(np.zeros(1))[0])
    return float(means.max()) <= max(_DARK_CODES * a_code, _STANDS_OUT * noise)


def _raw(file: Path, most_across: int) -> Capture:
    from throughlight.darkroom.capture_raw import read_raw

    raw = read_raw(file)
    factor = _factor(raw.light.shape[:2], most_across)
    light = np.stack([_blocks(raw.light[..., band], factor).mean(axis=(1, 3)) for band in range(3)], axis=2)
    clipped: NDArray[np.bool_] = np.asarray(_blocks(raw.clipped, factor).any(axis=(1, 3)))
    grey = MID_GREY_CONSTANT / CLIP_CONSTANT
    return Capture(
        file, light.astype(np.float32), clipped, raw.data, "raw", grey, 1.0, raw.levels, factor * raw.tile,
        raw.warnings,
    )  # fmt: skip


def _developed(file: Path, encoding: Encoding, most_across: int) -> Capture:
    codes = read_codes(file)
    profile = icc.parse(codes.profile) if codes.profile is not None and encoding == "auto" else None
    linear = _is_linear(codes, encoding, profile)
    averaged = _averaged(codes, linear, profile, most_across)
    return Capture(
        file, averaged.light, averaged.clipped, codes.data, "linear" if linear else "developed",
        MID_GREY_CONSTANT / CLIP_CONSTANT if linear else MID_GREY_LINEAR, 1.0 if linear else tone.SHOULDER,
        codes.levels, averaged.shrunk, (*codes.warnings, *_doubts(codes, encoding, profile, linear)), averaged.black,
    )  # fmt: skip


def _is_linear(codes: Codes, encoding: Encoding, profile: icc.Profile | None) -> bool:
    if encoding != "auto":
        return encoding == "linear"
    return profile.linear if profile is not None else codes.levels == 0


def _doubts(codes: Codes, encoding: Encoding, profile: icc.Profile | None, linear: bool) -> tuple[str, ...]:
    """Return what is doubtful about how code values stand for light."""
    said = []
    if codes.profile is not None and profile is None and encoding == "auto":
        taken = "linear" if linear else "sRGB"
        said.append(f"its colour profile is of a kind that is not read; it is taken as {taken}")
    if codes.profile is None and encoding == "auto" and codes.levels > 255:
        said.append(
            'its 16 bits come without a colour profile and are taken as sRGB; give the encoding "linear" if its '
            "converter wrote linear light"
        )
    if not linear:
        said.append(
            "it is a developed picture: a contrast curve in it, which is not known, shifts readings by some tenths of "
            "a stop, more in dark parts; a raw file, or a linear 16-bit TIFF, is surer"
        )
    return tuple(said)


def _factor(shape: tuple[int, ...], most_across: int) -> int:
    return max(1, -(-max(shape) // max(1, most_across)))


def _blocks(values: NDArray[Any], factor: int) -> NDArray[Any]:
    """Return an array cut into squares, (rows, factor, columns, factor); what is left over at the edges is dropped."""
    rows, columns = values.shape[0] // factor, values.shape[1] // factor
    return values[: rows * factor, : columns * factor].reshape(rows, factor, columns, factor)


def _averaged(codes: Codes, linear: bool, profile: icc.Profile | None, most_across: int) -> _Averaged:
    """Return the linear light of code values in BT.709, averaged, a strip of rows at a time."""
    values, white = codes.values, codes.levels if codes.levels else 1.0
    factor = _factor(values.shape[:2], most_across)
    rows, columns, channels = values.shape[0] // factor, values.shape[1] // factor, values.shape[2]
    light, clipped = np.empty((rows, columns, 3), np.float32), np.empty((rows, columns), np.bool_)
    black = np.empty((rows, columns, 3), np.float16)
    strip = max(1, _AT_ONCE // (factor * values.shape[1]))
    for top in range(0, rows, strip):
        part = values[top * factor : min(rows, top + strip) * factor]
        here = slice(top, min(rows, top + strip))
        means, empty, full = [], [], np.zeros((here.stop - here.start, columns), np.bool_)
        for channel in range(channels):
            blocks = _blocks(part[..., channel], factor)
            means.append(light_of(blocks, linear=linear, profile=profile, channel=channel).mean(axis=(1, 3)))
            empty.append((blocks <= 0).mean(axis=(1, 3)))
            full |= (blocks >= white).any(axis=(1, 3))
        mean = np.stack(means * (3 // channels), axis=2)
        light[here] = mean if profile is None else mean @ profile.matrix.T
        clipped[here], black[here] = full, np.stack(empty * (3 // channels), axis=2)
    return _Averaged(light, clipped, black, factor)
