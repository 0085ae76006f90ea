"""Realistic views for the screen's tests: shipped patterns, simulated players, every scene."""

import importlib
import pkgutil
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from functools import cache
from types import MappingProxyType

import numpy as np

from tests.judging.helpers import pattern_of
from tests.screen.banjo_views import banjo_views
from tests.screen.calibration_views import calibration_views
from tests.screen.room_views import room_views
from trainer.judging.statistics import by_slot, summarise
from trainer.music.layout import lay_out
from trainer.music.notation import read_pattern
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.settings import THINNED_BY_BARS, Settings
from trainer.screen import scenes
from trainer.screen.draw import View
from trainer.screen.scenes.asking import AskingView
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.files import FileKind, FileRow, FilesView
from trainer.screen.scenes.first_bar import FirstBarView, Stage
from trainer.screen.scenes.help import HelpView
from trainer.screen.scenes.library import LibraryView, Shelf
from trainer.screen.scenes.library_preview import LibraryRow, TuneChoice
from trainer.screen.scenes.menu import MenuView
from trainer.screen.scenes.page import PageView
from trainer.screen.scenes.page_form import written
from trainer.screen.scenes.page_words import letters_for
from trainer.screen.scenes.review import ReviewView
from trainer.screen.scenes.setting_rows import InputItem
from trainer.screen.scenes.settings import SettingsView
from trainer.screen.scenes.track import TrackRow, TrackView
from trainer.screen.theme import ThemeName
from trainer.screen.window import Banner, BannerKind, TapKey, Window

SIZES = ((1280, 720), (1920, 1080), (3840, 2160))
SLOPPY = Faults(jitter_s=0.03, rush_gap_s=0.07, touch_skips=0.3, miss=0.1, stray=0.05, wrong_hand=0.1)
BOTH = ("strike 3, rest, brush, thumb", "skip, drop-thumb 2, accented brush 4 to 1, thumb")
LEFT = ("skip, pull-off 1 fret 0, brush, thumb", "strike 4, hammer-on 4 fret 2, brush, slide 3")
LONG_TITLE = "A figure whose title is as long as a title can be, eighty letters of it or a few"
CAUTIONS = (
    "Take a break after 25 minutes. If anything hurts, stop, and see someone licensed to help.",
    "Keep the sound low in headphones: no program can know how loud it is at your ear.",
    "Nothing here flashes over a large area; if moving pictures trouble you, look away and play by ear.",
)
READ = (
    "You played in half time, 112.5 where the click was at 225, and your pads are exchanged; "
    "set the click to 112 and go on from there."
)
ADVICE = (
    "After a skip you come in 71 ms earlier than elsewhere; play the gap alone and count the skip aloud.",
    "7 of 31 skips were touched; play the skip alone, the hand falling all the way but clear of the strings.",
    "Your strokes scatter by 19 ms around their own places, 15 ms would fit the pocket; play a tenth slower.",
)


LEVELS = TuneChoice(label="level", options=("plain", "ornaments", "skips"), at=1)
UNHEARD = "Nothing was heard."
HAPPENED = "You played in half time, 112.5 where the click was at 225, and your pads are exchanged."
ANSWER: dict[str, object] = {
    "happened": "Not yet: the stroke after the skip comes 39 ms early.",
    "step_words": "The gap alone at 81",
    "step_why": "Count the skip aloud; the silence has a length too.",
    "again_words": "Again at 90",
}


def in_six() -> Pattern:
    text = (
        'title = "In six"\nlevel = "plain"\nstep = 99\nmeter = "6/8"\nslots_per_beat = 3\n'
        'slow_bpm = 40\ngoal_bpm = 90.5\nneeds = ["figure"]\n'
        f'teacher = "{"Let the hand fall, and fall again, and only then rise. " * 4}"\n'
        'bars = "strike 3, rest, thumb, brush, skip, thumb"\n'
    )
    return read_pattern(text, name="in-six")


def titled(title: str, *bars: str) -> Pattern:
    pattern = pattern_of(*bars)
    return Pattern(
        **{
            name: getattr(pattern, name)
            for name in Pattern.__slots__
            if name not in ("title", "teacher", "needs")
        },
        title=title,
        teacher="Say it aloud, and let the hand rise through the rest; nothing in it is in a hurry.",
        needs=("figure",),
    )


def played(pattern: Pattern, bpm: int, passes: int, until_s: float) -> Drill:
    """A drill that a sloppy simulated player has played up to a moment."""
    drill = Drill(DrillSettings(pattern=pattern, bpm=Fraction(bpm), passes=passes))
    targets = lay_out(pattern, Timeline.steady(bpm), passes=passes)
    for tap in simulate(targets, SLOPPY, np.random.default_rng(4)).taps:
        if tap.song_s <= until_s:
            drill.advance(tap.song_s)
            drill.tap(tap)
    return drill


def drill_view(window: Window, pattern: Pattern, song_s: float, bpm: int = 80, **more: object) -> DrillView:
    drill = played(pattern, bpm, 4, song_s)
    moment = drill.advance(song_s)
    return DrillView(
        window=window,
        pattern=pattern,
        targets=drill.targets,
        timeline=drill.timeline,
        outcomes=(*drill.outcomes, *moment.view.provisional),
        strays=drill.strays,
        taps=drill.taps,
        song_s=song_s,
        bpm=moment.bpm,
        pass_index=moment.pass_index,
        count=moment.count,
        count_in_beats=drill.count_in_beats,
        input_name="Computer keys",
        uncertainty_s=0.008,
        sound="sound on",
        **more,  # type: ignore[arg-type]
    )


def review_view(window: Window, pattern: Pattern, passes: int, **more: object) -> ReviewView:
    drill = played(pattern, 90, passes, 1e6)
    drill.advance(1e6)
    judgement = drill.judgement()
    return ReviewView(
        window=window,
        pattern=pattern,
        bpm=Fraction(90),
        passes=passes,
        slots=by_slot(judgement),
        take=summarise(judgement),
        **{**ANSWER, **more},  # type: ignore[arg-type]
    )


def first_bar_view(window: Window, stage: Stage, **more: object) -> FirstBarView:
    fields: dict[str, object] = {"pattern": titled("A bar", BOTH[0]), "bpm": 50.0, **more}
    return FirstBarView(window=window, stage=stage, **fields)  # type: ignore[arg-type]


def library_view(window: Window, selected: int = 0, **more: object) -> LibraryView:
    both = titled("Both figures", *BOTH)
    course = (both, titled(LONG_TITLE, *LEFT), in_six(), *(titled(f"Figure {n}", *BOTH) for n in range(30)))
    waits = "first: Drop-thumb on string 2, clean at 80; Both figures, clean at 97.5"
    rows = [
        LibraryRow(
            title=pattern.title,
            step_words=str(pattern.step),
            level=pattern.level.value,
            ready=at % 3 != 1,
            ready_words="ready" if at % 3 != 1 else waits,
        )
        for at, pattern in enumerate(course)
    ]
    rows[0] = replace(rows[0], fastest_clean_bpm=Fraction(195, 2))
    rows[2] = replace(rows[2], fastest_clean_bpm=Fraction(120), clean=True)
    fields = {"rows": tuple(rows), "preview": course[selected], **more}
    return LibraryView(
        window=window,
        selected=selected,
        bpm=Fraction(195, 2),
        input_name="Computer keys",
        sound="sound on",
        **fields,  # type: ignore[arg-type]
    )


def settings_view(window: Window, focus: int = 0, **more: object) -> SettingsView:
    inputs = (
        InputItem(name="Computer keys"),
        InputItem(name="A practice pad with a name as long as some makers give them MIDI 1"),
        InputItem(name="Old keyboard", present=False),
    )
    return SettingsView(
        window=window,
        focus=focus,
        inputs=inputs,
        input_in_use=1,
        pads="nail and thumb",
        sound="sound on",
        **more,  # type: ignore[arg-type]
    )


def asking_view(window: Window, focus: int = 0, **more: object) -> AskingView:
    fields: dict[str, object] = {
        "title": "Thumbfall, question 1 of 3",
        "question": "What do you tap on?",
        "options": ("Computer keys", "A practice pad with a name as long as some makers give them MIDI 1"),
        "in_use": 0,
        "remarks": CAUTIONS,
        "leave_words": "no questions",
    }
    return AskingView(window=window, focus=focus, **{**fields, **more})  # type: ignore[arg-type]


def track_view(window: Window, **more: object) -> TrackView:
    rows = (
        TrackRow(label="File", value="porch-night.mp3  3:07.4", prompt="write or paste its path"),
        TrackRow(label="Beats a minute", value="97.312", prompt="type it, or tap"),
        TrackRow(label="Tap along", value=""),
        TrackRow(label="Begin with bar", value="17 of 148", steps=True, strides=True),
    )
    fields: dict[str, object] = {"title": "porch-night.mp3", "rows": rows, "sound": "sound on"}
    return TrackView(window=window, **{**fields, **more})  # type: ignore[arg-type]


@cache
def all_views(width: int, height: int, theme: ThemeName) -> Mapping[str, View]:
    """Every scene in its usual states and in its fullest ones; the same views each time."""
    return MappingProxyType(fresh_views(width, height, theme))


def fresh_views(width: int, height: int, theme: ThemeName) -> dict[str, View]:
    """The same, made anew."""
    window = Window(width=width, height=height, theme=theme)
    taps = (TapKey(label="F", words="nail", lit=True), TapKey(label="J", words="thumb"))
    tapped = replace(window, taps=taps)
    caution = Banner(kind=BannerKind.CAUTION, lines=CAUTIONS)
    problem = Banner(kind=BannerKind.PROBLEM, lines=(ADVICE[0],))
    both, left = titled("Both figures", *BOTH), titled(LONG_TITLE, *LEFT)
    found = 'my-figure.toml:7:3: found "strik" where a stroke should be; did you mean strike.'
    return {
        "library": library_view(tapped),
        "library, long title": library_view(window, 1, problems=(found, found)),
        "library, first start": library_view(replace(window, banner=caution), 2, passes=0),
        "library, session": library_view(
            window, 4, player="Ada", suggestion="3 minutes here: next Both figures, one to refresh (N)"
        ),
        "library, long suggestion": library_view(
            window, suggestion=f"3 minutes here: next {LONG_TITLE}, the one you are learning (N)"
        ),
        "library, break due": library_view(
            window, suggestion="25 minutes of playing: rest for 5 minutes", break_due=True, player="Bo"
        ),
        "library, breaks": LibraryView(
            window=window,
            shelf=Shelf.BREAKS,
            rows=tuple(LibraryRow(title=f"Break {n}", step_words=str(40 + n)) for n in range(3)),
            preview=in_six(),
            choice=LEVELS,
            suggestion="then Both figures, one to refresh (N)",
        ),
        "library, charts": LibraryView(
            window=window,
            shelf=Shelf.CHARTS,
            rows=(LibraryRow(title="A chart"),),
            preview=left,
            choice=TuneChoice(label="figure", options=(LONG_TITLE,)),
        ),
        "library, finding": library_view(window, 3, finding="dro", ladder="homing in"),
        "menu": MenuView(window=window, focus=3),
        "library, empty": LibraryView(window=window, shelf=Shelf.CHARTS),
        "drill, count-in": drill_view(window, both, -1.7),
        "drill": drill_view(tapped, both, 5.2),
        "drill, read": drill_view(window, both, 5.2, reading=READ, exchanged=True),
        "drill, fast, left hand": drill_view(window, left, 3.3, 240, next_bpm=Fraction(225)),
        "drill, in six, banner": drill_view(replace(window, banner=problem), in_six(), 4.0),
        "review": review_view(window, both, 8, advice=ADVICE),
        "review, read": review_view(window, both, 8, advice=(READ, *ADVICE[:2]), happened=HAPPENED),
        "review, nothing heard": review_view(
            tapped, both, 1, nothing_heard=True, happened="Nothing was heard."
        ),
        "review, microphone open": review_view(window, both, 8, advice=ADVICE, microphone_open=True),
        "review, long": review_view(window, titled("Long", *BOTH, *LEFT, *BOTH), 3, first_row=5),
        "review, not graded": review_view(window, left, 2, not_graded="the sound device was lost"),
        "review, banner": review_view(replace(window, banner=caution), both, 1, advice=ADVICE[:1]),
        "settings": settings_view(window, 7),
        "settings, teaching": settings_view(window, 3, teach_prompt="touch the pad for your nail"),
        "settings, banner": settings_view(replace(window, banner=caution), 11),
        "settings, take back": settings_view(
            window, 17, undo="the clicks between beats", settings=Settings(thinning=THINNED_BY_BARS)
        ),
        "asking, first start": asking_view(window),
        "first bar": first_bar_view(tapped, Stage.READY, remarks=CAUTIONS, other_input="A practice pad"),
        "first bar, watched": first_bar_view(tapped, Stage.WATCH, beat=0.8),
        "first bar, done": first_bar_view(
            tapped, Stage.DONE, tapped=((Hand.NAIL, 0.05), (Hand.THUMB, 1.42), (None, 1.0))
        ),
        "help": HelpView(
            window=window, helps=library_view(window).scene().helps, taps=(("F", "nail"), ("J", "thumb"))
        ),
        "asking, a name": asking_view(
            window, question="Who plays?", typed="Ada", options=("Bo", "Cleo", "Nobody named"), in_use=2
        ),
        "asking, a pad": asking_view(
            window, prompt="Touch the pad for your thumb, or N for none", can_go_back=True
        ),
        "page": PageView(
            window=window,
            tune=written(both),
            title=both.title,
            first=1,
            last=1,
            shown=1,
            bpm=Fraction(80),
            letters=letters_for(both),
        ),
        "files": FilesView(
            window=window,
            folder="/home/ada/Music/porch",
            rows=(
                FileRow(name="slow ferry, take 2.mp3", kind=FileKind.RECENT),
                FileRow(name="one folder up", kind=FileKind.UP),
                FileRow(name="old", kind=FileKind.FOLDER),
                *(FileRow(name=f"porch {n}.flac", kind=FileKind.SOUND) for n in range(30)),
            ),
            focus=4,
        ),
        "track, writing": track_view(window, typed="/home/ada/porch.mp3", enter_words="take it"),
        "track, tapping": track_view(window, listening=True, taps=24, place_s=81.3, can_use=True),
        "track": track_view(window, focus=3, sentences=ADVICE[:1]),
        **calibration_views(window),
        **banjo_views(window),
        **room_views(window, both, drill_view(window, both, 5.2)),
    }


def every_kind_of_view() -> set[type]:
    """All views there are: whatever can make a scene of itself."""
    found = set()
    for module in pkgutil.iter_modules(scenes.__path__, "trainer.screen.scenes."):
        inside = vars(importlib.import_module(module.name)).values()
        found |= {
            each for each in inside if isinstance(each, type) and callable(getattr(each, "scene", None))
        }
    return found
