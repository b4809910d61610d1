"""A picture laid on a face or through a slice: the keys that a printed pattern and a map have in common."""

from __future__ import annotations

from pathlib import Path
from typing import Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from throughlight.setup.base import Part, folder_of
from throughlight.setup.pictures import Encoding, linear_picture, locate_picture
from throughlight.setup.units import Size


class LaidPicture(Part):
    """A picture file and how large it lies."""

    picture: Path = Field(description="PNG, JPEG, TIFF, WebP or BMP, beside the setup file")
    width: Size = Field(description="how wide the picture lies there")
    height: Size | None = Field(None, description="how high; as the picture's pixels have it when left out")
    encoding: Encoding = Field("sRGB", description="how code values stand for light")

    @field_validator("picture", mode="before")
    @classmethod
    def _beside_the_setup(cls, value: object, info: ValidationInfo) -> Path:
        return locate_picture(value, folder_of(info))

    @model_validator(mode="after")
    def _can_be_used(self) -> Self:
        linear_picture(self.picture, self.encoding)
        return self
