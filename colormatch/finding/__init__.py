"""Where the strip lies in a scan, and what its patches read."""
