"""From patch readings to tone curve, flare, matrix and gains, and how good they are."""
