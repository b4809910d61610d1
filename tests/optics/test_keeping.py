"""Where compiled code is kept: found again, never trusted blindly, and done without where nothing can be written."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

import numba
import pytest
from numba.core import event

from throughlight.optics import keeping
from throughlight.optics.compiling import compiling_timed, compiling_told
from throughlight.optics.kernel import entry, kernel

pytestmark = pytest.mark.skipif(numba.config.DISABLE_JIT, reason="nothing is compiled")
ELSEWHERE = "import sys; sys.path.insert(0, sys.argv[1]); import test_keeping as t; print(*t.compilations(6.0, 7.0))"


@kernel
def _product(a, b):
    return a * b


def _half_of_product(a, b):
    return 0.5 * _product(a, b)


def half_of_product(a: float, b: float) -> float:
    """Return a·b/2 from a door made anew, as another process would make it."""
    return entry(_half_of_product)(a, b)


def compilations(a: float, b: float) -> tuple[float, int]:
    """Return a·b/2, and how many functions were compiled to say so."""
    with event.install_recorder("numba:compile") as recorder:
        answer = half_of_product(a, b)
    return answer, sum(what.is_start for _, what in recorder.buffer)


@pytest.fixture
def root(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return the folder that code is kept in; the spare one is elsewhere under the same folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(keeping, "_spare", lambda: tmp_path / "spare")
    return tmp_path / "cache" / "throughlight"


@pytest.fixture
def nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Have the cache and the spare folder lie below a file, where not even a superuser can make them."""
    file = tmp_path / "file"
    file.write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(file / "cache"))
    monkeypatch.setattr(keeping, "_spare", lambda: file / "spare")
    return file


def _files(root: Path) -> list[Path]:
    return sorted(path for path in root.rglob("*") if path.is_file())


def test_a_door_is_kept_whole_and_found_again(root):
    answer, compiled = compilations(6.0, 7.0)
    assert (answer, compiled > 0) == (21.0, True)
    (file,) = _files(root)
    assert file.stat().st_mode & stat.S_IROTH  # a folder may serve several users
    assert compilations(3.0, 5.0) == (7.5, 0)
    assert _files(root) == [file]


def test_other_types_of_arguments_are_kept_beside(root):
    half_of_product(6.0, 7.0)
    assert half_of_product(6, 7) == 21.0
    assert len(_files(root)) == 2
    assert compilations(6, 7) == (21.0, 0)


@pytest.mark.parametrize("spoil", [lambda was: was[:-9], lambda was: b"", lambda was: was[:50] + b"?" + was[51:]])
def test_a_spoilt_file_is_made_anew(root, spoil):
    half_of_product(6.0, 7.0)
    (file,) = _files(root)
    was = file.read_bytes()
    file.write_bytes(spoil(was))
    answer, compiled = compilations(6.0, 7.0)
    assert (answer, compiled > 0) == (21.0, True)
    assert compilations(6.0, 7.0) == (21.0, 0)


def test_a_whole_file_of_something_else_is_made_anew(root):
    half_of_product(6.0, 7.0)
    (file,) = _files(root)
    keeping._write(file, b"not what numba would write")
    answer, compiled = compilations(6.0, 7.0)
    assert (answer, compiled > 0) == (21.0, True)


def test_nothing_half_written_is_left_when_the_disc_is_full(root, monkeypatch):
    def full(source: str, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(keeping.os, "replace", full)
    assert half_of_product(6.0, 7.0) == 21.0
    assert _files(root) == []


def test_where_no_cache_can_be_made_the_spare_folder_serves(nowhere, tmp_path, monkeypatch):
    monkeypatch.setattr(keeping, "_spare", lambda: tmp_path / "spare")
    assert half_of_product(6.0, 7.0) == 21.0
    assert len(_files(tmp_path / "spare")) == 1
    assert compilations(6.0, 7.0) == (21.0, 0)


def test_where_nothing_can_be_written_it_works_all_the_same(nowhere):
    assert keeping.place_to_write() is None
    for _ in range(2):
        answer, compiled = compilations(6.0, 7.0)
        assert (answer, compiled > 0) == (21.0, True)


def test_a_user_without_a_home(tmp_path, monkeypatch):
    def homeless() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(keeping.Path, "home", homeless)
    monkeypatch.setattr(keeping, "_spare", lambda: tmp_path / "spare")
    assert half_of_product(6.0, 7.0) == 21.0
    assert len(_files(tmp_path / "spare")) == 1


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="each user has a temporary folder of their own")
def test_code_in_a_folder_that_others_can_write_to_is_never_run(nowhere, tmp_path, monkeypatch):
    spare = tmp_path / "spare"
    monkeypatch.setattr(keeping, "_spare", lambda: spare)
    half_of_product(6.0, 7.0)
    spare.chmod(0o777)
    answer, compiled = compilations(6.0, 7.0)
    assert (answer, compiled > 0) == (21.0, True)
    assert keeping.place_to_write() is None
    spare.chmod(0o700)
    moved = tmp_path / "moved"
    spare.rename(moved)
    spare.symlink_to(moved)
    assert keeping.place_to_write() is None


@pytest.mark.skipif(getattr(os, "geteuid", lambda: 0)() == 0, reason="a superuser writes everywhere")
def test_a_cache_that_can_only_be_read_is_read(root):
    half_of_product(6.0, 7.0)
    (file,) = _files(root)
    file.parent.chmod(0o555)
    try:
        assert compilations(6.0, 7.0) == (21.0, 0)
        assert half_of_product(6, 7) == 21.0
    finally:
        file.parent.chmod(0o755)
    assert _files(root) == [file]


def test_reading_never_asks_whether_it_can_write(root, monkeypatch):
    half_of_product(6.0, 7.0)

    def refused() -> Path | None:
        raise AssertionError("asked for a place to write")

    monkeypatch.setattr(keeping, "place_to_write", refused)
    assert compilations(6.0, 7.0) == (21.0, 0)


def test_other_processes_find_it(root):
    for compiles in (True, False):
        command = [sys.executable, "-c", ELSEWHERE, str(Path(__file__).parent)]
        told = subprocess.run(command, capture_output=True, text=True, check=True)
        answer, compiled = told.stdout.split()
        assert answer == "21.0"
        assert (int(compiled) > 0) == compiles
        assert len(_files(root)) == 1


def test_processes_that_start_at_once_on_an_empty_folder_all_serve_and_leave_it_usable(root):
    command = [sys.executable, "-c", ELSEWHERE, str(Path(__file__).parent)]
    for at_once, compiles in ((3, True), (1, False)):
        running = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(at_once)]
        told = [process.communicate(timeout=600)[0].split() for process in running]
        assert [answer for answer, _ in told] == ["21.0"] * at_once
        assert (max(int(compiled) for _, compiled in told) > 0) == compiles
        assert len(_files(root)) == 1


def test_only_a_few_folders_stay(root):
    for number in range(9):
        old = root / f"kernels-{number}"
        old.mkdir(parents=True)
        os.utime(old, (1e9 + number, 1e9 + number))
    half_of_product(6.0, 7.0)
    assert {path.name for path in root.iterdir()} - {_files(root)[0].parent.name} == {f"kernels-{n}" for n in (6, 7, 8)}


def test_what_shapes_machine_code_shapes_the_key(monkeypatch):
    key = keeping._key.__wrapped__
    plain = key()
    assert key() == plain
    with monkeypatch.context() as other:
        other.setattr(numba.config, "BOUNDSCHECK", 1 if not numba.config.BOUNDSCHECK else 0)
        assert key() != plain
    with monkeypatch.context() as other:
        other.setattr(numba.config, "CPU_NAME", "some other processor")
        assert key() != plain
    with monkeypatch.context() as other:
        read = Path.read_bytes
        other.setattr(keeping.Path, "read_bytes", lambda path: read(path) + b"#" * (path.name == "walk.py"))
        assert key() != plain


def test_compiling_is_told_once_and_timed_and_loading_is_neither(root):
    said: list[str] = []
    for expected in (1, 0):
        said.clear()
        with compiling_told(lambda: said.append("compiling")), compiling_timed() as watch:
            half_of_product(6.0, 7.0)
            half_of_product(6.0, 7.0)
        assert len(said) == expected
        assert (watch.seconds > 0.0) == (expected > 0)
