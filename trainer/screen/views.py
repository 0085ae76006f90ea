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
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.screen.theme import ThemeName


class Act(enum.Enum):
    """What a key, a click or a pad asks for; ``Action.value`` says which one or which way."""

    SELECT = "select"  # library: value is the pattern's place; settings: the row's place
    START = "start"
    STOP = "stop"
    AGAIN = "again"
    BACK = "back"
    QUIT = "quit"
    OPEN_SETTINGS = "settings"
    TEMPO = "tempo"  # value: -1 slower, +1 faster
    PASSES = "passes"  # value: -1 fewer, +1 more
    SCROLL = "scroll"  # value: rows, down positive
    DEMO = "demo"
    DISMISS = "dismiss"  # the banner
    INPUT = "input"  # value: the input's place in SettingsView.inputs
    TEACH = "teach"  # start or end teaching pads by touch
    SKIP_PROMPT = "skip prompt"  # the pad asked for does not exist
    NAIL_KEY = "nail key"  # the next key pressed becomes the nail's
    THUMB_KEY = "thumb key"
    LEFT_KEY = "left key"
    CLICK_ON = "click on"
    CLICK_VOLUME = "click volume"  # value: -1 or +1
    SUBDIVIDE = "subdivide"
    TAP_SOUND = "tap sound"
    DELAY = "delay"  # value: -1 less, +1 more
    SWING = "swing"  # value: -1 or +1
    LAY_BACK = "lay back"  # value: -1 or +1
    LAY_BACK_OF = "lay back of"  # value: -1 or +1
    ADOPT_DELAY = "adopt delay"  # take the mean placement for the devices' delay
    ADOPT_SWING = "adopt swing"  # take the swing played for the target
    LADDER = "ladder"
    POCKET = "pocket"  # value: -1 narrower, +1 wider
    THEME = "theme"
    FULL_SCREEN = "full screen"
    OPEN_CALIBRATION = "calibration"
    OPEN_PROGRESS = "progress"
    OPEN_DEMONSTRATION = "demonstration"
    OPEN_CLASS = "class"
    OPEN_PAGE = "page"  # the whole pattern on one page, to mark bars on


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing asked for."""

    act: Act
    value: int = 0


class BannerKind(enum.Enum):
    """Why a banner is shown; it decides the mark before the words."""

    NOTE = "note"
    PROBLEM = "problem"
    CAUTION = "caution"


@dataclass(frozen=True, slots=True, kw_only=True)
class Banner:
    """Up to three short lines that any key or a click dismisses."""

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
    """

    width: int
    height: int
    theme: ThemeName = ThemeName.ROOM
    text_scale: float = 1.0
    full_screen: bool = False


class View(Protocol):
    """What any scene can be made of; ``trainer.screen.scenes.show`` knows which scene shows which view."""

    @property
    def window(self) -> Window:
        """The window as it is now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryView:
    """The course to choose from.

    Attributes:
        patterns: in the order of the course.
        selected: place of the chosen pattern in ``patterns``; ignored when there are none.
        clean: names of the patterns that the player has played clean.
        bpm, passes: what a drill of the chosen pattern would start with; 0 passes: until stopped.
        input_name: the input in use, in words.
        sound: what can be heard, in a word or two ("sound on", "no sound device").
        problems: one sentence for each user pattern that cannot be read.
        banner: shown above the help strip; None for nothing.
    """

    window: Window
    patterns: tuple[Pattern, ...]
    selected: int = 0
    clean: frozenset[str] = frozenset()
    bpm: Fraction = Fraction(60)
    passes: int = 4
    input_name: str = ""
    sound: str = ""
    problems: tuple[str, ...] = ()
    banner: Banner | None = None


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
    banner: Banner | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewView:
    """What a take came to.

    Attributes:
        pattern, bpm, passes: what was played; ``passes`` those begun.
        slots: one summary for each slot asked, in order.
        take: the whole take in a few numbers; strays are among its counts.
        pocket: which one.
        standing: where the player sits, how steadily, and whether that moves, in one line.
        advice: at most three sentences, the most useful first.
        can_adopt_delay, can_adopt_swing: whether these are offered.
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
    advice: tuple[str, ...] = ()
    can_adopt_delay: bool = False
    can_adopt_swing: bool = False
    first_row: int = 0
    not_graded: str = ""
    input_name: str = ""
    uncertainty_s: float = 0.0
    simulated: bool = False
    banner: Banner | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class InputItem:
    """One thing that can be tapped on.

    Attributes:
        name: the port's name, or "Computer keys".
        present: False for a remembered port that is not plugged in.
    """

    name: str
    present: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingsView:
    """Everything that can be chosen.

    Attributes:
        focus: place of the marked row among :func:`trainer.screen.scenes.settings.rows_of`.
        inputs: computer keys first, then the ports.
        input_in_use: place in ``inputs``.
        midi_note: why there are no ports, or an empty text.
        nail_key, thumb_key, left_key: the keys' names as a person would say them; ``left_key`` may be empty.
        waiting_key: whose key is asked for just now, or None.
        teach_prompt: what pad to touch now ("touch the pad for your nail"), or an empty text.
        pads: what the taught pads know, in words ("nail and thumb", "one pad: timing only").
        click_on, click_volume: volume from 0 to 10.
        subdivide: whether clicks between the beats are on; ``subdivide_helps`` whether the tempo is
            slow enough for them to help.
        tap_sound: whether a tap sounds as a plucked string.
        pocket: which one.
        ladder: whether the tempo climbs on clean passes.
        delay_ms: how late sound and input are together; taken off each tap.
        swing: long to short; ``lay_back_ms`` how far behind the beat the targets of ``lay_back_of`` are.
        sound: what can be heard, in a word or two.
    """

    window: Window
    focus: int = 0
    inputs: tuple[InputItem, ...] = (InputItem(name="Computer keys"),)
    input_in_use: int = 0
    midi_note: str = ""
    nail_key: str = "f"
    thumb_key: str = "j"
    left_key: str = ""
    waiting_key: Hand | None = None
    teach_prompt: str = ""
    pads: str = ""
    click_on: bool = True
    click_volume: int = 7
    subdivide: bool = False
    subdivide_helps: bool = True
    tap_sound: bool = True
    pocket: Pocket = Pocket.MIDDLE
    ladder: bool = False
    delay_ms: int = 0
    swing: float = 1.0
    lay_back_ms: int = 0
    lay_back_of: str = "all"
    sound: str = ""
    banner: Banner | None = None
