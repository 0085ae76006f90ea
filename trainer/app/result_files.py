"""Write what a drill came to into the files that were asked for."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

from trainer.app.context import Context
from trainer.app.drill_result import DrillResult
from trainer.errors import StoreProblem, TrainerError
from trainer.opening import Opening
from trainer.practice.report import GradedTake, report_dict
from trainer.records.midifile import write_take


def write_report(result: DrillResult, path: Path, *, input_name: str, sound: str) -> None:
    """Write the graded take as JSON: the fields of ``grade --json``, and ``devices`` besides.

    Every field is in :mod:`trainer.practice.report_schema`.

    Raises:
        StoreProblem: the file cannot be written.
    """
    settings = result.drill.settings
    steady = len(result.drill.timeline.spans) == 1
    graded = GradedTake(
        pattern=settings.pattern,
        bpm=settings.bpm if steady else None,
        passes=result.passes,
        pocket=settings.pocket,
        swing=settings.feel.swing,
        source=input_name,
        click_off=result.click_off,
        placed_by=result.placed_by,
        judgement=result.judgement,
    )
    table = {
        **report_dict(graded),
        "devices": {
            "input": input_name,
            "sound": sound,
            "taps_received": result.messages,
            "not_graded": result.not_graded,
            "remarks": list(result.remarks),
        },
    }
    try:
        path.write_text(json.dumps(table, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
    except OSError as err:
        raise StoreProblem(
            f"the report cannot be written to {path} ({err.strerror})", "choose another place"
        ) from err


def write_taps(result: DrillResult, path: Path) -> None:
    """Write the taps as a MIDI file, beat 0 after the count-in.

    Raises:
        BadTake: the file cannot be written.
    """
    drill = result.drill
    write_take(
        path,
        drill.taps,
        drill.timeline,
        drill.settings.pattern.meter,
        title=drill.settings.pattern.title,
        pocket=drill.settings.pocket.value,
        lead_s=-drill.timeline.seconds(Fraction(-drill.count_in_beats)),
    )


def write_result(context: Context, result: DrillResult, opening: Opening) -> None:
    """Write a report and the taps, where the window was opened for that.

    Raises:
        TrainerError: a file cannot be written and the window closes after the drill; else it is said.
    """
    try:
        if opening.report is not None:
            write_report(result, opening.report, input_name=context.inputs.in_use, sound=context.sound_words)
        if opening.take is not None:
            write_taps(result, opening.take)
    except TrainerError as problem:
        if opening.leave:
            raise
        context.say(str(problem))
