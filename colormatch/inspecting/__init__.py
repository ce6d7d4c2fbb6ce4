"""What one scan shows by itself: measured on its survey and on a few windows."""
