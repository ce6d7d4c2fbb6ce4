"""An invented painting, drawn and scanned by code, with its truth kept."""
