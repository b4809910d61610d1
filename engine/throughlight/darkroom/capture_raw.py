"""A raw file's sensor values as linear light, each pixel of the result made from one whole tile of the colour mosaic.

Black is taken off and nothing cut off at zero, so that the mean of a dark, noisy patch stays what it is. A tile's
samples of one colour are averaged; bands are then multiplied by the white balance of the shot and turned from the
camera's primaries to BT.709 by its matrix (the camera's answer to XYZ, as the raw library knows it; rows scaled so that
white stays white, common practice of raw development). 1 is the value at which the green samples saturate. A linear
DNG, whose bands were told apart by a converter, has no mosaic: its pixels are taken one by one.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom.capture_codes import exif_of, refuse_size, upright
from throughlight.darkroom.capture_data import ExposureData, Unfit, from_tags, number

_SINGULAR = 1e-3
_FULL = 0.995  # of the white level: sensors saturate a little unevenly
_XYZ_OF_SRGB = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
KINDS = (".dng", ".nef", ".cr2", ".cr3", ".crw", ".arw", ".sr2", ".raf", ".rw2", ".orf", ".pef", ".srw", ".iiq", ".3fr")
"""Usual endings of raw files."""
_ORIENTATIONS = {0: 1, 1: 2, 2: 4, 3: 3, 4: 5, 5: 8, 6: 6, 7: 7}
"""Exif orientation of the raw library's mark of how the camera was held."""


class RawLight(NamedTuple):
    """light: (h, w, 3). clipped: (h, w), where a sample of the tile is full. levels: of the sensor, black to white."""

    light: NDArray[np.float32]
    clipped: NDArray[np.bool_]
    levels: int
    tile: int
    data: ExposureData
    warnings: tuple[str, ...]


def read_raw(path: Path) -> RawLight:
    """Return a raw file's light.

    Raises
    ------
    Unfit
        When no reader is installed, or the file is no mosaic of red, green and blue.
    Exception
        Whatever the reader does with a broken file.
    """
    try:
        import rawpy
    except ImportError:
        need = "raw files need the extra raw (`pip install 'throughlight[raw]'`)"
        raise Unfit(f"{need}; a 16-bit TIFF, a JPEG or a PNG would fit without it") from None
    with rawpy.imread(str(path)) as raw:
        sizes = raw.sizes
        refuse_size(max(sizes.width * sizes.height, sizes.raw_width * sizes.raw_height))
        data = _data(path, raw)
        pattern, values = raw.raw_pattern, raw.raw_image_visible
        if values is None or raw.num_colors != 3 or (values.ndim == 2 and pattern is None):
            raise Unfit("its sensor has no mosaic of red, green and blue; a 16-bit TIFF would fit")
        black, white = np.asarray(raw.black_level_per_channel, np.float64), float(raw.white_level)
        if values.ndim == 2:
            tile = int(pattern.shape[0])
            light, clipped = _tiles(np.asarray(values), np.asarray(raw.raw_colors_visible), black, white, tile)
        else:
            tile, white = 1, white + black.max()  # of such files the library tells the white over black
            light = (values[..., :3] - black[:3]) / (white - black[:3])
            clipped = np.asarray((light >= _FULL).any(axis=2))
        balance, warnings = _balance(raw)
        light = light * (balance / balance[1]) @ _to_bt709(raw.rgb_xyz_matrix, raw.color_matrix).T
        orientation = _ORIENTATIONS.get(int(sizes.flip), 1)
    return RawLight(
        upright(light.astype(np.float32), orientation), upright(clipped, orientation),
        round(white - black.min()), tile, data, warnings,
    )  # fmt: skip


def _tiles(
    mosaic: NDArray[Any], colours: NDArray[Any], black: NDArray[np.float64], white: float, tile: int
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return the mean of each colour's samples in each tile, black 0 and full 1, and where one is full."""
    rows, columns = mosaic.shape[0] // tile, mosaic.shape[1] // tile
    light, counts = np.zeros((rows, columns, 3)), np.zeros((rows, columns, 3))
    clipped = np.zeros((rows, columns), np.bool_)
    for down in range(tile):
        for across in range(tile):
            place = (slice(down, rows * tile, tile), slice(across, columns * tile, tile))
            value, colour = mosaic[place].astype(np.float64), colours[place].astype(np.int64)
            share = (value - black[colour]) / (white - black[colour])
            band = np.where(colour == 3, 1, colour)  # the second green has a number of its own
            for one in range(3):
                light[..., one] += np.where(band == one, share, 0.0)
                counts[..., one] += band == one
            clipped |= share >= _FULL
    return light / np.maximum(counts, 1.0), clipped


def _balance(raw: Any) -> tuple[NDArray[np.float64], tuple[str, ...]]:  # noqa: ANN401 - a file of rawpy's
    """Return the multipliers of red, green and blue."""
    for given, warnings in (
        (raw.camera_whitebalance, ()),
        (raw.daylight_whitebalance, ("the file has no white balance; daylight is taken",)),
    ):
        balance = np.asarray(given[:3], np.float64)
        if np.isfinite(balance).all() and (balance > 0.0).all():
            return balance, warnings
    return np.ones(3), ("the file has no white balance; its bands are taken as they are",)


def _to_bt709(from_xyz: NDArray[Any], told: NDArray[Any]) -> NDArray[np.float64]:
    """Return the matrix from balanced camera bands to BT.709: worked out from the camera's answer to XYZ, or as told.

    The bands are left as they are where neither is known.
    """
    camera = np.asarray(from_xyz[:3], np.float64) @ _XYZ_OF_SRGB
    white = camera.sum(axis=1)
    if np.isfinite(camera).all() and (white > 0.0).all() and abs(np.linalg.det(camera / white[:, None])) > _SINGULAR:
        return np.asarray(np.linalg.inv(camera / white[:, None]))
    matrix = np.asarray(told, np.float64)[:, :3]
    if np.isfinite(matrix).all() and abs(np.linalg.det(matrix)) > _SINGULAR:
        return matrix
    return np.eye(3)


def _data(path: Path, raw: Any) -> ExposureData:  # noqa: ANN401 - a file of rawpy's
    """Return the settings: as the tags of a file built like a TIFF say, else as the raw library found them."""
    other, told = raw.other, _tags(path)
    focal = number(getattr(other, "focal_length", None))
    found = ExposureData(
        f_number=number(getattr(other, "aperture", None)),
        shutter=number(getattr(other, "shutter_speed", None)),
        iso=number(getattr(other, "iso_speed", None)),
        focal=None if focal is None else focal / 1000.0,
    )
    return ExposureData(**{name: one if one is not None else getattr(found, name) for name, one in vars(told).items()})


def _tags(path: Path) -> ExposureData:
    import tifffile

    try:
        with tifffile.TiffFile(path) as file:
            tags = {tag.code: tag.value for tag in file.pages[0].tags.values()}
            return from_tags({**tags, **exif_of(tags)})
    except Exception:  # no TIFF, or one with odd tags: the raw library knows better
        return ExposureData()
