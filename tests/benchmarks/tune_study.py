"""Print what each break is like at each level, and flag what a stated rule refuses.

    python -m tests.benchmarks.tune_study [--strokes]

The measures and the rules are those of :mod:`tests.tune_measures`; music21 reads the pitches and the chords.
``--strokes`` prints the strokes as well, to be read by a player.
"""

from __future__ import annotations

import sys
from pathlib import Path

from tests.tune_measures import measure_level, measure_melody
from trainer.music.breaks import Break, lay_break
from trainer.music.notation import stroke_words
from trainer.music.pattern import Level
from trainer.music.sense import doubtful_names, doubts
from trainer.music.tune_files import read_tune
from trainer.records.library import load_library
from trainer.shipped import shipped_folder

SHORT = {"strike": "s", "drop-thumb": "d", "hammer-on": "h", "pull-off": "p", "slide": "sl", "brush": "B",
         "thumb": "t", "rest": ".", "skip": "o"}  # fmt: skip


def main() -> None:
    """Print the study; the exit code is 1 when a rule is broken."""
    print_doubts()
    refused = 0
    for brk in (entry.brk for entry in load_library(Path("none")).breaks):
        refused += _study(brk, strokes="--strokes" in sys.argv)
    print(f"\n{refused} rules broken")
    sys.exit(1 if refused else 0)


def print_doubts() -> None:
    """Print what a hand would doubt in the files that are shipped (trainer/music/sense.py), and how many."""
    library = load_library(Path("none"))
    meters = {pattern.name: pattern.meter for pattern in library.patterns}
    files = sorted(shipped_folder("patterns").rglob("*.toml"))
    found = []
    for path in files:
        text = path.read_text(encoding="utf-8")
        tune = read_tune(text, name=path.stem, source=path.name)
        found += [*doubts(text, name=path.stem), *doubtful_names(text, tune, meters)]
    for doubt in found:
        print(f"  DOUBT {doubt}")
    print(f"{len(found)} musical doubts in {len(files)} files of the library")


def _study(brk: Break, *, strokes: bool) -> int:
    m = measure_melody(brk)
    bars = f"{len(brk.melody)} bars of {brk.meter.value}, {brk.chart.key_words}, {brk.tuning.words}"
    print(f"\n{brk.title}: {bars}, capo {brk.tuning.capo}")
    print(
        f"  strong beats of the chord {m.strong_of_chord:.0%}, range {m.range_half_steps}, largest leap "
        f"{m.largest_leap}, small steps {m.small_steps:.0%}, repeated bars {m.repeated_bars:.0%}, "
        f"cadence {' '.join(m.cadence)}"
    )
    broken = m.refused()
    for level in Level:
        n = measure_level(brk, level)
        print(
            f"  {level.value:<9} ornaments a bar {n.ornaments_a_bar:.2f} in {n.bars_ornamented:.0%} of bars, "
            f"undone {n.undone}, early {n.early}, late {n.late}, filled {n.filled}, "
            f"at ends {n.moved_at_ends}, span {n.widest_span}, fret {n.highest_fret}"
        )
        broken += [f"{level.value}: {said}" for said in n.refused(level)]
        if strokes:
            for number, bar in enumerate(lay_break(brk, level).bars, start=1):
                print(f"    {number:>2}  {'  '.join(_short(stroke_words(s)) for s in bar)}")
    for said in broken:
        print(f"  REFUSED {said}")
    return len(broken)


def _short(words: str) -> str:
    head, *rest = words.replace("accented ", ">").split()
    mark = ">" if head.startswith(">") else ""
    text = (
        mark + SHORT.get(head.lstrip(">"), head) + " ".join(rest).replace(" fret ", "/").replace(" to ", "-")
    )
    return f"{text.replace('frets ', ':'):<10}"


if __name__ == "__main__":
    main()
