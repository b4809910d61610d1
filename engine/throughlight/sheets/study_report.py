"""The report of a study as files in one folder: page, spreadsheet, JSON, contact sheet and the pictures of the best.

A picture is exposed once and kept; a later report takes it from its file while the candidate's set is the same.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom import denoiser, files
from throughlight.darkroom.names import seen
from throughlight.setup import Setup
from throughlight.sheets.contact import Labelled, contact_sheet
from throughlight.sheets.small import jpeg, read_png, small_picture
from throughlight.sheets.study_page import SmallPicture, keys_that_differ, write_study_page
from throughlight.study.export import results_csv, results_json
from throughlight.study.light import whole_key
from throughlight.study.results import Results, Row
from throughlight.study.said import amounts, minus, said, verdict

Colours = NDArray[np.uint8]

Told = Callable[[int, int, float], None]
"""Called with how many pictures are done, how many there will be, and the share of the present one."""

PICTURED = 12
"""How many of the best are pictured."""


def write_files(
    results: Results, folder: Path, pictures: dict[int, Colours] | None = None, *, denoised: bool = False
) -> dict[str, Path]:
    """Write a study's report, each file whole or not at all.

    Parameters
    ----------
    results
        The study as it stands.
    folder
        Where to; made if it is missing.
    pictures
        Candidate's number → its picture, for those that have one.
    denoised
        Whether the pictures are.

    Returns
    -------
    dict
        What each file is, and where: "page", "spreadsheet", "json", and "contact sheet" where there are pictures.

    Raises
    ------
    OSError
        When a file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    shown = {} if pictures is None else pictures
    paths = {"page": folder / "report.html", "spreadsheet": folder / "ranking.csv", "json": folder / "results.json"}
    files.write_text(paths["spreadsheet"], results_csv(results))
    files.write_text(paths["json"], json.dumps(results_json(results), indent=2, ensure_ascii=False) + "\n")
    if shown:
        paths["contact sheet"] = folder / "contact.png"
        about = {"title": results.title, **({"Denoised": denoiser.MARK} if denoised else {})}
        files.write_png(paths["contact sheet"], _sheet(results, shown), about)
    small = {number: _small(picture) for number, picture in shown.items()}
    write_study_page(results, paths["page"], small, denoised=denoised)
    return paths


def _small(picture: Colours) -> SmallPicture:
    return SmallPicture(jpeg(picture), "image/jpeg", picture.shape[1], picture.shape[0])


def _sheet(results: Results, pictures: dict[int, Colours]) -> Colours:
    """Return the contact sheet of all candidates that have a picture, best first."""
    shown = [(place, row) for place, row in enumerate(results.ranked, 1) if row.number in pictures]
    keys = keys_that_differ([row for _, row in shown], results.keys)
    labelled = [
        Labelled(
            pictures[row.number], f"{place}. No. {row.number}",
            (minus(said(row, keys)), f"loss {amounts(row.loss)} stops, {verdict(row)}"),
        )
        for place, row in shown
    ]  # fmt: skip
    return contact_sheet(f"{seen(results.title)}, the best {len(labelled)} of {len(results.ranked)}", labelled)


def pictures_of_best(
    results: Results,
    setup_of: Callable[[Row], Setup],
    folder: Path,
    *,
    most: int = PICTURED,
    time_limit: float | None = 20.0,
    threads: int | None = None,
    denoise: bool = False,
    progress: Told | None = None,
) -> dict[int, Colours]:
    """Return small pictures of the best candidates, from their files or freshly exposed, and keep them.

    Parameters
    ----------
    results
        The study as it stands.
    setup_of
        Gives a good candidate's set.
    folder
        Where pictures are kept; made if it is missing.
    most
        How many.
    time_limit
        Seconds for each picture, after which it stays as grainy as it is.
    threads, denoise
        As for `throughlight.shoot`.
    progress
        Called now and then.

    Raises
    ------
    OSError
        When a picture cannot be written.
    RuntimeError
        When no denoiser is there, or it fails.
    """
    folder.mkdir(parents=True, exist_ok=True)
    best = results.ranked[:most]
    pictures: dict[int, Colours] = {}
    for done, row in enumerate(best):
        setup = setup_of(row)
        path = folder / f"{row.number:05d}-{whole_key(setup)[:12]}{'-denoised' if denoise else ''}.png"
        picture = read_png(path)
        if picture is None:
            veil = row.figure("veil")
            picture = small_picture(
                setup, -math.inf if veil is None else veil.value, time_limit=time_limit, threads=threads,
                denoise=denoise,
                progress=None if progress is None else _within(progress, done, len(best)),
            )  # fmt: skip
            if picture is None:
                return pictures
            files.write_png(path, picture, {"title": f"{results.title}, No. {row.number}"})
        pictures[row.number] = picture
    return pictures


def _within(progress: Told, done: int, total: int) -> Callable[[float, int], None]:
    return lambda share, _: progress(done, total, share)
