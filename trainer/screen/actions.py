"""Say what a key, a click or a pad can ask for."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class Act(enum.Enum):
    """What a key, a click or a pad asks for; ``Action.value`` says which one or which way."""

    SELECT = "select"  # library: value is the place on the shelf; settings: the row's place; class: the
    # name's place, or below nought what is chosen besides
    START = "start"
    STOP = "stop"
    AGAIN = "again"
    TELL_KEYS = "tell keys"  # drill: which keys are tapped on
    GO_ON = "go on"  # drill: after a pause
    BACK = "back"
    QUIT = "quit"  # asks whether to leave the program
    USE_NEW_INPUT = "use new input"  # tap on the pad that was plugged in last
    OPEN_HELP = "help"  # the keys of the scene, and the signs of the sheet
    OPEN_SETTINGS = "settings"
    TEMPO = "tempo"  # value: steps of five beats a minute, slower negative
    TEMPO_BY_ONE = "tempo by one"  # value: beats a minute, slower negative
    TEMPO_BY_TWO = "tempo by two"  # value: steps of two beats a minute, slower negative
    TEMPO_HALF = "half tempo"  # value: -1 half as fast, +1 twice as fast
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
    SIDE_KEY = "side key"  # on which skips are marked
    EXCHANGE_PADS = "exchange pads"  # nail and thumb of the input in use
    DELAY = "delay"  # value: -1 less, +1 more
    ADOPT_DELAY = "adopt delay"  # take the mean placement for the devices' delay
    ADOPT_SWING = "adopt swing"  # take the swing played for the target
    THEME = "theme"
    FULL_SCREEN = "full screen"
    OPEN_CALIBRATION = "calibration"
    OPEN_BANJO = "banjo"  # set it up for the microphone in use
    OPEN_PROGRESS = "progress"
    OPEN_DEMONSTRATION = "demonstration"
    OPEN_CLASS = "class"
    UNDO = "undo"  # the last change of the settings, or the last pad taught
    MIDI_OUT = "midi out"  # value: -1 or +1
    OWN_KEY = "own key"  # value: which gesture's; the next key pressed does the same as its usual one
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
    LIST = "list"  # class: value is how many classes on, or back
    BOARD = "board"  # class: value is how many boards on, or back
    COUNT = "count"  # class, together: count what was disturbed, by the teacher's word
    LEAVE_OUT = "leave out"  # class: for today, or not any more; together: whoever is asked
    STEP = "step"  # demonstration: a stroke, or what is shown, further or back
    LAYER = "layer"  # hide or show; value is the place among SheetLayer
    USE = "use"  # what was found
    NEXT_MICROPHONE = "next microphone"
    MARK_FIRST = "mark first"  # page: the first bar of the loop; value: -1 or +1
    MARK_LAST = "mark last"  # page: the last bar of the loop; value: -1 or +1
    MARK_ALL = "mark all"  # page: all bars
    SHOW_FOLDER = "show folder"  # page: where it was printed to
    TURN_OVER = "turn over"  # page: string 1 on top, or at the bottom
    OPEN_PAGE = "page"  # the whole pattern on one page, to mark bars on
    FIND = "find"  # library: begin or end typing a title
    OPEN_MENU = "menu"  # what is needed less often
    OPEN_FIRST_BAR = "first bar"  # the first minute once more
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
