"""Numbers as a photographer writes them, turned into plain decimals: 5 1/3 stops, 5⅓ EV, 5,3, −1."""

from __future__ import annotations

import re
import unicodedata

_MINUS = str.maketrans("−–", "--")
_COMMA = re.compile(r"(?<=\d),(?=\d)")
_MIXED = re.compile(r"(?:(\d{1,3})\s+)?(?<![\d.])([1-9])/([1-9]\d?)(?![\d.])")
_VULGAR = re.compile(r"(\d{0,3})\s?([½⅓⅔¼¾])")
_EV = re.compile(r"(?<=[\d.\s])EV\s*$", re.IGNORECASE)


def plain_number(text: str) -> str:
    """Return text with true minus signs and decimal commas as a setup file has them."""
    text = text.translate(_MINUS)
    return text if "." in text else _COMMA.sub(".", text)


def plain_stops(text: str) -> str:
    """Return a number of stops as a setup file has it; of fractions three decimals are kept."""
    text = _VULGAR.sub(lambda m: _decimal(m[1], unicodedata.numeric(m[2])), plain_number(text))
    text = _MIXED.sub(lambda m: _decimal(m[1], int(m[2]) / int(m[3])), text)
    return _EV.sub(" stops", text)


def _decimal(whole: str | None, part: float) -> str:
    return f"{int(whole) + part if whole else part:.3f}"
