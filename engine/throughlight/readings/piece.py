"""A new piece: its matter, from what was read, photographed or published of it, with what stays open.

Each band is told by itself (`swatch.belief`); readings that say the same for all bands are worked out once. Readings
that do not agree within their errors are believed with errors so much wider that they do: each times √(χ²/m) for m
readings (R. T. Birge 1932, Phys. Rev. 40:207).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom.capture import Capture, CaptureError, read_capture
from throughlight.setup import Material, Mistake, SetupError
from throughlight.setup.piece_limits import USUAL_ERROR
from throughlight.setup.pieces import Photo, Piece, Published
from throughlight.swatch.belief import DRAWS, NORMAL_95, Belief, Measured, Prior, Span, believe
from throughlight.swatch.photo import Passed, passed
from throughlight.swatch.slabs import Optics, Slabs, slabs_of

Array = NDArray[np.float64]

BANDS = ("red", "green", "blue")
_CURVE_ERROR = 0.3  # stops, 95 %, of a photo with an unknown contrast curve: common practice, no source
_THICKNESS_ERROR = 0.1e-3  # m, 95 %: a calliper on a piece by hand, common practice, no source
_THIN = 0.05  # of the thickness, where that is less
_USUAL_THICKNESS = 5e-3
_VEILED = 0.15  # stops
_UNEVEN = 0.15  # stops
_TOLD_CODES = 4.0  # code values over black: the least light of which a photo tells
_ROUNDS = 4  # of widening errors; wider ones let matter in that agrees better, so one mostly does
_LEAST = 2.0**-14  # and no less than this: no sensor's black is known better


@dataclass(frozen=True)
class Shot:
    """What a photo told, and how far it can be trusted."""

    photo: Photo
    passed: Passed
    straight: bool
    doubts: tuple[str, ...]


@dataclass(frozen=True)
class PieceReading:
    """The matter of a piece.

    piece: what was given. slabs: solved slabs of its g, n and roughness. beliefs: one for each band, or a single one
    for all. measured: the readings behind each. shots: the photos.
    """

    piece: Piece
    slabs: Slabs
    beliefs: tuple[Belief, ...]
    measured: tuple[tuple[Measured, ...], ...]
    shots: tuple[Shot, ...] = ()

    @property
    def neutral(self) -> bool:
        """Return whether all bands are one."""
        return len(self.beliefs) == 1

    @property
    def error(self) -> float:
        """How far a difference of two readings may be off, stops, 95 %; of photos the sorriest."""
        if self.piece.error is not None:
            return self.piece.error
        return _CURVE_ERROR if any(not shot.straight for shot in self.shots) else USUAL_ERROR

    @property
    def thickness(self) -> float:
        """The thickness at which most is known: of the thickest reading through the piece, m."""
        through = [one.thickness for one in self.measured[0] if one.look != "card"]
        if through:
            return max(through)
        given = None if self.piece.published is None else self.piece.published.thickness
        return _USUAL_THICKNESS if given is None else given

    @property
    def material(self) -> Material:
        """The matter as a set uses it."""
        return self.material_of([belief.best for belief in self.beliefs])

    def material_of(self, pairs: Sequence[tuple[float, float]]) -> Material:
        """Return matter with these µs′ and µa, 1/m: one pair for all bands, or three."""
        red, green, blue = list(pairs) * 3 if len(pairs) == 1 else list(pairs)
        return Material.model_construct(
            name=self.piece.name,
            like=None,
            reduced_scattering=(red[0], green[0], blue[0]),
            absorption=(red[1], green[1], blue[1]),
            g=self.piece.asymmetry,
            n=self.piece.index,
            roughness=self.piece.faces,
            map=None,
        )


def read_piece(piece: Piece) -> PieceReading:
    """Return the matter of a piece.

    Raises
    ------
    SetupError
        When a photo cannot be used.
    """
    slabs = slabs_of(piece.asymmetry, piece.index, piece.faces, Optics(*piece.unsure))
    if piece.published is not None:
        return PieceReading(piece, slabs, _published(piece, piece.published, len(slabs.unsure)), ((),) * 3)
    shots = tuple(_shot(photo) for photo in piece.photos)
    measured = [tuple(_measured(piece, shots, band)) for band in range(3)]
    if all(one == measured[0] for one in measured):
        measured = measured[:1]
    prior = Prior(piece.kind.scatter, piece.kind.absorb)
    beliefs = tuple(_believed(slabs, one, prior) for one in measured)
    return PieceReading(piece, slabs, beliefs, tuple(measured), shots)


def _believed(slabs: Slabs, measured: Sequence[Measured], prior: Prior) -> Belief:
    """Return what readings tell; where they don't agree, with errors so wide that they do."""
    told, softer = believe(slabs, measured, prior), 1.0
    first = told
    for _ in range(_ROUNDS):
        if told.misfit <= told.allowed:
            break
        softer *= math.sqrt(max(told.misfit / len(measured), 2.0))
        wider = [
            one._replace(error=softer * one.error, thickness_error=softer * one.thickness_error) for one in measured
        ]
        told = believe(slabs, wider, prior)
    return told._replace(misfit=first.misfit, allowed=first.allowed)


def capture_of(photo: Photo) -> Capture:
    """Return a photo as light.

    Raises
    ------
    SetupError
        When it cannot be used.
    """
    try:
        return read_capture(photo.picture, encoding=photo.encoding)
    except CaptureError as trouble:
        raise SetupError([Mistake(str(photo.picture), 0, 0, "", trouble.words)]) from None


def _shot(photo: Photo) -> Shot:
    capture = capture_of(photo)
    least = max(_LEAST, _TOLD_CODES * float(capture.step(np.zeros(1))[0]))
    try:
        told = passed(capture.linear, least, photo.bare, photo.piece, clipped=capture.clipped)
    except ValueError as trouble:
        raise SetupError([Mistake(str(photo.picture), 0, 0, "", str(trouble))]) from None
    doubts = [f"photo {photo.picture.name}: {warning}" for warning in capture.warnings]
    if told.floor.any():
        bands = " and ".join(BANDS[i] for i in np.flatnonzero(told.floor))
        doubts.append(f"in {bands} the piece is as dark as the photo can tell; it may be darker")
    if told.error.max() > _VEILED:
        doubts.append(
            f"the veil of the bare table over so dark a piece leaves it unsure by {told.error.max():.1f} stop; a mask "
            "of black card on the table round the piece helps, and its region piece is then to be said"
        )
    if abs(told.made) > _UNEVEN:
        side = "brighter" if told.made > 0.0 else "darker"
        doubts.append(
            f"the light table is told to be {abs(told.made):.1f} stop {side} where the piece lies than round it, which "
            "is evened out and widens the interval; a photo of the bare table would show"
        )
    return Shot(photo, told, capture.kind != "developed", tuple(doubts))


def _measured(piece: Piece, shots: Sequence[Shot], band: int) -> list[Measured]:
    """Return all readings of one band."""

    def thickness_error(thickness: float) -> float:
        usual = min(_THICKNESS_ERROR, _THIN * thickness)
        return (usual if piece.thickness_error is None else piece.thickness_error) / NORMAL_95

    def error_or(usual: float) -> float:
        return (usual if piece.error is None else piece.error) / NORMAL_95

    meter = error_or(USUAL_ERROR)
    found = [
        Measured(one.seen, one.thickness, one.stops[band], meter, thickness_error(one.thickness))
        for one in piece.readings
    ]
    for shot in shots:
        error = float(np.hypot(error_or(USUAL_ERROR if shot.straight else _CURVE_ERROR), shot.passed.error[band]))
        stops = -float(np.log2(shot.passed.share[band]))
        thickness = shot.photo.thickness
        found.append(Measured("light table", thickness, stops, error, thickness_error(thickness)))
    for card in piece.cards:
        under_white = -card.over[band] - float(np.log2(card.grey))
        found.append(Measured("card", card.thickness, under_white, meter, thickness_error(card.thickness)))
    return found


def _published(piece: Piece, published: Published, unsure: int) -> tuple[Belief, ...]:
    """Return what published coefficients say, with their spread and with what of the optics is unsure."""
    reduced = published.reduced_scattering
    if reduced is None:
        assert published.scattering is not None  # checked when it was read
        red, green, blue = ((1.0 - piece.asymmetry) * one for one in published.scattering)
        reduced = (red, green, blue)
    spread = float(np.log1p(published.spread))
    pairs = list(zip(reduced, published.absorption, strict=True))
    told = [_as_published(scatter, absorb, spread, unsure) for scatter, absorb in pairs]
    return tuple(told[:1] if len(set(pairs)) == 1 else told)


def _as_published(scatter: float, absorb: float, spread: float, unsure: int) -> Belief:
    def span(value: float) -> Span:
        return Span(value, value * np.exp(-NORMAL_95 * spread), value * np.exp(NORMAL_95 * spread), True)

    drawn = np.random.default_rng(1).standard_normal((DRAWS, 2 + unsure))
    draws = np.array([scatter, absorb]) * np.exp(spread * drawn[:, :2])
    return Belief(span(scatter), span(absorb), (scatter, absorb), draws, drawn[:, 2:], 0.0, 1.0, 0.0)
