"""The type of the pixels that this room reads and writes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8] | NDArray[np.uint16]
"""RGB of shape (rows, columns, 3), 8 or 16 bits per channel."""
