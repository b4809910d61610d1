"""The file of a new piece: what was read, photographed or found published of it, from which its matter is told."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationError, ValidationInfo, field_validator, model_validator

from throughlight.darkroom import capture, capture_codes, capture_raw
from throughlight.kit import using
from throughlight.setup.bands import Band, Bands, Coefficients
from throughlight.setup.base import Part, folder_of
from throughlight.setup.families import KindOfMatter
from throughlight.setup.kind import misfit, refusal
from throughlight.setup.mistakes import Mistake, SetupError
from throughlight.setup.own_kit import kit_for
from throughlight.setup.pictures import locate_picture
from throughlight.setup.piece_limits import impossible
from throughlight.setup.shown import MeterShows
from throughlight.setup.text import parsed, placed, text_of
from throughlight.setup.trade_numbers import plain_stops
from throughlight.setup.units import STOPS, TOLERANCE, FrameShare, Size, pure
from throughlight.setup.words import said_key, sentence

_MOST = 30
_MOST_LOSS = 25.0  # stops from the brightest to the darkest that a meter reads: common practice, no source
Seen = Literal["light table", "diffuse"]
Region = tuple[FrameShare, FrameShare, FrameShare, FrameShare]
Spread = Annotated[float, pure("a share", 0.0, 1.0, "0.2")]
_REGION = "from the left, from the top, width, height"


def _plain(said: object) -> object:
    """Return stops that are said as in the trade as a file has them."""
    if isinstance(said, list):
        return [_plain(one) for one in said]
    return plain_stops(said) if isinstance(said, str) else said


def _listed(value: object) -> object:
    return value if isinstance(value, list | tuple) else [value]


StopsByBand = Annotated[Band, Bands(STOPS), BeforeValidator(_plain)]


class Reading(Part):
    """A reading without and with the piece in front of the light."""

    thickness: Size = Field(description="of the piece where it was read")
    less: StopsByBand | None = Field(None, description="stops less with the piece: one number, or red, green and blue")
    bare: MeterShows | None = Field(None, description="what the meter shows without the piece")
    piece: MeterShows | None = Field(None, description="what the meter shows with it")
    seen: Seen = Field(
        "light table",
        description="straight on before an even light, or by a flat receptor behind the piece lit straight on: "
        '"light table"; by a flat receptor that lies on the piece before an even light: "diffuse"',
    )

    @model_validator(mode="after")
    def _tells_a_loss(self) -> Reading:
        if self.less is None and (self.bare is None or self.piece is None):
            raise refusal('the reading tells no loss; less = "5.3 stops", or bare and piece, would fit')
        if self.less is not None and (self.bare is not None or self.piece is not None):
            raise refusal("found less beside bare or piece; one of the two ways would fit")
        if self.bare is not None and self.piece is not None and self.bare.sort != self.piece.sort:
            words = f"found a bare reading in {self.bare.sort} and one with the piece in {self.piece.sort}"
            raise refusal(f"{words}; two of one sort would fit")
        least, most = min(self.stops), max(self.stops)
        if least <= 0.0:
            unit = "stop" if least >= -1.0 else "stops"
            words = f"more light with the piece than without ({-least:.2g} {unit} more): nothing passes more than falls"
            if least == 0.0:
                words = "as much light with the piece as without: two faces alone take some of what falls"
            doubt = "" if self.less is None or least == 0.0 else "a loss has no minus sign; "
            raise refusal(f"{words} on it; {doubt}were the two readings exchanged, or the room light on?")
        if most > _MOST_LOSS:
            words = f"found {most:.3g} stops less, and a meter tells no more than {_MOST_LOSS:.0f}"
            raise refusal(f"{words}; a reading through a thinner piece would fit")
        return self

    @property
    def stops(self) -> Band:
        """Stops less with the piece, by band."""
        if self.less is not None:
            return self.less
        assert self.bare is not None  # checked above
        assert self.piece is not None
        loss = self.bare.stops - self.piece.stops
        return (loss, loss, loss)


class CardReading(Part):
    """A reflected reading of the piece before black, against a grey card in the same light."""

    thickness: Size = Field(description="of the piece where it was read")
    over: StopsByBand = Field(description="stops over the card; negative when the piece is darker")
    grey: Annotated[float, pure("a reflectance", 0.0, 1.0, "0.18", above=True)] = Field(
        0.18, description="reflectance of the card"
    )

    @model_validator(mode="after")
    def _no_brighter_than_white(self) -> CardReading:
        white = self.grey * 2.0 ** max(self.over)
        if white > 1.15:
            raise refusal(
                f"found {max(self.over):+.2g} stop over a {self.grey:.0%} card, {white:.0%} of the light: nothing "
                "gives back more than falls on it; was it read before black, without the mirrored lamp?"
            )
        return self


class Photo(Part):
    """A photo of the piece on a light table, a bare patch of it in view."""

    picture: Path = Field(description="16-bit TIFF, raw file, or a PNG or JPEG in sRGB, beside this file")
    thickness: Size = Field(description="of the piece")
    bare: Region | None = Field(None, description=f"the bare patch: {_REGION}; looked for when left out")
    piece: Region | None = Field(None, description=f"what counts of the piece: {_REGION}; looked for when left out")
    width: Size | None = Field(None, description="how much the photo shows from left to right; a map needs it")
    encoding: capture.Encoding = Field(
        "auto", description="how code values stand for light; auto: as the file's profile says, sRGB without one"
    )

    @field_validator("picture", mode="before")
    @classmethod
    def _beside_the_file(cls, value: object, info: ValidationInfo) -> Path:
        kinds = (*capture_codes.KINDS, *capture_raw.KINDS)
        return locate_picture(value, folder_of(info), kinds, capture.MOST_BYTES)

    @field_validator("bare", "piece")
    @classmethod
    def _within(cls, region: Region | None) -> Region | None:
        if region is not None:
            x, y, width, height = region
            if not (x + width <= 1.0 + 1e-9 and y + height <= 1.0 + 1e-9 and width > 0.0 and height > 0.0):
                raise refusal('a region within the frame would fit, such as ["40 %", "40 %", "20 %", "20 %"]')
        return region


class Published(Part):
    """Coefficients that somebody measured."""

    reduced_scattering: Coefficients | None = Field(None, description="µs′: all bands, or red, green and blue")
    scattering: Coefficients | None = Field(None, description="µs instead of µs′; g then counts")
    absorption: Coefficients = Field(description="µa: all bands, or red, green and blue")
    spread: Spread = Field(0.0, description="standard deviation as a share of the values, as published")
    thickness: Size | None = Field(None, description="for which the tables are made; 5 mm when left out")

    @model_validator(mode="after")
    def _scatters_one_way(self) -> Published:
        if (self.reduced_scattering is None) == (self.scattering is None):
            raise refusal("exactly one of reduced_scattering (µs′) and scattering (µs) would fit")
        return self


class Piece(Part):
    """Everything that is known of a new piece."""

    name: str = Field("new piece", min_length=1, max_length=80, description="name of the kit entry")
    good_for: str = Field("", max_length=300, description="what the piece is")
    kind: KindOfMatter = Field(
        "anything", validate_default=True, description="kind of matter: a family, or a material of the kit"
    )
    status: Literal["own", "demo"] = Field("own", description="demo: the readings are invented")
    source: str = Field("", max_length=300, description="who read it, when and how")
    error: Annotated[float, TOLERANCE] | None = Field(
        None, description="how far a difference of two readings may be off (95 %); 0.1 stop when left out"
    )
    thickness_error: Size | None = Field(
        None, description="how far the thickness may be off (95 %); 0.1 mm when left out, 5 % of a piece under 2 mm"
    )
    n: Annotated[float, pure("a refractive index", 1.0, 4.0, "1.5")] | None = Field(
        None, description="refractive index; the kind's when left out"
    )
    g: Annotated[float, pure("an asymmetry", -0.99, 0.95, "0.8")] | None = Field(
        None, description="mean cosine of the scattering angle; the kind's when left out"
    )
    roughness: Annotated[float, pure("a roughness", 0.0, 1.0, "0.3")] | None = Field(
        None, description="of the faces, 0 for polished; the kind's when left out"
    )
    readings: Annotated[tuple[Reading, ...], BeforeValidator(_listed)] = Field((), alias="reading", max_length=_MOST)
    cards: Annotated[tuple[CardReading, ...], BeforeValidator(_listed)] = Field((), alias="card", max_length=_MOST)
    photos: Annotated[tuple[Photo, ...], BeforeValidator(_listed)] = Field((), alias="photo", max_length=_MOST)
    published: Published | None = None

    @field_validator("name")
    @classmethod
    def _one_line(cls, name: str) -> str:
        if not name.isprintable() or not name.strip():
            raise misfit(name, "a name on one line would fit")
        return name

    @model_validator(mode="after")
    def _says_something(self) -> Piece:
        ways = [bool(self.readings), bool(self.photos), self.published is not None]
        if sum(ways) != 1:
            said = "nothing was read" if not any(ways) else "readings, photos and published values stand side by side"
            raise refusal(f"{said}; one of [[reading]], [[photo]] and [published] would fit")
        if self.published is not None and self.cards:
            raise refusal("a card reading stands beside published values; one of the two would fit")
        if self.published is not None and (self.error is not None or self.thickness_error is not None):
            raise refusal("an error of readings stands beside published values; their spread would fit")
        return self

    @property
    def index(self) -> float:
        """Refractive index: its own word, or the kind's."""
        return self.kind.n[0] if self.n is None else self.n

    @property
    def asymmetry(self) -> float:
        """Mean cosine of scattering: its own word, or the kind's."""
        return min(self.kind.g[0], 0.95) if self.g is None else self.g

    @property
    def faces(self) -> float:
        """Roughness of the faces: its own word, or the kind's."""
        return self.kind.roughness[0] if self.roughness is None else self.roughness

    @property
    def unsure(self) -> tuple[float, float, float]:
        """Standard deviations of g, n and roughness: none where it has its own word."""
        kind = self.kind
        own = ((self.g, kind.g), (self.n, kind.n), (self.roughness, kind.roughness))
        g, n, roughness = (spread[1] if said is None else 0.0 for said, spread in own)
        return g, n, roughness


def load_piece(path: Path) -> Piece:
    """Read the file of a new piece.

    Raises
    ------
    SetupError
        When it cannot be used; lists every mistake.
    """
    text = text_of(path, "file of readings")
    return _piece(parsed(text, str(path)), str(path), text, path.parent)


def piece_from(raw: dict[str, Any], name: str, folder: Path) -> Piece:
    """Read a new piece from tables that stand in no file, such as the command line; `name` is what mistakes call it.

    Raises
    ------
    SetupError
        When it cannot be used; lists every mistake.
    """
    return _piece(raw, name, None, folder)


def _piece(raw: dict[str, Any], name: str, text: str | None, folder: Path) -> Piece:
    with using(kit_for(folder)):
        try:
            piece = Piece.model_validate(raw, context={"folder": folder})
        except ValidationError as trouble:
            errors = trouble.errors(include_url=False)
            said = [one for error in errors if (one := sentence(error, raw, Piece)) is not None]
        else:
            said = [(path, said_key(path), words) for path, words in impossible(piece)]
            if not said:
                return piece
    if text is not None:
        raise SetupError(placed(said, name, text))
    raise SetupError([Mistake(name, 0, 0, key, words) for _, key, words in said])
