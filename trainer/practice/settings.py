"""Hold everything that is remembered from one start to the next, as one table.

A field of :class:`Settings` is a row of that table: its usual value, what it can be, how its row of the
settings reads, what a change of it is called when taken back, and what has to follow it at once. Reading a
file, keeping it, stepping, taking back and the settings' scene all go by this table: a new setting is one
field here and one line where it is used.
"""

from __future__ import annotations

import enum
from collections.abc import Callable
from dataclasses import dataclass, field, fields
from fractions import Fraction
from types import MappingProxyType
from typing import TypeVar, cast

from trainer.judging.pocket import Pocket
from trainer.music.layout import MAX_LAYBACK_S, MOST_PASSES
from trainer.music.pattern import FASTEST_BPM, SLOWEST_BPM
from trainer.music.strokes import Kind
from trainer.music.timeline import MAX_SWING, STRAIGHT
from trainer.practice.ladder import LadderKind
from trainer.practice.pads import SIDE
from trainer.practice.setting_kinds import Choice, Ratio, SettingKind, Switch, Texts, Whole, Words
from trainer.practice.setting_words import FARTHEST_PAN, LADDER_REMARKS, pan_words

T = TypeVar("T")
SCREEN_GESTURES = ("start", "slower", "faster", "next")
THINNED_BY_BARS = "off for N bars in M"
THINNINGS = (
    "every beat", "first of the bar", "every other beat", "off beats", "off slots", "up slots",
    THINNED_BY_BARS,
)  # fmt: skip
THEMES = ("room", "projector")
TEXT_SIZES = ("usual", "large", "largest")
EVERY_STROKE = "all"
LAID_BACK = (Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.DROP_THUMB)
LONGEST_NAME = 40  # of a player; what a board of results can show
MICROPHONE = "Microphone: "  # before its name, where it is an input
LONGEST_ROOM = 4000  # of what a microphone's set-up has learnt, as text
LONGEST_KEY = 40  # of a key's name
LOUDEST = 10
LARGEST_DELAY_MS = 300  # wireless headphones: 100 to 250 ms
MOST_THIN_BARS = 16
SIGNS_SHOWN = 3  # drills in which the signs of the sheet are explained
VOLUME = Whole(least=0, most=LOUDEST)
KEY = Words(longest=LONGEST_KEY)
CLICK_VOICES = ("wood", "tone")
PAN = Whole(least=-FARTHEST_PAN, most=FARTHEST_PAN)
DEPTHS = Texts(least=1, most=2)
DELAYS = Texts(least=-LARGEST_DELAY_MS, most=LARGEST_DELAY_MS)


class Group(enum.Enum):
    """The groups of rows, in the order of the settings' scene; the value is the name shown."""

    INPUT = "Input"
    KEYS = "Keys"
    CLICK = "Click"
    SOUND = "Sound"
    TARGET = "Target"
    PRACTICE = "Practice"
    SCREEN = "Screen"


class Follows(enum.Enum):
    """What has to follow a change at once; all else reads the setting when it needs it."""

    NOTHING = "nothing"
    SOUND = "the sound that plays"
    INPUT = "the input in use"
    MIDI_OUT = "the port that is sent to"


@dataclass(frozen=True, slots=True)
class Row:
    """How a setting reads in its scene.

    Attributes:
        group, label: where, and what it is.
        remark: what it means, in a sentence or two.
        words: the value in words; None for the value itself.
        shown: whether there is such a row just now; None for always.
        is_volume: whether the value is shown as a share of the most it can be, besides.
    """

    group: Group
    label: str
    remark: str | Callable[[Settings], str] = ""
    words: Callable[[Settings], str] | None = None
    shown: Callable[[Settings], bool] | None = None
    is_volume: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """One row of the table.

    Attributes:
        kind: what it can be.
        row: how it reads in the settings' scene; None when it is not shown there.
        undo: what a change of it is called when it is taken back; empty when it is not taken back, because
            what one key changes the next key changes back (the chosen pattern, the tempo).
        follows: what has to follow a change at once.
        limits: tighter limits of a number than the kind's, which hang on other settings; None without.
        is_known: whether it says what is known of devices or patterns, and so is taken over from another
            program that learnt it, not only kept beside.
    """

    kind: SettingKind
    row: Row | None = None
    undo: str = ""
    follows: Follows = Follows.NOTHING
    limits: Callable[[Settings], tuple[int, int]] | None = None
    is_known: bool = False


def setting(
    usual: T,
    kind: SettingKind,
    *,
    row: Row | None = None,
    undo: str = "",
    follows: Follows = Follows.NOTHING,
    limits: Callable[[Settings], tuple[int, int]] | None = None,
    is_known: bool = False,
) -> T:
    """Return a field of the settings; the arguments are those of :class:`Spec`."""
    spec = Spec(kind=kind, row=row, undo=undo, follows=follows, limits=limits, is_known=is_known)
    metadata = MappingProxyType({Spec: spec})
    if isinstance(usual, dict):
        return cast(T, field(default_factory=dict, metadata=metadata))
    return field(default=usual, metadata=metadata)


def _by_bars(s: Settings) -> bool:
    return s.thinning == THINNED_BY_BARS


def _has_side(s: Settings) -> bool:
    return f"{SIDE}=" in s.pads.get(s.input_name, "") if s.input_name else bool(s.side_key)


def _thinning_words(s: Settings) -> str:
    return f"all but {s.thin_off} of {s.thin_of} bars" if _by_bars(s) else s.thinning


def _pocket_remark(s: Settings) -> str:
    return (
        f"How far off still counts as in time: at least {Pocket.named(s.pocket).floor_s * 1000:.0f} ms "
        "either way, and more when the strokes are far apart."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything remembered from one start to the next; rows of the scene stand in the order of the fields.

    Attributes:
        input_name: the input in use without its trailing ids; empty for the computer's keys.
        pads: by input name, the taught pads in the words of ``trainer.practice.pads``.
        pads_steer: whether the pads also start, repeat and change the tempo while nothing is played.
        known_delays: by "INPUT | OUTPUT", how late sound and input together are as measured, in ms as text.
        nail_key, thumb_key: names of keys.
        left_key: name of the left hand's key; empty when it has none.
        side_key: name of the key on which skips are marked; empty when there is none.
        own_keys: by what it asks for (``SCREEN_GESTURES``), a key that does the same as the usual one.
        click, subdivide, tap_sound: what is heard.
        thinning: which clicks are heard, one of ``THINNINGS``; in the last of them the click is silent for
            ``thin_off`` bars of every ``thin_of``.
        click_voice: what the clicks are made of.
        click_pan, banjo_pan, band_pan: where each is heard, from -10, left, to 10, right.
        band: whether a band plays the chords.
        midi_out: the port that clicks and clock are sent to; empty for none.
        pocket: name of the pocket.
        swing: long to short of the target, as text; "1" for straight.
        lay_back_ms: by how much the targets of ``lay_back_of`` are moved behind the beat; that is a kind of
            stroke, or "all".
        ladder: how the tempo climbs on clean passes.
        mark_skips: whether skips are marked on their pad or key, and judged for that.
        player: who plays; empty when nobody said.
        theme, text_size, full_screen: how the window looks.
        chord_letters: whether chords have their letters beside their numbers.
        string_1_on_top: whether string 1 is the uppermost on the page.
        pattern: name of the pattern last chosen.
        tempi: by pattern name, the tempo last drilled, as text.
        passes: passes of a drill; 0 until stopped.
        delays_ms: by input name, the delays that an older version kept for every output.
        sound_depths: by output name, how many times deeper its sound buffers are since it stalled, as text.
        rooms: by input name, what the set-up of a microphone has learnt (``trainer.hearing.room``).
        records_folder: where takes are kept; empty for the user's data folder.
        own_track: path of the track that drills are played to; empty for none.
        class_list: name of the class in use; empty for the first, which has none.
        cautions_seen: whether the cautions, and the questions of the first start, have been shown.
        signs_seen: in how many drills, up to ``SIGNS_SHOWN``, the signs of the sheet were explained.
        other: keys of a newer version, kept.
    """

    input_name: str = setting(
        "", Words(), undo="the input", follows=Follows.INPUT,
        row=Row(Group.INPUT, "Tap on",
            "Enter taps on this from now on. MIDI pads are exact to a millisecond or two; "
            "computer keys to several."),
    )  # fmt: skip
    pads: dict[str, str] = setting(
        {}, Texts(), undo="the pads", is_known=True,
        row=Row(Group.INPUT, "Pads",
            "Enter, then touch the pads you are asked for. With one pad, timing is judged and "
            "the hand is not."),
    )  # fmt: skip
    pads_steer: bool = setting(
        True, Switch(), undo="what the pads do",
        row=Row(Group.INPUT, "Pads steer",
            "Between drills, after a quiet second: nail twice starts, thumb twice takes the next figure, "
            "nail and thumb goes faster, thumb and nail slower. On one pad: twice, three, four, five times."),
    )  # fmt: skip
    known_delays: dict[str, str] = setting(
        {}, DELAYS, undo="the delay", is_known=True,
        row=Row(Group.INPUT, "Delay",
            "How late your sound and your input are together: taken off each tap. Measure it, or let the "
            "review of a figure you know well take its mean for it."),
    )  # fmt: skip
    nail_key: str = setting(
        "f", KEY, undo="the keys", follows=Follows.INPUT,
        row=Row(Group.KEYS, "Nail", "Enter, then press the key that stands for the nail."),
    )  # fmt: skip
    thumb_key: str = setting(
        "j", KEY, undo="the keys", follows=Follows.INPUT,
        row=Row(Group.KEYS, "Thumb", "Enter, then press the key that stands for the thumb."),
    )  # fmt: skip
    left_key: str = setting(
        "", KEY, undo="the keys", follows=Follows.INPUT,
        row=Row(Group.KEYS, "Left hand",
            "Enter, then press a key for hammer-ons, pull-offs and slides, or backspace for none. "
            "Without one the program plays them and does not judge them."),
    )  # fmt: skip
    side_key: str = setting(
        "", KEY, undo="the keys", follows=Follows.INPUT,
        row=Row(Group.KEYS, "Skips",
            "Enter, then press a key for marking skips, touched as the hand falls and stays silent; "
            "backspace for none."),
    )  # fmt: skip
    own_keys: dict[str, str] = setting(
        {}, Texts(names=SCREEN_GESTURES), undo="the keys",
        row=Row(Group.KEYS, "",
            "always works. Enter, then press a key of your own for it besides, or backspace for none."),
    )  # fmt: skip
    click: bool = setting(
        True, Switch(), undo="the click", follows=Follows.SOUND,
        row=Row(Group.CLICK, "Click", "The beat, louder on the first of a bar."),
    )  # fmt: skip
    click_volume: int = setting(
        7, VOLUME, undo="the volume", follows=Follows.SOUND,
        row=Row(Group.CLICK, "Volume",
            "Of click and taps. No program can know how loud it is at your ear: keep it low in headphones.",
            is_volume=True),
    )  # fmt: skip
    click_voice: str = setting(
        CLICK_VOICES[0], Choice(words=CLICK_VOICES), undo="what the click is made of", follows=Follows.SOUND,
        row=Row(Group.CLICK, "Made of",
            "Wood is a knock. Tone is a short high tone that cuts through a banjo."),
    )  # fmt: skip
    thinning: str = setting(
        THINNINGS[0], Choice(words=THINNINGS), undo="which clicks sound", follows=Follows.SOUND,
        row=Row(Group.CLICK, "Heard on",
            "Fewer clicks leave more of the time to you; the review shows how you drift in the silence.",
            words=_thinning_words),
    )  # fmt: skip
    thin_off: int = setting(
        2, Whole(least=1, most=MOST_THIN_BARS - 1), undo="the silent bars", follows=Follows.SOUND,
        limits=lambda s: (1, s.thin_of - 1),  # at least one bar of the round keeps its click
        row=Row(Group.CLICK, "Silent bars", "So many bars are without the click.", shown=_by_bars),
    )  # fmt: skip
    thin_of: int = setting(
        4, Whole(least=2, most=MOST_THIN_BARS), undo="the silent bars", follows=Follows.SOUND,
        limits=lambda s: (s.thin_off + 1, MOST_THIN_BARS),
        row=Row(Group.CLICK, "Out of", "After so many bars it all begins anew.", shown=_by_bars,
            words=lambda s: f"{s.thin_of} bars"),
    )  # fmt: skip
    subdivide: bool = setting(
        False, Switch(), undo="the clicks between beats", follows=Follows.SOUND,
        row=Row(Group.CLICK, "Between beats",
            "More clicks help while they are at least a quarter of a second apart, and hinder below that."),
    )  # fmt: skip
    tap_sound: bool = setting(
        True, Switch(), undo="the sound of taps",
        row=Row(Group.SOUND, "Taps sound", "Each tap plucks the string that its stroke asks for."),
    )  # fmt: skip
    band: bool = setting(
        False, Switch(), undo="the band", follows=Follows.SOUND,
        row=Row(Group.SOUND, "Band", "Bass, chop and a light drum play along where there are chords."),
    )  # fmt: skip
    band_volume: int = setting(
        5, VOLUME, undo="the band's volume", follows=Follows.SOUND,
        row=Row(Group.SOUND, "Band volume", "Of the band alone.", is_volume=True),
    )  # fmt: skip
    click_pan: int = setting(
        0, PAN, undo="where the click is heard", follows=Follows.SOUND,
        row=Row(Group.SOUND, "Click is heard", "Apart from the banjo it is easier to follow.",
            words=lambda s: pan_words(s.click_pan)),
    )  # fmt: skip
    banjo_pan: int = setting(
        -2, PAN, undo="where the banjo is heard", follows=Follows.SOUND,
        row=Row(Group.SOUND, "Banjo is heard", "Taps and what the program plays for the left hand.",
            words=lambda s: pan_words(s.banjo_pan)),
    )  # fmt: skip
    band_pan: int = setting(
        2, PAN, undo="where the band is heard", follows=Follows.SOUND,
        row=Row(Group.SOUND, "Band is heard", "Both channels together are the same wherever a sound is put.",
            words=lambda s: pan_words(s.band_pan)),
    )  # fmt: skip
    midi_out: str = setting(
        "", Words(), undo="the MIDI output", follows=Follows.MIDI_OUT,
        row=Row(Group.SOUND, "MIDI out", "Sends the click, the clock and your taps to another device.",
            words=lambda s: s.midi_out or "none"),
    )  # fmt: skip
    pocket: str = setting(
        Pocket.MIDDLE.value, Choice(words=tuple(pocket.value for pocket in Pocket), goes_round=False),
        undo="the pocket", row=Row(Group.TARGET, "Pocket", _pocket_remark),
    )  # fmt: skip
    swing: str = setting(
        "1", Ratio(least=STRAIGHT, most=MAX_SWING, step=Fraction(1, 20)), undo="the swing",
        row=Row(Group.TARGET, "Swing",
            "Moves the up slots of the target: long to short. The review measures what you play.",
            words=lambda s: "straight" if Fraction(s.swing) == 1 else f"{float(Fraction(s.swing)):g} to 1"),
    )  # fmt: skip
    lay_back_ms: int = setting(
        0, Whole(least=0, most=round(MAX_LAYBACK_S * 1000), step=5), undo="the lay-back",
        row=Row(Group.TARGET, "Lay back", "Moves the target behind the click, for a strolling feel.",
            words=lambda s: f"{s.lay_back_ms} ms" if s.lay_back_ms else "none"),
    )  # fmt: skip
    lay_back_of: str = setting(
        EVERY_STROKE, Choice(words=(EVERY_STROKE, *(kind.value for kind in LAID_BACK))),
        undo="what lies back",
        row=Row(Group.TARGET, "What lies back",
            "Every stroke, or one kind: brushes that lie back behind strikes on the beat, say.",
            words=lambda s: "every stroke" if s.lay_back_of == EVERY_STROKE else s.lay_back_of),
    )  # fmt: skip
    ladder: str = setting(
        LadderKind.OFF.value, Choice(words=tuple(kind.value for kind in LadderKind)), undo="the ladder",
        row=Row(Group.PRACTICE, "Ladder", lambda s: LADDER_REMARKS[s.ladder]),
    )  # fmt: skip
    mark_skips: bool = setting(
        False, Switch(), undo="the marking of skips",
        row=Row(Group.PRACTICE, "Mark the skips",
            "An exercise of its own: touch the pad or key for skips as the hand falls through one. "
            "It is judged for its place, as a stroke is.", shown=_has_side),
    )  # fmt: skip
    player: str = setting(
        "", Words(longest=LONGEST_NAME), undo="the player",
        row=Row(Group.PRACTICE, "Player",
            "Takes are kept under this name. None is needed where only one plays.",
            words=lambda s: s.player or "nobody named"),
    )  # fmt: skip
    theme: str = setting(
        THEMES[0], Choice(words=THEMES), undo="the theme",
        row=Row(Group.SCREEN, "Theme", "Room is dark; projector is light, for a wall in a lit room."),
    )  # fmt: skip
    text_size: str = setting(
        TEXT_SIZES[0], Choice(words=TEXT_SIZES, goes_round=False), undo="the text size",
        row=Row(Group.SCREEN, "Text", "Usual, a quarter larger, or half as large again, on every screen."),
    )  # fmt: skip
    chord_letters: bool = setting(
        False, Switch(), undo="the chords' letters",
        row=Row(Group.SCREEN, "Chord letters",
            "Beside each chord's number its letter, for the shapes of your hand: G for 1 in G."),
    )  # fmt: skip
    string_1_on_top: bool = setting(
        False, Switch(), undo="where string 1 is",
        row=Row(Group.SCREEN, "String 1",
            "On the page and on paper: at the bottom as in the drill, or on top.",
            words=lambda s: "on top" if s.string_1_on_top else "at the bottom"),
    )  # fmt: skip
    full_screen: bool = setting(
        False, Switch(), row=Row(Group.SCREEN, "Full screen", "F11 does the same on every screen.")
    )
    pattern: str = setting("", Words())
    tempi: dict[str, str] = setting({}, Texts(least=SLOWEST_BPM, most=FASTEST_BPM), is_known=True)
    passes: int = setting(4, Whole(least=0, most=MOST_PASSES, choices=(1, 2, 4, 8, 16, 0), endless=0))
    delays_ms: dict[str, str] = setting({}, DELAYS)
    sound_depths: dict[str, str] = setting({}, DEPTHS, is_known=True)
    rooms: dict[str, str] = setting({}, Texts(longest=LONGEST_ROOM), is_known=True)
    records_folder: str = setting("", Words(is_folder=True))
    own_track: str = setting("", Words())
    class_list: str = setting("", Words(longest=LONGEST_NAME))
    cautions_seen: bool = setting(False, Switch())
    signs_seen: int = setting(0, Whole(least=0, most=SIGNS_SHOWN))
    other: dict[str, object] = field(default_factory=dict)


TABLE: dict[str, Spec] = {f.name: f.metadata[Spec] for f in fields(Settings) if Spec in f.metadata}
