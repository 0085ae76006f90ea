"""Explain to users what each key of a figure's, a break's and a chart's file means, with a worked example."""

from __future__ import annotations

EXAMPLE = '''kind = "break"
title = "Plum Stone"
step = 20
key = "G"
tuning = "open G"
meter = "2/4"
slow_bpm = 50
goal_bpm = 130
playing_bpm = 200
needs = ["basic-figure"]
teacher = "Hum it first."
chords = """
part A, twice:
1 for 4, 4 for 2, 1 for 2
first ending:
5^7
second ending:
1
"""
melody = """
part A, twice:
pickup: 4 then 4 fret 2
3 then 3 fret 2, 2
1, hold
2 fret 1, 1 fret 2 then 1
2 fret 1 then slide 2 fret 3, hold
first ending:
3 fret 2
second ending:
3
"""

[skips]
needs = ["skip-figure"]
figures = "left hand, skip"
bars = """
bar 4: skip, drop-thumb 2, brush, thumb
"""
'''

PAGE = f"""A file holds one figure, one break or one chart, in plain text (TOML). What follows # is a remark.
"thumbfall check FILE" says whether it is good, what is wrong and where, and what a hand would doubt.
Own files go into the folder that "thumbfall patterns" names, or stay anywhere and are called by their path.

EVERY FILE
  kind            "pattern" (a figure, also when nothing is said), "break" or "chart"
  title           what the library shows, at most 80 characters (64 of a break or a chart)
  meter           "2/4", "3/4", "4/4", "6/8" or "9/8"; the beat that clicks is a quarter, a dotted one in
                  6/8 and 9/8
  teacher         one sentence to say to a class
  tuning          open G unless said: open G, double C, sawmill, open D, drop C, open C, open A, double D,
                  sawmill A, or the letters from string 5 to string 1: "gDGBD", or pitches: "g4 D3 G3 B3 D4"
  capo            the fret at which it lies, 0 to 12; frets are then counted from it

FIGURES AND BREAKS
  step            place in the course, 1 first
  slow_bpm        where to begin, in beats a minute
  goal_bpm        the first goal
  playing_bpm     as fast as it is played in company (may be left out)
  needs           the names of figures that should be clean before
  slots_per_beat  how finely a beat is parted: 2, 3 or 4; in 6/8 and 9/8 it is 3

FIGURES
  level           "plain", "ornaments" or "skips"
  motion          the hand's way through each slot, "down, up, ..."; usually left out
  bars            the strokes, one bar a line (or parted by |), one stroke for each slot, parted by commas:
                    strike N, brush, brush N to M, thumb, drop-thumb N, skip, rest, hammer-on N,
                    pull-off N, slide N
                    N is a string, 1 nearest the floor; after it may stand: fret F
                    after a brush: frets F F F, one for each of its strings; before a stroke: accented, muted
                    strike 3 fret 4 slid from 2: the finger slides into the note
                    strike 3 triplet 2 0: two more notes in the same beat; the beat's other slots are rest
  key, chords     may stand with a figure too

BREAKS AND CHARTS
  key             the note called 1 as it sounds, with its scale: "G", "A minor", "D mixolydian", "A dorian"
  chords          by number: 1, 4, 5, 6- (minor), b7, #4; 5^7 (seventh), 2-7, 1maj7, 7dim, 4sus4, 4sus2,
                  1/3 (the 3 in the bass), no chord. "4 for 2" is the chord 4 for two beats; without "for"
                  it lasts one bar. Numbers count from the major scale, in a minor key too: home is 1- there

CHARTS
  figure          the figure that is played over it when none is named

BREAKS
  melody          one bar a line, its beats parted by commas. A beat is one thing, two joined by "then" (the
                  second on the beat's last slot), or one for each slot. A thing is
                    a note: a string, open unless "fret F" follows; before it may stand: accented, slide,
                    hammer-on, pull-off; after it: slid from F, triplet F F
                    hold: the note goes on and the hand brushes; brush N to M: the same on these strings
                    rest: silence
  [plain], [ornaments], [skips]
                  sections for levels that are not as usual, each with
    figures         in turn, bar after bar: basic, left hand, skip, early skip
    bars            single bars, as they are written: "bar 4: skip" or "bar 4:" and its strokes
    teacher, needs  of this level

PARTS, in bars, melody and chords alike
  part A, twice:  the bars of the part follow; also "three times"
  first ending:   what only the first time ends with; then "second ending:"
  pickup: ...     what leads into a part; the last bar before it is as much shorter (not in chords)

AN EXAMPLE, an invented tune with everything a break can have

{EXAMPLE}
The last bar of the first ending has one beat, since the pickup of the repeat is its second; so has that of
the second ending, since the tune goes round.
"""


def explanation() -> tuple[str, ...]:
    """Return the page, line by line."""
    return tuple(PAGE.rstrip("\n").split("\n"))
