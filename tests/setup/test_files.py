"""Files that are no setup files, and hostile texts: always a `SetupError` with a sentence, never a traceback."""

from __future__ import annotations

import os
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from setup_texts import SET

import throughlight.setup as tls
from throughlight.setup import SetupError


def sentences(text: str) -> str:
    with pytest.raises(SetupError) as caught:
        tls.loads(text, name="set.toml")
    assert caught.value.mistakes
    assert all(len(str(mistake)) < 1000 for mistake in caught.value.mistakes)
    return str(caught.value)


def read_or_refused(text: str) -> bool:
    """Return whether a text gives a set or a sentence; anything else it raises ends the test."""
    try:
        return tls.loads(text) is not None
    except SetupError as refused:
        return bool(str(refused))


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(SetupError, match=r"none\.toml: the file cannot be read \(No such file or directory\)"):
        tls.load(tmp_path / "none.toml")


def test_a_folder(tmp_path):
    with pytest.raises(SetupError, match="found a folder; a setup file"):
        tls.load(tmp_path)


def test_a_name_no_file_can_have():
    with pytest.raises(SetupError, match="cannot be read"):
        tls.load("a\0b.toml")


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="a superuser reads everything")
def test_a_file_that_may_not_be_read(tmp_path):
    file = tmp_path / "set.toml"
    file.write_text(SET)
    file.chmod(0)
    with pytest.raises(SetupError, match="Permission denied"):
        tls.load(file)


def test_a_file_that_is_too_big(tmp_path):
    file = tmp_path / "set.toml"
    file.write_bytes(b"#" * 5_000_001)
    with pytest.raises(SetupError, match="found more than 5 MB"):
        tls.load(file)


def test_a_file_that_is_not_utf8(tmp_path):
    file = tmp_path / "set.toml"
    file.write_bytes('title = "x"\n# caf\u00e9\n'.encode("latin-1"))
    with pytest.raises(SetupError, match=r"line 2: found bytes that are not UTF-8"):
        tls.load(file)


def test_a_byte_order_mark_is_taken(tmp_path):
    file = tmp_path / "set.toml"
    file.write_bytes(b"\xef\xbb\xbf" + SET.encode())
    assert tls.load(file).seed == 7


def test_broken_toml_names_its_line():
    assert "set.toml, line 2: this is not TOML" in sentences('title = "x"\nseed == 3\n')
    assert "line 4: this is not TOML" in sentences("a = 1\nb = [1,\n2\n")


def test_a_key_written_twice():
    assert "line 2: this is not TOML" in sentences("seed = 1\nseed = 2\n")
    assert "this is not TOML" in sentences("[camera]\n[camera]\n")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\0",
        "a = \0",
        "seed = " + "9" * 5000,
        "seed = -" + "9" * 300,
        "seed = 0x" + "f" * 4000,
        "seed = 1.5",
        "title = " + "[" * 5000 + "]" * 5000,
        "title = " + "[" * 90 + "]" * 90,
        "title = " + "{a=" * 5000 + "1" + "}" * 5000,
        "[" + ".".join("a" * 500) + "]",
        "a" + ".a" * 900 + " = 1",
        "title = '" + "x" * 10**6 + "'",
        "[camera]\nfocal = '" + "1" * 10**6 + " mm'",
        "[camera]\nfocal = '" + "1 " * 10**5 + " mm'",
        "[camera]\nsensor = '" + "x" * 10**6 + "'",
        "'" + "k" * 10**6 + "' = 3",
        "\n".join(f"k{i} = {i}" for i in range(3000)),
        "head = [" + "{}," * 3000 + "]",
        "head = [" + "1," * 3000 + "]",
        "[[head]]\n" * 1500,
        "camera = 1979-05-27T07:32:00Z",
        "[camera]\nat = [nan, inf, -inf]\niso = inf",
        "[camera]\npixels = [9999999999999999999999999, 99999999999999999999999999]",
        "[camera]\nsensor = '\u202e36x24 mm'",
        "title = '''" + "\r\n" * 1000,
        '"\\u0000" = 1',
        '"{found}" = "{fits}"',
        "__class__ = 1\n[camera]\nmodel_config = 3",
    ],
    ids=lambda text: repr(text[:24]),
)
def test_hostile_text_gets_sentences(text):
    begin = time.perf_counter()
    said = sentences(text)
    assert said
    assert time.perf_counter() - begin < 5.0


def test_many_mistakes_are_cut_short():
    said = sentences("\n".join(f"k{i} = {i}" for i in range(300)))
    assert len(said.splitlines()) == 101
    assert said.splitlines()[-1] == "set.toml: and 201 mistakes more"


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_a_set_with_any_passage_replaced_is_read_or_refused(data):
    begin = data.draw(st.integers(0, len(SET) - 1))
    end = data.draw(st.integers(begin, min(len(SET), begin + 30)))
    text = SET[:begin] + data.draw(st.text(max_size=12)) + SET[end:]
    assert read_or_refused(text)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(["focal", "f_number", "at", "aim", "sensor", "pixels", "blades", "glare", "body", "focus"]),
    st.recursive(
        st.one_of(
            st.integers().map(str),
            st.sampled_from(["true", "nan", "-inf", "1e308", "'1 mm'", "'f/8'", "''", "07:32:00"]),
        ),
        lambda inner: st.one_of(
            st.lists(inner, max_size=3).map(lambda some: "[" + ",".join(some) + "]"),
            st.lists(inner, max_size=3).map(lambda some: "{" + ",".join(f"k{i}={o}" for i, o in enumerate(some)) + "}"),
        ),
        max_leaves=6,
    ),
)
def test_a_camera_with_any_value_is_read_or_refused(key, value):
    lines = [line for line in SET.splitlines() if not line.startswith(f"{key} =") or "bearing" in line]
    lines.insert(lines.index("[camera]") + 1, f"{key} = {value}")
    assert read_or_refused("\n".join(lines))
