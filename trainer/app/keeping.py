"""Write a finished drill to the files that were asked for."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

from trainer.app.played import Played
from trainer.errors import StoreProblem
from trainer.practice.report import GradedTake, report_dict
from trainer.records.midifile import write_take


def write_report(played: Played, path: Path, *, input_name: str, sound: str) -> None:
    """Write the graded take as JSON: the fields of ``grade --json``, and ``devices`` besides.

    ``devices`` holds ``input`` and ``sound`` in words, ``taps_received`` from the count-in to the end,
    ``not_graded`` (why the take does not count, or empty) and ``remarks`` about the devices.

    Raises:
        StoreProblem: the file cannot be written.
    """
    settings = played.drill.settings
    steady = len(played.drill.timeline.spans) == 1
    graded = GradedTake(
        pattern=settings.pattern,
        bpm=settings.bpm if steady else None,
        passes=played.passes,
        pocket=settings.pocket,
        swing=settings.feel.swing,
        source=input_name,
        click_off=played.click_off,
        judgement=played.judgement,
    )
    table = {
        **report_dict(graded),
        "devices": {
            "input": input_name,
            "sound": sound,
            "taps_received": played.messages,
            "not_graded": played.not_graded,
            "remarks": list(played.remarks),
        },
    }
    try:
        path.write_text(json.dumps(table, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    except OSError as err:
        raise StoreProblem(
            f"the report cannot be written to {path} ({err.strerror})", "choose another place"
        ) from err


def write_taps(played: Played, path: Path) -> None:
    """Write the taps as a MIDI file, beat 0 after the count-in.

    Raises:
        BadTake: the file cannot be written.
    """
    drill = played.drill
    write_take(
        path,
        drill.taps,
        drill.timeline,
        drill.settings.pattern.meter,
        title=drill.settings.pattern.title,
        pocket=drill.settings.pocket.value,
        lead_s=-drill.timeline.seconds(Fraction(-drill.count_in_beats)),
    )
