"""Readers outside the project, run from the command line where they are installed.

Debian packages: liblcms2-utils, libtiff-tools, libimage-exiftool-perl, pngcheck.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest


def needs(tool: str) -> pytest.MarkDecorator:
    return pytest.mark.skipif(shutil.which(tool) is None, reason=f"needs the program {tool}")


def run(*command: str | Path, text: str = "") -> str:
    done = subprocess.run(
        [str(word) for word in command],
        input=text,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    return done.stdout + done.stderr


def exiftool(path: Path) -> dict[str, Any]:
    facts: dict[str, Any] = json.loads(run("exiftool", "-j", "-G1", "-a", "-n", path))[0]
    return facts
