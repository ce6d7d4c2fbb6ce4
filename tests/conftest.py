"""Scans of the invented painting, drawn once for all tests that need them."""

from __future__ import annotations

from pathlib import Path

import pytest

from colormatch.compiled import library
from demo.run import DemoFiles, draw

PPI = 120.0


@pytest.fixture(scope="session")
def two_tiles(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    """Scan two tiles under a white LED with every fault of that job, at 120 ppi."""
    return draw(tmp_path_factory.mktemp("two-tiles"), preset="two-tiles", ppi=PPI, seed=0)


@pytest.fixture(scope="session")
def dark_oil(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    """Scan a dark oil painting with stray light, a crease and a lifted edge, at 120 ppi."""
    return draw(tmp_path_factory.mktemp("dark-oil"), preset="dark-oil", ppi=PPI, seed=0)


@pytest.fixture
def scan(two_tiles: DemoFiles) -> Path:
    return two_tiles.scans[0]


@pytest.fixture(params=["compiled", "plain"])
def either_way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Run a test with the compiled loops, and as where there are none."""
    if request.param == "plain":
        monkeypatch.setattr(library, "available", lambda: False)
    elif not library.available():
        pytest.skip("there was no C compiler when this was installed")
    return str(request.param)
