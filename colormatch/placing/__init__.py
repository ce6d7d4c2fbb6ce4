"""Where every tile belongs on the painting, to a small part of a pixel."""
