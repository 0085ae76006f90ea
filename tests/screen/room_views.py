"""Views of what is looked at together or afterwards: demonstration, class, several players, progress."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

import numpy as np

from trainer.judging.take import Judgement, Outcome
from trainer.judging.verdicts import judge
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.practice.classroom import Classroom
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.seats import Seats, TouchSource
from trainer.practice.showing import Showing, showings_for, stretch_taps
from trainer.practice.turns import Board, Turn, turn_of
from trainer.screen.draw import View
from trainer.screen.scenes.chart_of_days import DayValue
from trainer.screen.scenes.classroom import ClassView, Extra
from trainer.screen.scenes.demonstration import DemonstrationView, Played
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.layers import SheetLayer
from trainer.screen.scenes.lesson import LessonView, PlayerTurn, StepRow
from trainer.screen.scenes.other_rows import PlayerRow
from trainer.screen.scenes.progress import PlayedRow, ProgressPicture, ProgressView
from trainer.screen.scenes.replay import ReplayView
from trainer.screen.scenes.takes import TakeLine, TakesView
from trainer.screen.scenes.together import TogetherView
from trainer.screen.window import Window

TODAY = datetime.date(2026, 11, 25).toordinal()
NAMES = (
    "Wilma",
    "Ondo",
    "Petra",
    "Mirabelle-Charlotte",
    "Imre",
    "Juna",
    "Kofi",
    "Lenz",
    "Oda",
    "Pim",
    "Rosa",
)
LINE = TakeLine(when="25 Nov, 18:30", tempo="60 to 84 bpm", result="30 of 32 as asked", spread="spread 14 ms")


def with_chords(pattern: Pattern) -> Pattern:
    half = pattern.beats // 2
    spans = (
        ChordSpan(chord=Chord(degree=1), beats=half),
        ChordSpan(chord=Chord(degree=6, minor=True), beats=pattern.beats - half),
    )
    return replace(pattern, chart=Chart(key="G", spans=spans))


def outcomes_of(pattern: Pattern, showing: Showing) -> tuple[Outcome, ...]:
    targets = lay_out(pattern, Timeline.steady(40), passes=1)
    return judge(targets, stretch_taps(targets, showing, pattern)).outcomes


def a_class(pattern: Pattern, names: tuple[str, ...], turns: int) -> Classroom:
    room, rng = Classroom().with_names(names), np.random.default_rng(1)
    for at in range(turns):
        targets = lay_out(pattern, Timeline.steady(60), passes=4)
        faults = Faults(
            jitter_s=0.008 + 0.003 * (at % 7), rush_gap_s=0.03 * (at % 3), touch_skips=0.1 * (at % 2)
        )
        judgement = judge(targets, simulate(targets, faults, rng).taps)
        room = room.played(a_turn(pattern, judgement, at)).next(rng, TODAY)
    return room


def a_turn(pattern: Pattern, judgement: Judgement, at: int, disturbed: str = "") -> Turn:
    return turn_of(
        judgement, pattern=pattern, bpm=Fraction(60), day=TODAY, begun=f"2026-11-25T18:{at:02}:00.000000Z",
        uid=f"turn {at}", disturbed=disturbed,
    )  # fmt: skip


def a_board(pattern: Pattern) -> Board:
    return Board(pattern=pattern.name, bpm=Fraction(60), day=TODAY)


def class_view(window: Window, pattern: Pattern, room: Classroom, **more: object) -> ClassView:
    """The board of a class as the window has it."""
    fields = {
        "board": a_board(pattern), "today": TODAY, "title": pattern.title, "level": pattern.level.value,
        "input_name": "Computer keys", "sound": "sound on", **more,
    }  # fmt: skip
    return ClassView(window=window, room=room, **fields)  # type: ignore[arg-type]


def disturbed(pattern: Pattern, room: Classroom) -> Classroom:
    """A class whose first waits for the teacher's word, whose second was given it, whose third is away."""
    judgement = judge(lay_out(pattern, Timeline.steady(60), passes=1), ())
    for at, uid in enumerate(("turn 50", "turn 51")):
        room = room.chosen(at).played(a_turn(pattern, judgement, 50 + at, "the sound device was lost"))
        if at:
            room = room.with_word(room.names[at], uid, by_word=True)
    return room.left_out(room.names[2], TODAY).chosen(0)


def values_of(picture: ProgressPicture, days: int) -> tuple[DayValue, ...]:
    rng = np.random.default_rng(4)
    level = {ProgressPicture.TEMPO: 70.0, ProgressPicture.SPREAD: 20.0, ProgressPicture.MINUTES: 15.0}[
        picture
    ]
    return tuple(
        DayValue(TODAY - days + at, round(level + float(rng.normal(0, 4)), 1)) for at in range(1, days + 1)
    )


def progress_view(window: Window, picture: ProgressPicture, days: int) -> ProgressView:
    rows = (
        PlayedRow(title="The skip figure", words="clean at 84, 31 takes, today"),
        PlayedRow(
            title="Two basic figures and then two skip figures", words="not clean yet, 3 takes, 12 Nov"
        ),
    )
    return ProgressView(
        window=window, player="Wilma", rows=rows, picture=picture, values=values_of(picture, days), slow=40.0,
        goal=110.0, at_bpm=Fraction(60), today=TODAY,
    )  # fmt: skip


def lesson_view(window: Window, players: int) -> LessonView:
    """A lesson of eleven steps, and so many pupils; none for somebody alone."""
    steps = tuple(
        StepRow(
            title="Two basic figures and then two skip figures"
            if at % 3
            else "Barn Lantern, skips, bars 3 to 6",
            words="50 bpm, 5 minutes; a turn is 4 passes",
            turns=max(0, players - at),
        )
        for at in range(11)
    )
    turns = tuple(
        PlayerTurn(name=f"{NAMES[at % len(NAMES)]}", words="" if at % 4 == 3 else "28 of 32, 12 ms late")
        for at in range(players)
    )
    return LessonView(
        window=window, title="First skips, and how they sit in a tune", steps=steps, at=1,
        words="Let the hand fall on the skip as if it struck, and rise through the rest as far as ever.",
        clock="3:07 of 5 min", players=turns or (PlayerTurn(name="", words="28 of 32, on the click"),),
        chosen=2 if players else 0, input_name="Pad", sound="sound on",
    )  # fmt: skip


def room_views(window: Window, pattern: Pattern, drill: DrillView) -> dict[str, View]:
    """Every one of these scenes in its usual states and in its fullest ones.

    Args:
        drill: a drill of ``pattern`` with some taps.
    """
    chords = with_chords(pattern)
    shown = showings_for(chords)
    compared = {showing: outcomes_of(chords, showing) for showing in Showing}
    on = next(target for target in drill.targets if target.stroke.kind.sounds)
    demonstration = DemonstrationView(
        window=window,
        drill=drill,
        title=pattern.title,
        showing=Showing.RUSHED,
        showings=shown,
        playing=Played.FAULT,
        compared=compared,
    )
    others = tuple(
        PlayerRow(name=name, outcomes=drill.outcomes, strays=drill.strays, taps=drill.taps)
        for name in NAMES[:8]
    )
    seats = Seats.of(NAMES).left_out()
    for note in (36, 38, 40, 40, 42):
        seats = seats.touched(TouchSource(port=f"Practice pad {note // 4}:out", note=note), at_s=note)
    full = Seats.of(NAMES[:3])
    for at, key in enumerate("qqwwee"):
        full = full.touched(TouchSource(key=key), at_s=at)
    eight = a_class(pattern, NAMES[:8], 20)
    held = disturbed(pattern, eight)
    over = tuple(turn for pupil in held.pupils for turn in pupil.turns[-1:])
    takes = tuple(
        replace(LINE, counts=at != 2, result="not graded: unplugged" if at == 2 else LINE.result)
        for at in range(30)
    )
    return {
        "demonstration": demonstration,
        "demonstration, stopped": replace(demonstration, stopped_on=on, showing=Showing.STOPPED),
        "demonstration, clean": replace(demonstration, showing=Showing.CLEAN, playing=Played.CLEAN),
        "demonstration, your turn": replace(
            demonstration, playing=Played.YOURS, yours=compared[Showing.STOPPED],
            drill=replace(drill, layers=frozenset({SheetLayer.TAPS, SheetLayer.STRINGS})),
        ),
        "lesson": lesson_view(window, 8),
        "lesson, alone": lesson_view(window, 0),
        "lesson, held": replace(lesson_view(window, 8), is_held=True),
        "lesson, long": replace(lesson_view(window, 30), at=9, chosen=17, words=""),
        "class": class_view(window, pattern, eight, boards=3, number=3),
        "class, one of several": class_view(
            window, pattern, eight, list_name="Monday beginners", has_lists=True, boards=3
        ),
        "class, held back": class_view(window, pattern, held, held=held.held(a_board(pattern))),
        "class, all at once": class_view(window, pattern, eight, extra=Extra.TOGETHER),
        "class, looking back": class_view(
            window, pattern, eight, looking_back=True, today=TODAY + 3, boards=3, number=2
        ),
        "class, many": class_view(
            window, pattern, a_class(pattern, NAMES * 3, 20), can_undo=True, ranked=True
        ),
        "class, writing": class_view(window, pattern, a_class(pattern, NAMES, 2), writing="Quis"),
        "class, empty": class_view(window, pattern, Classroom(), writing=""),
        "together, pads": TogetherView(window=window, seats=seats, title=pattern.title),
        "together, playing": TogetherView(
            window=window, seats=full, title=pattern.title,
            drill=replace(drill, others=others, outcomes=(), taps=())
        ),
        "together, over": TogetherView(
            window=window, seats=full, title=pattern.title, is_over=True, turns=over[:3]
        ),
        "drill, a turn": replace(drill, player=NAMES[3], is_turn=True),
        "progress, tempo": progress_view(window, ProgressPicture.TEMPO, 40),
        "progress, spread of years": progress_view(window, ProgressPicture.SPREAD, 900),
        "progress, minutes": progress_view(window, ProgressPicture.MINUTES, 60),
        "progress, empty": ProgressView(window=window, today=TODAY),
        "takes": TakesView(window=window, title=pattern.title, lines=takes, selected=12, can_undo=True),
        "take again": ReplayView(window=window, drill=drill, line=LINE),
    }  # fmt: skip
