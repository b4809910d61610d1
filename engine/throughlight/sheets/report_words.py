"""What a report page tells in words: how the numbers were made, and what is to be known of the picture on it."""

from __future__ import annotations

import throughlight
from throughlight.readings.reading import Readings
from throughlight.sheets import layer_codes
from throughlight.sheets.page_picture import Packed
from throughlight.sheets.shot import Shot
from throughlight.sheets.table import STOPPED


def made_lines(shot: Shot) -> list[tuple[str, str]]:
    """Return how the numbers were made, by name."""
    made, picture = shot.readings.making, shot.picture
    mean, most = float(picture.samples.mean()), int(picture.samples.max())
    samples = f"{mean:.0f} samples a pixel in the mean, {most} at most"
    if picture.worst_grain is not None:
        samples += f"; grain of up to {picture.worst_grain:.1f} 8-bit values in a block of pixels"
        samples += "" if picture.finished else ", more than was asked for"
    return [
        ("readings", f"{_counted(made.paths)} paths in {made.seconds:.1f} s; {STOPPED[made.reason]}"),
        ("intervals", f"95 %, from {made.replicates} independent replicates; ±{made.tolerance:.3g} stop was asked for"),
        ("picture", samples),
        *(("finish", note.words) for note in shot.readings.finish),
        ("seed", str(made.seed)),
        ("engine", f"Throughlight {throughlight.__version__}"),
    ]


def _counted(number: int) -> str:
    return f"{number:,}".replace(",", "\u00a0")


def made_notes(shot: Shot, packed: Packed) -> list[str]:
    """Return sentences on how far the page can be trusted."""
    notes = [
        "Light adds, and each light was traced by itself: turning one up or down here is arithmetic, not a new trace. "
        f"Sums of light are right to {layer_codes.STEP / 2:.2f} stop on this page; readings come from the same sums "
        "as in readings.json.",
        "Stopping the lens down or up here changes how much light passes. Depth of field, vignetting and what the "
        "camera’s table says stay as they were traced.",
    ]
    if shot.setup.finish.whole_turn != 0.0 or packed.full != shot.setup.camera.pixels:
        notes.append(
            "Readings are of the whole frame, before it was turned and cropped: a place such as the worst patch’s is "
            "told as the camera sees it; the pointer’s as the picture stands here."
        )
    if shot.quiet is not None:
        notes.append("The picture here is not denoised: its layers are as they were traced.")
    if packed.smaller:
        wide, tall = packed.full
        notes.append(
            f"To keep this file small the picture is shown with {packed.width} × {packed.height} pixels instead of "
            f"{wide} × {tall}. The picture files have them all; the less grain there is, the better it packs."
        )
    return [*notes, *_cautions(shot.readings)]


def _cautions(readings: Readings) -> list[str]:
    made = readings.making
    counted = ((made.cut, "cut for length"), (made.leaked, "lost in open bodies"), (made.invalid, "not a number"))
    cautions = [f"Caution: {_counted(number)} paths were {what}." for number, what in counted if number]
    return [*cautions, *(f"Note: {warning}" for warning in readings.warnings)]
