"""Picture files, each written whole or not at all.

A file is written under another name in the same folder and then renamed, which POSIX and Windows do in one step; a
failure leaves what was there before. PNG and TIFF hold sRGB (IEC 61966-2-1) with its ICC profile, OpenEXR holds linear
BT.709 bands in lx·s.
"""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from throughlight import __version__
from throughlight.darkroom.tone import encode, linear

SOFTWARE = f"throughlight {__version__}"
COMMENT = "computed picture"
_D65 = (0.3127, 0.3290)
_BT709 = (0.640, 0.330, 0.300, 0.600, 0.150, 0.060)


def write_atomically(path: Path, write: Callable[[Path], object]) -> None:
    """Let `write` make a file under a passing name in the same folder, then give it its own.

    Raises
    ------
    OSError
        When the folder is missing or full. Whatever `write` raises passes on; no part of a file stays behind.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
    os.close(handle)
    passing = Path(name)
    try:
        write(passing)
        passing.chmod(0o666 & ~_umask())
        os.replace(passing, path)
    except BaseException:
        passing.unlink(missing_ok=True)
        raise


def _umask() -> int:
    """Return the rights that new files must not have; the system tells them only when they are set."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def write_text(path: Path, text: str) -> None:
    """Write text as UTF-8 with line feeds."""
    write_atomically(path, lambda passing: passing.write_bytes(text.encode("utf-8")))


def srgb_profile() -> bytes:
    """Return an ICC profile of sRGB."""
    from PIL import ImageCms

    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def write_png(path: Path, picture: NDArray[np.uint8], metadata: Mapping[str, str]) -> None:
    """Write an 8-bit sRGB picture.

    Parameters
    ----------
    path
        Where to.
    picture : (h, w, 3) array of uint8
        sRGB code values.
    metadata
        Texts to keep in the file, such as {"title": …}; keys are capitalised as the PNG standard has them (ISO/IEC
        15948:2004, 11.3.4.2). Software and Comment are added.

    Raises
    ------
    OSError
        When it cannot be written.
    """
    from PIL import Image, PngImagePlugin

    texts = PngImagePlugin.PngInfo()
    for key, value in {**metadata, "software": SOFTWARE, "comment": COMMENT}.items():
        texts.add_itxt(key.capitalize(), value)
    image = Image.fromarray(np.ascontiguousarray(picture))
    write_atomically(path, lambda passing: image.save(passing, icc_profile=srgb_profile(), pnginfo=texts))


def write_tiff16(path: Path, exposure: NDArray[np.floating], iso: float) -> None:
    """Write exposures as a 16-bit sRGB picture for printing.

    Parameters
    ----------
    path
        Where to.
    exposure : (h, w, 3) array
        lx·s in linear BT.709 bands.
    iso : float
        ISO speed.

    Raises
    ------
    OSError
        When it cannot be written.
    """
    import tifffile

    codes = np.round(65535.0 * encode(linear(exposure, iso))).astype(np.uint16)
    profile = srgb_profile()
    write_atomically(
        path,
        lambda passing: tifffile.imwrite(
            passing, codes, photometric="rgb", compression="zlib", predictor=True, iccprofile=profile,
            software=SOFTWARE, description=COMMENT, metadata=None,
        ),
    )  # fmt: skip


def write_exr(
    path: Path,
    layers: Mapping[str, NDArray[np.floating]],
    masks: Mapping[str, NDArray[np.floating]],
    *,
    half: bool = False,
) -> None:
    """Write linear layers and masks as OpenEXR.

    Parameters
    ----------
    path
        Where to.
    layers
        By name, (h, w, 3) lx·s in linear BT.709 bands. R, G, B of the file is their sum; each is also kept as
        "name.R", "name.G", "name.B", the name with letters, digits, "-" and "_" only.
    masks
        By name, (h, w), 0 to 1, kept as "mask.name".
    half
        Whether to keep 16 bits a value instead of 32: three digits, and nothing above 65504 lx·s.

    Raises
    ------
    ValueError
        If there is no layer, or two names become the same.
    OSError
        When it cannot be written.
    """
    if not layers:
        raise ValueError("an OpenEXR file of no layers")
    import OpenEXR

    kind = np.float16 if half else np.float32
    total = np.sum([np.asarray(layer, dtype=np.float64) for layer in layers.values()], axis=0)
    channels = dict(zip("RGB", np.moveaxis(total, 2, 0), strict=True))
    for name, layer in layers.items():
        for band, values in zip("RGB", np.moveaxis(np.asarray(layer), 2, 0), strict=True):
            _add(channels, f"{channel_name(name)}.{band}", values)
    for name, mask in masks.items():
        _add(channels, f"mask.{channel_name(name)}", np.asarray(mask))
    header: dict[str, Any] = {
        "compression": OpenEXR.ZIP_COMPRESSION,
        "type": OpenEXR.scanlineimage,
        "chromaticities": (*_BT709, *_D65),
        "comments": f"{COMMENT}; linear exposures in lx·s, bands of Rec. ITU-R BT.709-6",
        "software": SOFTWARE,
    }
    ready = {name: np.ascontiguousarray(values, dtype=kind) for name, values in channels.items()}
    write_atomically(path, lambda passing: _write_channels(passing, header, ready))


def channel_name(name: str) -> str:
    """Return a layer's name as other programs read it: letters, digits, "-" and "_" (a dot would part it)."""
    return re.sub(r"[^\w-]+", "_", name.strip(), flags=re.ASCII).strip("_")


def _add(channels: dict[str, NDArray[Any]], name: str, values: NDArray[Any]) -> None:
    if name in channels:
        raise ValueError(f'two layers are both called "{name}" in the file')
    channels[name] = values


def _write_channels(path: Path, header: dict[str, Any], channels: dict[str, NDArray[Any]]) -> None:
    import OpenEXR

    with OpenEXR.File(header, channels) as file:
        file.write(str(path))
