"""Light that differs inside and between tiles: measured, solved, evened."""
