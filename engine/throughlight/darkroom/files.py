"""Picture files: sRGB PNG, 16-bit TIFF, OpenEXR with linear layers; each written whole or not at all.

A file is first written under a passing name in its own folder and then put in place in one step, so that a full disk or
a broken-off run never leaves half a file, nor harms the one that was there. The same picture gives the same bytes: no
file holds the time of day.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from throughlight import __version__
from throughlight.darkroom import tone
from throughlight.darkroom.names import layer_names, seen

SOFTWARE = f"Throughlight {__version__}"
NOTE = "Computed picture, not a photograph"
_INCH = 300.0  # pixels an inch, the printing trade's usual figure (common practice, no source)
_MOST_BYTES = 8 << 30
_ARTIST = 315
"""The tag of who made a picture (TIFF 6.0, section 8)."""
_BT709 = (0.640, 0.330, 0.300, 0.600, 0.150, 0.060, 0.3127, 0.3290)
"""Chromaticities of the primaries R, G, B and of white D65 (ITU-R BT.709)."""
KEYWORDS = {"title": "Title", "author": "Author", "description": "Description", "copyright": "Copyright"}
"""Keywords that the PNG standard registers (ISO/IEC 15948, 11.3.4.2)."""


@contextmanager
def atomic(path: Path) -> Iterator[Path]:
    """Give a passing file's path in the same folder; it takes its place at the end, or vanishes on any failure.

    Raises
    ------
    OSError
        When the folder is missing or cannot be written, or when something other than a file has the name.
    """
    if path.exists() and not path.is_file():
        raise OSError(f"{path} is not a file that could be replaced")
    # The name is short and plain whatever `path` is called; it keeps the suffix that libraries go by.
    passing = path.with_name(f".{secrets.token_hex(8)}.part{path.suffix if len(path.suffix) < 10 else ''}")
    try:
        passing.touch(exist_ok=False)
    except OSError as trouble:
        raise OSError(trouble.errno, trouble.strerror, str(path)) from trouble
    try:
        yield passing
        os.replace(passing, path)
    finally:
        passing.unlink(missing_ok=True)


def srgb_profile() -> bytes:
    """Return an ICC profile of sRGB, the same bytes each time."""
    from PIL import ImageCms

    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    # Bytes 24 to 35 of the header are the date of making (ICC.1:2022, 7.2.8), six numbers; it is set to 1 January 2000.
    profile[24:36] = b"".join(part.to_bytes(2, "big") for part in (2000, 1, 1, 0, 0, 0))
    return bytes(profile)


def write_text(path: Path, text: str) -> None:
    """Write a text file in UTF-8, lines ended alike on all systems.

    Raises
    ------
    OSError
        When it cannot be written.
    """
    with atomic(path) as passing:
        # Half a character (a lone surrogate) has no UTF-8; it becomes a question mark.
        passing.write_bytes(text.encode("utf-8", errors="replace"))


def write_png(
    path: Path, picture: NDArray[np.uint8], metadata: Mapping[str, str] | None = None, *, small: bool = True
) -> None:
    """Write an 8-bit sRGB picture with its ICC profile.

    Parameters
    ----------
    path : Path
        Where to.
    picture : array (h, w, 3) of uint8
        sRGB code values.
    metadata : mapping of str to str
        Texts kept in the file: "title", "author", "description", "copyright", or other keywords of up to 79 Latin-1
        signs. Software and a note that the picture is computed are always added.
    small : bool
        Whether to spend time on a small file.

    Raises
    ------
    ValueError
        When the array is no picture.
    OSError
        When it cannot be written.
    """
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    if picture.ndim != 3 or picture.shape[2] != 3 or picture.dtype != np.uint8 or 0 in picture.shape:
        raise ValueError(f"a PNG needs (h, w, 3) of uint8; found {picture.shape} of {picture.dtype}")
    texts = PngInfo()
    told = {} if metadata is None else metadata
    for key, value in [*told.items(), ("Software", SOFTWARE), ("Comment", NOTE)]:
        plain = seen(KEYWORDS.get(key, key).encode("latin-1", errors="ignore").decode("latin-1"), 79)
        texts.add_itxt(plain if plain else "Comment", seen(value))
    with atomic(path) as passing:
        Image.fromarray(picture).save(
            passing, format="PNG", icc_profile=srgb_profile(), pnginfo=texts, dpi=(_INCH, _INCH), optimize=small,
            compress_level=9 if small else 1,
        )  # fmt: skip


def write_tiff16(path: Path, H: NDArray[np.floating], iso: float, metadata: Mapping[str, str] | None = None) -> None:
    """Write linear exposures as a developed 16-bit sRGB TIFF with ICC profile and resolution.

    Parameters
    ----------
    path : Path
        Where to.
    H : array (h, w, 3)
        Luminous exposures, lx·s, linear BT.709.
    iso : float
        ISO speed.
    metadata : mapping of str to str
        "title" begins the file's description, "description" goes on with it; "author" is the artist.

    Raises
    ------
    ValueError
        When the array is no picture, the file would pass 8 GiB, or the ISO speed is not positive.
    OSError
        When it cannot be written.
    """
    import tifffile

    if H.ndim != 3 or H.shape[2] != 3 or 0 in H.shape:
        raise ValueError(f"a TIFF needs exposures of shape (h, w, 3); found {H.shape}")
    _refuse_too_large(H.shape[0] * H.shape[1] * 3 * 2)
    picture = np.empty(H.shape, np.uint16)
    for row in range(H.shape[0]):
        picture[row] = np.rint(65535.0 * tone.signal(H[row], iso)).astype(np.uint16)
    told = {} if metadata is None else metadata
    sentences = (seen(told.get("title", "")), NOTE, seen(told.get("description", "")))
    description = " ".join(f"{words}." for words in sentences if words)
    author = seen(told.get("author", "")).encode("utf-8")
    artist = [(_ARTIST, "s", 0, author, True)] if author else []
    with atomic(path) as passing:
        tifffile.imwrite(
            passing, picture, photometric="rgb", compression="zlib", bigtiff=picture.nbytes > 3 << 30,
            resolution=(_INCH, _INCH), resolutionunit="INCH", iccprofile=srgb_profile(),
            software=SOFTWARE, description=description.encode("utf-8"), metadata=None, extratags=artist,
        )  # fmt: skip


def write_exr(
    path: Path,
    layers: Mapping[str, NDArray[np.floating]],
    masks: Mapping[str, NDArray[np.floating]] | None = None,
    metadata: Mapping[str, str] | None = None,
    denoised: NDArray[np.floating] | None = None,
) -> None:
    """Write linear exposures as an OpenEXR file: their sum as R, G, B, each layer beside it, and masks.

    Parameters
    ----------
    path : Path
        Where to.
    layers : mapping of str to array (h, w, 3)
        Exposures by name, lx·s, linear BT.709; channels "name.R", "name.G", "name.B", 32-bit float.
    masks : mapping of str to array (h, w)
        Shares 0..1 by name; channels "mask.name".
    metadata : mapping of str to str
        "title" is kept in the header, "author" as its owner.
    denoised : array (h, w, 3)
        The denoised sum, where there is one: channels "denoised.R", "denoised.G", "denoised.B", and a note in the
        header, "denoised". R, G, B and the layers are never denoised.

    Raises
    ------
    ValueError
        When there is no layer, shapes differ, or the file would pass 8 GiB.
    OSError
        When it cannot be written.
    """
    flat: Mapping[str, NDArray[np.floating]] = {} if masks is None else masks
    _refuse_misfits(layers, flat)
    if denoised is not None and denoised.shape != next(iter(layers.values())).shape:
        raise ValueError(f"the denoised picture has the shape {denoised.shape}, unlike the layers")
    channels = _exr_channels(layers, flat, denoised)
    header: dict[str, Any] = {
        "chromaticities": _BT709,
        "software": SOFTWARE,
        "comments": f"{NOTE}. Luminous exposures in lx s, linear. R, G, B are the sum of all layers.",
    }
    for key, name in (("title", "title"), ("author", "owner")):
        words = "" if metadata is None else seen(metadata.get(key, ""))
        if words:
            header[name] = words
    if denoised is not None:
        header["denoised"] = "true: the channels denoised.R, denoised.G, denoised.B; no others"
    _write_exr(path, header, channels)


def _write_exr(path: Path, header: dict[str, Any], channels: dict[str, NDArray[np.float32]]) -> None:
    import OpenEXR

    header = {**header, "compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}
    with atomic(path) as passing:
        try:
            OpenEXR.File(header, channels).write(str(passing))
        except RuntimeError as trouble:
            raise OSError(f"the OpenEXR file could not be written: {trouble}") from trouble


def _refuse_too_large(size: int) -> None:
    if size > _MOST_BYTES:
        raise ValueError(f"the file would take {size / (1 << 30):.1f} GiB, more than 8; fewer pixels would fit")


def _refuse_misfits(layers: Mapping[str, NDArray[np.floating]], masks: Mapping[str, NDArray[np.floating]]) -> None:
    """Refuse layers that do not belong to one picture, before anything is allocated for them."""
    if not layers:
        raise ValueError("an OpenEXR file needs at least one layer")
    first = next(iter(layers.values())).shape
    if len(first) != 3 or first[2] != 3 or 0 in first:
        raise ValueError(f"a layer needs the shape (h, w, 3); found {first}")
    for name, array in [*layers.items(), *masks.items()]:
        wanted = first if name in layers and array is layers[name] else first[:2]
        if array.shape != wanted:
            raise ValueError(f"“{seen(name)}” has the shape {array.shape}; {wanted} would fit the other layers")
    _refuse_too_large(first[0] * first[1] * 4 * (3 * (len(layers) + 1) + len(masks)))


def _exr_channels(
    layers: Mapping[str, NDArray[np.floating]],
    masks: Mapping[str, NDArray[np.floating]],
    denoised: NDArray[np.floating] | None,
) -> dict[str, NDArray[np.float32]]:
    """Return every channel by its name, each contiguous."""
    bands = {band: np.sum([layer[:, :, at] for layer in layers.values()], axis=0) for at, band in enumerate("RGB")}
    channels = {band: np.ascontiguousarray(array, dtype=np.float32) for band, array in bands.items()}
    taken = {"mask"}
    if denoised is not None:
        taken.add("denoised")
        quiet = {f"denoised.{band}": denoised[:, :, at] for at, band in enumerate("RGB")}
        channels |= {name: np.ascontiguousarray(array, dtype=np.float32) for name, array in quiet.items()}
    for name, layer in layer_names(layers, taken=taken).items():
        for at, band in enumerate("RGB"):
            channels[f"{layer}.{band}"] = np.ascontiguousarray(layers[name][:, :, at], dtype=np.float32)
    for name, mask in layer_names(masks).items():
        channels[f"mask.{mask}"] = np.ascontiguousarray(masks[name], dtype=np.float32)
    return channels
