"""The fixed words of a pitch: English as they ship, or a file's in another language, phrase by phrase."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources
from pathlib import Path

from throughlight.darkroom.names import seen
from throughlight.readings.figures import significant
from throughlight.setup.kind import found
from throughlight.setup.mistakes import SetupError
from throughlight.setup.text import Finding, parsed, placed, text_of

_LONGEST = 200
_PUT_IN = re.compile(r"\{([a-z]+)\}")
_LANGUAGE = re.compile(r"[A-Za-z]{2,3}")

Words = Mapping[str, str]
"""Phrases by key."""


@cache
def english() -> Words:
    """Return the phrases as they ship."""
    text = (resources.files("throughlight.sheets") / "pages" / "pitch.en.toml").read_text("utf-8")
    words: dict[str, str] = tomllib.loads(text)
    return words


def words_from(file: Path | None) -> Words:
    """Return the phrases of a file, English where it says nothing.

    Parameters
    ----------
    file
        TOML with keys of `pages/pitch.en.toml`; None for English.

    Raises
    ------
    SetupError
        When the file cannot be read, or a key or phrase does not fit; lists every mistake.
    """
    if file is None:
        return english()
    text = text_of(file, "file of words")
    own = parsed(text, str(file))
    findings = [finding for key, value in own.items() if (finding := _finding(key, value)) is not None]
    if findings:
        raise SetupError(placed(findings, str(file), text))
    return {**english(), **own}


def put(words: Words, key: str, /, **values: object) -> str:
    """Return a phrase with values in the place of its braces; what is put in is text and never read again."""
    return _PUT_IN.sub(lambda name: str(values.get(name.group(1), name.group())), words[key])


def stops(words: Words, count: float) -> str:
    """Return a number of stops in words, with a true minus."""
    said = significant(count, 3).replace("-", "−")
    return words["one_stop"] if said == "1" else put(words, "stops", count=said)


def _finding(key: str, value: object) -> Finding | None:
    """Return what is wrong with one key of a file, or None."""
    said = seen(key, 60)
    if key not in english():
        near = difflib.get_close_matches(key, english(), 1, 0.0)
        return (key,), said, f'{found(key)} is no key of a file of words; "{near[0]}" would fit'
    if not isinstance(value, str) or not value.strip() or len(value) > _LONGEST:
        words = f"found {found(value)}; a phrase of up to {_LONGEST} signs would fit, such as {_shown(key)}"
        return (key,), said, words
    if key == "language" and _LANGUAGE.fullmatch(value) is None:
        return (key,), said, f'found {found(value)}; a language of two or three letters would fit, such as "de"'
    strange = sorted(set(_PUT_IN.findall(value)) - set(_PUT_IN.findall(english()[key])))
    if strange:
        known = ", ".join(f"{{{name}}}" for name in dict.fromkeys(_PUT_IN.findall(english()[key])))
        fits = f"{known} would fit" if known else "plain text would fit"
        return (key,), said, f"found {{{strange[0]}}}, for which nothing is put in here; {fits}"
    return None


def _shown(key: str) -> str:
    return f'"{english()[key]}"'
