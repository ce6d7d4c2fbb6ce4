"""Files written whole or not at all, with faults put in their way."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from colormatch.errors import OutputError
from colormatch.files.whole import written_whole


def write(
    target: Path,
    data: bytes,
    *,
    then: Callable[[], object] = lambda: None,
    force: bool = False,
) -> None:
    with written_whole(target, force=force) as temporary:
        temporary.write_bytes(data)
        then()


def names(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


def test_file_appears_when_the_block_ends(tmp_path: Path) -> None:
    target = tmp_path / "tile.tif"
    with written_whole(target) as temporary:
        assert temporary.parent == tmp_path
        assert temporary.suffix == ".tif"
        temporary.write_bytes(b"whole")
        assert not target.exists()
    assert target.read_bytes() == b"whole"
    assert names(tmp_path) == ["tile.tif"]


def test_permissions_follow_the_umask(tmp_path: Path) -> None:
    target = tmp_path / "tile.tif"
    before = os.umask(0o027)
    try:
        with written_whole(target) as temporary:
            temporary.write_bytes(b"x")
    finally:
        os.umask(before)
    assert stat.S_IMODE(target.stat().st_mode) == 0o640


@pytest.mark.parametrize("trouble", [ValueError, KeyboardInterrupt, SystemExit, MemoryError])
def test_nothing_is_left_when_the_block_fails(tmp_path: Path, trouble: type[BaseException]) -> None:
    def fail() -> None:
        raise trouble

    with pytest.raises(trouble):
        write(tmp_path / "a.png", b"half", then=fail)
    assert names(tmp_path) == []


def test_existing_file_is_kept(tmp_path: Path) -> None:
    target = tmp_path / "a.png"
    target.write_bytes(b"old")
    with pytest.raises(OutputError, match=r"a\.png exists already.*--force"), written_whole(target):
        pytest.fail("the block must not run")
    assert target.read_bytes() == b"old"
    assert names(tmp_path) == ["a.png"]


def test_file_that_appears_meanwhile_is_kept(tmp_path: Path) -> None:
    target = tmp_path / "a.png"
    with pytest.raises(OutputError, match="exists already"):
        write(target, b"new", then=lambda: target.write_bytes(b"someone else's"))
    assert target.read_bytes() == b"someone else's"
    assert names(tmp_path) == ["a.png"]


def test_dangling_link_counts_as_existing(tmp_path: Path) -> None:
    link = tmp_path / "a.png"
    link.symlink_to(tmp_path / "nowhere")
    with pytest.raises(OutputError, match="exists already"), written_whole(link):
        pytest.fail("the block must not run")


def test_force_replaces(tmp_path: Path) -> None:
    target = tmp_path / "a.png"
    target.write_bytes(b"old")
    with written_whole(target, force=True) as temporary:
        temporary.write_bytes(b"new")
        assert target.read_bytes() == b"old"
    assert target.read_bytes() == b"new"


def test_failed_force_keeps_the_old_file(tmp_path: Path) -> None:
    target = tmp_path / "a.png"
    target.write_bytes(b"old")

    def interrupt() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write(target, b"ne", then=interrupt, force=True)
    assert target.read_bytes() == b"old"
    assert names(tmp_path) == ["a.png"]


@pytest.mark.parametrize("force", [False, True])
def test_folder_is_never_replaced(tmp_path: Path, force: bool) -> None:
    with (
        pytest.raises(OutputError, match="is a folder: give the name of a file"),
        written_whole(tmp_path, force=force),
    ):
        pytest.fail("the block must not run")


def test_missing_folder(tmp_path: Path) -> None:
    with (
        pytest.raises(OutputError, match=r"there is no folder .*missing; make it first"),
        written_whole(tmp_path / "missing" / "a.png"),
    ):
        pytest.fail("the block must not run")


def test_file_in_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "plain").write_bytes(b"")
    with (
        pytest.raises(OutputError, match="is not a folder"),
        written_whole(tmp_path / "plain" / "a.png"),
    ):
        pytest.fail("the block must not run")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_closed_folder(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="may not be written to"), written_whole(tmp_path / "a"):
        pytest.fail("the block must not run")
    tmp_path.chmod(0o700)


def test_closed_folder_as_the_system_reports_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> int:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(OutputError, match="may not be written to"), written_whole(tmp_path / "a"):
        pytest.fail("the block must not run")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device /dev/full")
def test_full_disk_in_the_block(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"a\.tif: no space left on device; free some space"):
        write(tmp_path / "a.tif", b"half", then=lambda: Path("/dev/full").write_bytes(b"rest"))
    assert names(tmp_path) == []


def test_full_disk_on_settling(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="no space left on device"):
        write(tmp_path / "a.tif", b"data")
    assert names(tmp_path) == []


def test_longest_name(tmp_path: Path) -> None:
    target = tmp_path / ("x" * 251 + ".tif")
    with written_whole(target) as temporary:
        temporary.write_bytes(b"x")
    assert target.exists()
