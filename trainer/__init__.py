"""Thumbfall: a trainer for the down-picking hand of the five-string banjo.

Pure rooms compute (music, judging, practice, sound, screen scenes); a few thin rooms touch the
world (devices, records, the painter). DEVELOPERS.md draws the house.
"""

import os

# The library greets on standard output otherwise, which would spoil --json.
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
