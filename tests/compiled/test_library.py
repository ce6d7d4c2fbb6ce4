"""What is compiled is an option: without it all is there too."""

from __future__ import annotations

from importlib.machinery import EXTENSION_SUFFIXES
from pathlib import Path

import pytest

from colormatch.compiled import library


@pytest.fixture(autouse=True)
def looked_for_anew() -> None:
    library._library.cache_clear()


def test_where_nothing_was_built_nothing_is_available(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(library, "STEM", "_never-built")
    assert not library.available()
    with pytest.raises(RuntimeError, match="not built"):
        library.loops()
    library._library.cache_clear()


def test_a_file_of_another_machine_is_as_good_as_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for suffix in EXTENSION_SUFFIXES:
        (tmp_path / f"_loops{suffix}").write_bytes(b"not for this processor")
    monkeypatch.setattr(library, "__file__", str(tmp_path / "library.py"))
    assert not library.available()
    library._library.cache_clear()


def test_loops_of_another_version_are_not_called(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(library, "VERSION", -1)
    assert not library.available()
    library._library.cache_clear()


def test_where_there_is_a_compiler_the_loops_are_those_of_this_version() -> None:
    built = [library.STEM + suffix for suffix in EXTENSION_SUFFIXES]
    if not any(Path(library.__file__).with_name(name).exists() for name in built):
        pytest.skip("there was no C compiler when this was installed")
    assert library.available()
