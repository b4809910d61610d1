"""A shot: the readings of a set with its picture, and the files they are kept in."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import denoiser, files, scale, tone
from throughlight.readings.finishing import finish_words
from throughlight.readings.meter import TOLERANCE, Progress, meter
from throughlight.readings.picture import Picture, expose_picture
from throughlight.readings.picture import Progress as PictureProgress
from throughlight.readings.reading import Readings
from throughlight.setup import Setup
from throughlight.sheets.finished import finished, framed
from throughlight.sheets.retouch import retouch_mask
from throughlight.trace.tables import Region

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class Shot:
    """Readings and picture of one set; `quiet` is the picture denoised, (h, w, 3) lx·s, without veil."""

    setup: Setup
    readings: Readings
    picture: Picture
    quiet: Floats | None = None

    @property
    def exposure(self) -> Floats:
        """Return what the sensor gets: all layers and the veil, (h, w, 3) lx·s; never denoised."""
        return self._veiled(self.picture.exposure)

    @property
    def denoised(self) -> Floats | None:
        """Return the same denoised, where that was asked for."""
        return None if self.quiet is None else self._veiled(self.quiet)

    def _veiled(self, exposure: Floats) -> Floats:
        veil = np.sum(list(self.readings.stray.veil_layers.values()), axis=0)
        total: Floats = (exposure + veil).astype(np.float32)
        return total

    def as_json(self) -> dict[str, Any]:
        """Return the readings, and what the picture is, as plain JSON data."""
        return {**self.readings.as_json(), "picture": picture_json(self.picture, denoised=self.quiet is not None)}

    @property
    def interrupted(self) -> bool:
        """Return whether Ctrl-C ended it early."""
        return self.picture.interrupted or self.readings.making.reason == "interrupted"


def picture_json(picture: Picture, *, denoised: bool) -> dict[str, Any]:
    """Return how a picture was made, units in the keys."""
    return {
        "mean_samples_per_pixel": round(float(picture.samples.mean()), 3),
        "worst_grain_code_values": None if picture.worst_grain is None else round(picture.worst_grain, 3),
        "grain_reached": picture.finished,
        "denoised": denoised,
    }


def quiet(picture: Picture) -> Floats | None:
    """Return a picture's exposures denoised, where it was exposed with guides for that; without veil.

    Raises
    ------
    RuntimeError
        When no denoiser is there, or it fails.
    """
    if picture.guides is None:
        return None
    return denoiser.denoised(picture.exposure, picture.guides.albedo, picture.guides.normal)


def shoot(
    setup: Setup,
    *,
    tolerance: float = TOLERANCE,
    time_limit: float | None = None,
    grain: float = 3.0,
    most_samples: int = 512,
    seed: int | None = None,
    threads: int | None = None,
    denoise: bool = False,
    progress: Progress | None = None,
    picture_progress: PictureProgress | None = None,
) -> Shot:
    """Return readings and picture of a set.

    Parameters
    ----------
    setup
        The checked description.
    tolerance, time_limit, seed, threads, progress
        As for `throughlight.meter`; the time limit holds for the readings and for the picture, each.
    grain, most_samples, picture_progress
        As for `throughlight.readings.picture.expose_picture`.
    denoise
        Whether PNG and TIFF show the picture denoised; readings, layers and the stops picture never are.

    Raises
    ------
    ValueError
        When the picture is too large to be held in memory.
    RuntimeError
        When no denoiser is there, or it fails.
    """
    readings = meter(setup, tolerance=tolerance, time_limit=time_limit, seed=seed, threads=threads, progress=progress)
    picture = expose_picture(
        setup, grain=grain, most_samples=most_samples, time_limit=time_limit, seed=seed, threads=threads,
        guided=denoise, progress=picture_progress,
    )  # fmt: skip
    return Shot(setup, readings, picture, quiet(picture))


def write_shot(shot: Shot, folder: Path) -> dict[str, Path]:
    """Write a shot's files into a folder, each atomically.

    Returns
    -------
    dict
        What each file is, and where: "picture" (sRGB PNG), "stops" (exposures as colour, PNG), "print" (16-bit TIFF),
        "layers" (linear OpenEXR), "readings" (JSON), and "retouch" (PNG mask) where a support, card or flag is in the
        frame.

    Raises
    ------
    OSError
        When a file cannot be written.
    """
    return {**write_pictures(shot, folder), "readings": write_readings(shot.as_json(), folder)}


def write_pictures(shot: Shot, folder: Path, mark: str = "") -> dict[str, Path]:
    """Write a shot's pictures into a folder, each atomically, with a mark at the end of their names.

    Returns
    -------
    dict
        What each file is, and where, as for `write_shot`.

    Raises
    ------
    OSError
        When a file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    setup, iso, denoised = shot.setup, shot.setup.camera.iso, shot.denoised
    shown = finished(setup, shot.exposure if denoised is None else denoised)
    paths = {
        "picture": folder / f"picture{mark}.png",
        "stops": folder / f"stops{mark}.png",
        "print": folder / f"picture{mark}.tif",
        "layers": folder / f"layers{mark}.exr",
    }
    title = credit(setup)
    marked = title | _description(setup, denoised=denoised is not None)
    files.write_png(paths["picture"], tone.develop(shown, iso), marked)
    files.write_png(paths["stops"], scale.stops_picture(framed(setup, shot.exposure), iso), title)
    files.write_tiff16(paths["print"], shown, iso, marked)
    files.write_exr(paths["layers"], _layers(shot), _masks(shot), title, denoised)
    return paths | write_retouch(setup, folder / f"retouch{mark}.png")


def write_retouch(setup: Setup, path: Path) -> dict[str, Path]:
    """Write the retouch mask as a picture, framed as the others are, and return where; nothing where it is empty.

    Raises
    ------
    OSError
        When the file cannot be written, or an old one cannot be taken away.
    """
    mask = retouch_mask(setup)
    if mask is None:
        path.unlink(missing_ok=True)
        return {}
    shares = np.rint(255.0 * np.clip(framed(setup, mask), 0.0, 1.0)).astype(np.uint8)
    what = "white where a support, card or flag covers the pixel"
    told = credit(setup) | {"description": what}
    files.write_png(path, np.repeat(shares[:, :, None], 3, axis=2), told)
    return {"retouch": path}


def credit(setup: Setup) -> dict[str, str]:
    """Return what a picture file says of a set: its title, and who made it where the set says so."""
    creator = setup.pitch.creator
    return {"title": setup.title} | ({} if creator is None else {"author": creator})


def _description(setup: Setup, *, denoised: bool) -> dict[str, str]:
    """Return what is noted in a picture of what was done to it."""
    notes = [words for words in (denoiser.MARK if denoised else "", finish_words(setup)) if words]
    mark = {"Denoised": denoiser.MARK} if denoised else {}
    return mark | ({"description": "; ".join(notes)} if notes else {})


def write_readings(told: dict[str, Any], folder: Path) -> Path:
    """Write the readings' JSON into a folder, atomically, and return its path.

    Raises
    ------
    OSError
        When the file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "readings.json"
    files.write_text(path, json.dumps(told, indent=2, ensure_ascii=False) + "\n")
    return path


def _layers(shot: Shot) -> dict[str, Floats]:
    """Return the linear layers by name: heads, room light, veil; lx·s."""
    layers = dict(zip(shot.picture.names, shot.picture.layers, strict=True))
    veil = np.sum(list(shot.readings.stray.veil_layers.values()), axis=0)
    layers["veil"] = np.broadcast_to(veil.astype(np.float32), shot.picture.layers.shape[1:])
    return layers


def _masks(shot: Shot) -> dict[str, Floats]:
    named = (("subject", Region.SUBJECT), ("backdrop", Region.BACKDROP), ("support", Region.SUPPORT))
    return {name: shot.picture.coverage[:, :, region] for name, region in named}
