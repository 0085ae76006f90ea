"""Write kept takes as Standard MIDI Files, one for each."""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

from trainer.music.timeline import count_in_beats
from trainer.practice.stored_take import StoredTake
from trainer.records.export import LONGEST_NAME, Exported, make_folder
from trainer.records.midifile import write_take
from trainer.records.older_exports import must_be_export
from trainer.records.take_text import clean_words


def write_midi(folder: Path, takes: Iterable[StoredTake]) -> Exported:
    """Write one Standard MIDI File for each take into a folder, which is made.

    Raises:
        StoreProblem: the folder cannot be made.
        StoreProblem: a file cannot be written.
    """
    make_folder(folder)
    n = 0
    for take in takes:
        n += 1
        moment = take.begun[:19].replace(":", "").replace("T", "-")
        # A break's name holds spaces, a file of the user's anything.
        name = re.sub(r"[^\w-]+", "-", clean_words(take.pattern.name))[:LONGEST_NAME]
        uid = re.sub(r"[^\w-]+", "-", take.uid)[:8]
        write_midi_file(folder / f"{moment}-{name}-{uid}.mid", take)
    return Exported(takes=n)


def write_midi_file(path: Path, take: StoredTake) -> None:
    """Write the taps of a take as a Standard MIDI File, beat 0 after the count-in.

    Raises:
        BadSettings: there is a file that is no MIDI file.
        StoreProblem: the file cannot be written.
    """
    must_be_export(path)
    count_in = Fraction(-count_in_beats(take.pattern.meter))
    write_take(
        path,
        take.taps,
        take.timeline,
        take.pattern.meter,
        title=take.pattern.title,
        lead_s=-take.timeline.seconds(count_in),
        pocket=take.pocket.value,
    )
