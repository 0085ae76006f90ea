"""Texts of files that tests of the music begin with."""

PATTERN_HEAD = """title = "Stroll"
level = "plain"
step = 9
meter = "2/4"
slots_per_beat = 2
slow_bpm = 50
goal_bpm = 100
needs = []
"""
BREAK_HEAD = """kind = "break"
title = "Pond"
step = 4
key = "G"
meter = "2/4"
slow_bpm = 50
goal_bpm = 100
"""
CHART_TEXT = """kind = "chart"
title = "Gate"
key = "G"
meter = "2/4"
figure = "basic-figure"
chords = "1 for 4"
"""
