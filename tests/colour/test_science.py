"""The late import of colour-science."""

from __future__ import annotations

import subprocess
import sys

from colormatch.colour.science import colour_science


def test_is_the_library_and_always_the_same_module() -> None:
    assert colour_science().__name__ == "colour"
    assert colour_science() is colour_science()


def test_import_is_silent() -> None:
    code = "from colormatch.colour.science import colour_science; colour_science()"
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, check=True, text=True
    )
    assert run.stdout == ""
    assert run.stderr == ""


def test_the_colour_room_loads_it_only_on_use() -> None:
    code = (
        "import sys, colormatch.colour.difference, colormatch.colour.gamut; "
        "sys.exit('colour' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
