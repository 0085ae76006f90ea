"""Say what each scene needs to know, as plain frozen values that the app fills.

A view holds no pixels and no words that a scene can make itself. Seconds count from beat 0, late is
positive, sizes are real pixels of the window.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from trainer.judging.pocket import Pocket
from trainer.judging.statistics import SlotSummary, TakeSummary
from trainer.judging.take import Outcome, Tap
from trainer.music.layout import Target
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.screen.theme import ThemeName


class Act(enum.Enum):
    """What a key, a click or a pad asks for; ``Action.value`` says which one or which way."""

    SELECT = "select"  # library: value is the place on the shelf; settings: the row's place
    START = "start"
    STOP = "stop"
    AGAIN = "again"
    BACK = "back"
    QUIT = "quit"
    OPEN_SETTINGS = "settings"
    TEMPO = "tempo"  # value: -1 slower, +1 faster
    PASSES = "passes"  # value: -1 fewer, +1 more
    SCROLL = "scroll"  # value: rows, down positive
    DISMISS = "dismiss"  # the banner
    CHANGE = "change"  # Action.setting, by value steps: -1 or +1
    INPUT = "input"  # value: the input's place in SettingsView.inputs
    TEACH = "teach"  # start or end teaching pads by touch
    SKIP_PROMPT = "skip prompt"  # the pad asked for does not exist
    NAIL_KEY = "nail key"  # the next key pressed becomes the nail's
    THUMB_KEY = "thumb key"
    LEFT_KEY = "left key"
    DELAY = "delay"  # value: -1 less, +1 more
    ADOPT_DELAY = "adopt delay"  # take the mean placement for the devices' delay
    ADOPT_SWING = "adopt swing"  # take the swing played for the target
    THEME = "theme"
    FULL_SCREEN = "full screen"
    OPEN_CALIBRATION = "calibration"
    OPEN_PROGRESS = "progress"
    OPEN_DEMONSTRATION = "demonstration"
    OPEN_CLASS = "class"
    UNDO = "undo"  # the last change of the settings, or the last pad taught
    MIDI_OUT = "midi out"  # value: -1 or +1
    OWN_KEY = "own key"  # value: which wish's; the next key pressed does the same as its usual one
    OPEN_NAMING = "naming"  # say who plays
    OPEN_TRACK = "track"  # the player's own backing track
    TRACK_STEP = "track step"  # track: change the row with the focus; value: -1 or +1, -8 or +8
    SHOW = "show"  # demonstration: value is the place in its list of what can be shown
    NAMES = "names"  # class: begin or end writing names
    ORDER = "order"  # class: turns in order or at random
    RANK = "rank"  # class: sort the board, or leave it as it is
    REMOVE = "remove"  # class: the chosen name
    CLEAR = "clear"  # class: all names
    WRITE = "write"  # what is shown, to a file
    TOGETHER = "together"  # class: several pads at once
    STEP = "step"  # demonstration: a stroke, or what is shown, further or back
    LAYER = "layer"  # hide or show; value is the place among Layer
    USE = "use"  # what was found
    NEXT_MICROPHONE = "next microphone"
    MARK_FIRST = "mark first"  # page: the first bar of the loop; value: -1 or +1
    MARK_LAST = "mark last"  # page: the last bar of the loop; value: -1 or +1
    MARK_ALL = "mark all"  # page: all bars
    OPEN_PAGE = "page"  # the whole pattern on one page, to mark bars on
    SHELF = "shelf"  # library: value is how many shelves on, or back
    CHOICE = "choice"  # library: the next level of a break or figure of a chart; value: -1 or +1
    NEXT = "next"  # review: to the library, and there to the next figure
    NEXT_SUGGESTED = "next suggested"  # choose what the session suggests


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing asked for."""

    act: Act
    value: int = 0
    setting: str = ""  # by its name in the table of settings


class BannerKind(enum.Enum):
    """Why a banner is shown; it decides the mark before the words."""

    NOTE = "note"
    PROBLEM = "problem"
    CAUTION = "caution"


@dataclass(frozen=True, slots=True, kw_only=True)
class Banner:
    """Up to three short lines; any key or a click dismisses them, but for a problem that stays."""

    kind: BannerKind
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The window as it is now.

    Attributes:
        width, height: real pixels of the drawing surface.
        theme: which of the two.
        text_scale: 1 for the usual text, up to 1.5.
        full_screen: whether the window fills the screen.
        banner: what is said over the scene, whichever it is; None for nothing.
    """

    width: int
    height: int
    theme: ThemeName = ThemeName.ROOM
    text_scale: float = 1.0
    full_screen: bool = False
    banner: Banner | None = None


class View(Protocol):
    """What any scene can be made of; ``trainer.screen.scenes.show`` knows which scene shows which view."""

    @property
    def window(self) -> Window:
        """The window as it is now."""


class Shelf(enum.Enum):
    """The shelves of the library; the value is the name shown."""

    FIGURES = "Figures"
    BREAKS = "Breaks"
    CHARTS = "Charts for backup"


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryRow:
    """One thing on a shelf.

    Attributes:
        step_words: its place in the course; empty outside of it.
        level: how much is asked, in a word; shown where it differs from the row above.
        clean: clean enough to go on.
        fastest_clean_bpm: the fastest tempo it was clean at; None for never.
        ready: nothing should come first.
        ready_words: "ready", or what should come first.
    """

    title: str
    step_words: str = ""
    level: str = ""
    clean: bool = False
    fastest_clean_bpm: Fraction | None = None
    ready: bool = True
    ready_words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryView:
    """What there is to play, a shelf at a time.

    Attributes:
        shelf: which is shown.
        rows: what stands on it, in order.
        selected: place of the chosen one in ``rows``; ignored when there are none.
        preview: the chosen one as it would be drilled; None for none.
        choice_words: a break's level, or the figure laid over a chart, as it is now; empty for a figure.
        empty_words: how to add a file, for a shelf with nothing on it.
        bpm, passes: what a drill of the chosen one would start with; 0 passes: until stopped.
        player: who plays, empty for nobody named.
        suggestion: what the session says just now; ``break_due`` when that is to take a break.
        input_name: the input in use, in words.
        sound: what can be heard, in a word or two ("sound on", "no sound device").
        pads_help: what the pads do here, in a few words; empty for nothing.
        problems: one sentence for each user file that cannot be read.
    """

    window: Window
    rows: tuple[LibraryRow, ...] = ()
    shelf: Shelf = Shelf.FIGURES
    selected: int = 0
    preview: Pattern | None = None
    choice_words: str = ""
    empty_words: str = "There is nothing here yet; thumbfall patterns names the folder for your own files."
    bpm: Fraction = Fraction(60)
    passes: int = 4
    player: str = ""
    suggestion: str = ""
    break_due: bool = False
    pads_help: str = ""
    input_name: str = ""
    sound: str = ""
    problems: tuple[str, ...] = ()


class Layer(enum.Enum):
    """What the sheet can show or hide; the value is its name on the screen."""

    PATH = "hand"
    STRINGS = "strings"
    TAPS = "taps"
    CHORDS = "chords"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayerRow:
    """Another player's taps, as a row of marks under the sheet.

    Attributes:
        name: who.
        outcomes, strays, taps: as in :class:`DrillView`.
    """

    name: str
    outcomes: tuple[Outcome, ...] = ()
    strays: tuple[Tap, ...] = ()
    taps: tuple[Tap, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillView:
    """A drill as it is at one moment.

    Attributes:
        pattern: what is drilled.
        targets: laid out so far, rests included, in order; the scene picks what can be seen.
        timeline: turns the seconds of targets and taps into beats.
        outcomes: the latest settled ones, then the provisional ones.
        strays: taps that no stroke asked for.
        taps: all, or the latest, in order of time. Those not yet in an outcome or a stray are drawn
            without a verdict.
        song_s: now.
        bpm: the tempo now; ``next_bpm`` the tempo asked for that begins with a later pass, or None.
        pass_index, passes: from 0; 0 passes: until stopped.
        count: the beat of the count-in, from 1; 0 when it is over.
        count_in_beats: length of the count-in.
        pocket: which one.
        input_name: the input in use; ``uncertainty_s`` how well it knows a tap's time, either way.
        climb: how the climb to the goal tempo stands, in a few words; empty without one.
        sound: what can be heard, in a word or two.
        simulated: whether simulated hands are playing.
        done: whether the last pass is over.
        layers: what of the sheet is shown.
        others: up to eight players whose taps stand in rows of their own, one sheet for all.
    """

    window: Window
    pattern: Pattern
    targets: tuple[Target, ...]
    timeline: Timeline
    outcomes: tuple[Outcome, ...] = ()
    strays: tuple[Tap, ...] = ()
    taps: tuple[Tap, ...] = ()
    song_s: float = 0.0
    bpm: Fraction = Fraction(60)
    next_bpm: Fraction | None = None
    pass_index: int = 0
    passes: int = 4
    count: int = 0
    count_in_beats: int = 4
    pocket: Pocket = Pocket.MIDDLE
    input_name: str = ""
    uncertainty_s: float = 0.0
    climb: str = ""
    sound: str = ""
    simulated: bool = False
    done: bool = False
    layers: frozenset[Layer] = frozenset(Layer)
    others: tuple[PlayerRow, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewView:
    """What a take came to.

    Attributes:
        pattern, bpm, passes: what was played; ``passes`` those begun.
        slots: one summary for each slot asked, in order.
        take: the whole take in a few numbers; strays are among its counts.
        pocket: which one.
        standing: where the player sits, how steadily, and whether that moves, in one line.
        besides: sentences on chord changes and on bars without a click, when there were any.
        advice: at most three sentences, the most useful first.
        can_adopt_delay, can_adopt_swing: whether these are offered.
        undo: what would be taken back, in words; empty for nothing.
        pads_help: what the pads do here, in a few words; empty for nothing.
        first_row: how far the rows are scrolled.
        not_graded: why the take does not count (a device was lost), or an empty text.
        input_name, uncertainty_s: as in :class:`DrillView`.
    """

    window: Window
    pattern: Pattern
    bpm: Fraction
    passes: int
    slots: tuple[SlotSummary, ...]
    take: TakeSummary
    pocket: Pocket = Pocket.MIDDLE
    standing: str = ""
    besides: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    can_adopt_delay: bool = False
    can_adopt_swing: bool = False
    undo: str = ""
    pads_help: str = ""
    first_row: int = 0
    not_graded: str = ""
    input_name: str = ""
    uncertainty_s: float = 0.0
    simulated: bool = False
