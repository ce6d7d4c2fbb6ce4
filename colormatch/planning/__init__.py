"""Planning the scans of a painting: where each tile and its strip lie on the glass."""
