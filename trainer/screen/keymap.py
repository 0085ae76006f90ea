"""Hold which key does what on which scene: one table for the help strip, the pads and the guide."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from trainer.screen.actions import Act, Action
from trainer.screen.key_entries import Cap, Help, both, one, walk

ENTER = ("return", "enter")
LEFT_RIGHT = (("left",), ("right",))
SHOW_KEY = "f5"  # the demonstration, from anywhere: what presenters' remotes send to begin
REMOTE_BLANK = ("b", ".")  # what a presenter's remote sends to blank the screen; one of them, by its maker
MINUS_PLUS = (("-", "[-]"), ("=", "+", "[+]"))
TEMPO = both(("←", "→"), Act.TEMPO, "tempo", LEFT_RIGHT, gestures=("slower", "faster"))
BY_ONE = both(
    ("Shift ←", "Shift →"), Act.TEMPO_BY_ONE, "tempo by one", (("shift left",), ("shift right",)), rare=True
)
BY_TWO = both(
    ("Alt ←", "Alt →"), Act.TEMPO_BY_TWO, "tempo by two", (("alt left",), ("alt right",)), rare=True
)
HALF = Help(
    (
        Cap("X", Action(act=Act.TEMPO_HALF, value=-1), ("x",)),
        Cap("Shift X", Action(act=Act.TEMPO_HALF, value=1), ("shift x",)),
    ),
    "half tempo, twice the tempo",
    rare=True,
)
PASSES = both(("−", "+"), Act.PASSES, "passes", MINUS_PLUS)
NEW_INPUT = one("F2", Act.USE_NEW_INPUT, "tap on the new pad", "f2", rare=True)
HELP = one("F1", Act.OPEN_HELP, "keys", "f1", "?", "h")
FULL_SCREEN = one("F11", Act.FULL_SCREEN, "full screen", "f11", rare=True)
EVERYWHERE = (HELP, NEW_INPUT, FULL_SCREEN)
BACK = one("Esc", Act.BACK, "back", "escape")
LIGHT = one("T", Act.THEME, "light")
LIGHT_HERE = one("T", Act.THEME, "light here")  # and not in the whole program
SHOW = one("F5", Act.OPEN_DEMONSTRATION, "show")  # works everywhere; shown where something of its own is up
BY_PAGES = Help(
    (Cap("PgUp", "page up", ("page up",)), Cap("PgDn", "page down", ("page down",))), "a page", rare=True
)
TO_ENDS = Help((Cap("Home", "first", ("home",)), Cap("End", "last", ("end",))), "first, last", rare=True)
LAYERS = Help(
    tuple(Cap(str(n), Action(act=Act.LAYER, value=n - 1), (str(n), f"[{n}]")) for n in range(1, 5)), "hide"
)
BARS = 8  # of a stride through a track
DELAY_STRIDE_MS = 10

MENU = (
    one("D", Act.OPEN_DEMONSTRATION, "show it to a class, clean and with a fault"),
    one("O", Act.OPEN_PAGE, "the whole of it on a page: mark bars, print"),
    one("B", Act.OPEN_TRACK, "a track of your own to play to"),
    one("P", Act.OPEN_PROGRESS, "progress: what you have played"),
    one("K", Act.OPEN_CLASS, "class: turns, all at once, the board"),
    one("W", Act.OPEN_NAMING, "who plays"),
    one("S", Act.OPEN_SETTINGS, "settings: input, practice, sound, screen"),
    one("I", Act.OPEN_FIRST_BAR, "the first bar once more"),
)
OWN: Mapping[str, tuple[Help, ...]] = {
    "first bar": (
        one("Enter", Act.START, "watch, then tap", *ENTER, "space", when="ready"),
        one("Enter", Act.START, "to the figures", *ENTER, when="done"),
        one("Space", Act.AGAIN, "again", when="done"),
        one("F2", Act.USE_NEW_INPUT, "tap on {the other input}", "f2", when="other"),
        one("Esc", Act.BACK, "leave this", "escape"),
        one("+", Action(act=Act.CHANGE, value=1, setting="text_size"), "larger text", "+", "=", "[+]"),
        LIGHT,
    ),
    "library": (
        one("Enter", Act.START, "start", *ENTER, gesture="start"),
        Help((Cap("↑", "before", ("up",)), Cap("↓", "after", ("down",))), "choose"),
        TEMPO,
        one("M", Act.OPEN_MENU, "more"),
        one("Esc", Act.QUIT, "leave", "escape"),
        Help(
            (
                Cap("Tab", Action(act=Act.SHELF, value=1), ("tab",)),
                Cap("Shift Tab", Action(act=Act.SHELF, value=-1), ("shift tab",)),
            ),
            "next shelf, the one before",
            rare=True,
        ),
        one("C", Action(act=Act.CHOICE, value=1), "level", when="breaks", rare=True),
        one("C", Action(act=Act.CHOICE, value=1), "figure", when="charts", rare=True),
        one("N", Act.NEXT_SUGGESTED, "what is suggested", when="suggested", rare=True),
        one("G", Act.FIND, "find a title", rare=True),
        BY_PAGES,
        TO_ENDS,
        HALF,
        BY_ONE,
        BY_TWO,
        replace(PASSES, rare=True),
        one("L", Action(act=Act.CHANGE, value=1, setting="ladder"), "ladder", rare=True),
        *(replace(entry, rare=True) for entry in MENU),
        Help((Cap("", Action(act=Act.SCROLL, value=1), (), "next"),), ""),
    ),
    "library, finding": (
        one("Enter", Act.FIND, "this one", *ENTER, "tab"),
        Help((Cap("↑", "before", ("up",)), Cap("↓", "after", ("down",))), "choose"),
        one("Back", Act.REMOVE, "take back", "backspace"),
        one("Esc", Act.BACK, "as it was", "escape"),
    ),
    "menu": (
        walk("choose", ("up", "page up"), ("down", "page down")),
        one("Enter", "the one with the focus", "take it", *ENTER, "space"),
        BACK,
        *(replace(entry, rare=True) for entry in MENU),
    ),
    "drill": (
        one("Esc", Act.STOP, "stop and review", "escape", when="not turn"),
        one("Esc", Act.STOP, "stop", "escape", when="turn"),
        one("", Act.STOP, "", "return", when="not exchanged"),
        one("Enter", Act.EXCHANGE_PADS, "exchange the pads", *ENTER, when="exchanged"),
        one("Space", Act.GO_ON, "go on", "space", *REMOTE_BLANK, when="paused"),
        one("R", Act.AGAIN, "from the top", when="not paused", gesture="start"),
        one("", Act.TELL_KEYS, "", "space", when="not paused"),
        replace(TEMPO, when="not paused"),
        replace(HALF, when="not paused"),
        replace(BY_ONE, when="not paused"),
        replace(BY_TWO, when="not paused"),
    ),
    "review": (
        one("Enter", Act.START, "next step", *ENTER, gesture="start"),
        one("Space", Act.AGAIN, "{again}", "space"),
        TEMPO,
        HALF,
        BY_ONE,
        BY_TWO,
        one("Esc", Act.BACK, "library", "escape"),
        one("T", Act.ADOPT_DELAY, "take the mean as delay", when="steady"),
        one("W", Act.ADOPT_SWING, "take this swing", when="swung"),
        one("U", Act.UNDO, "take back: {what was changed}", when="undo"),
        both(("↑", "↓"), Act.SCROLL, "more rows", (("up",), ("down",)), when="scrolls"),
        both(("", ""), Act.SCROLL, "", (("up",), ("down",)), when="not scrolls"),
        SHOW,
        BY_PAGES,
        Help((Cap("", Action(act=Act.NEXT), (), "next"),), ""),
    ),
    "settings": (
        walk("row"),
        Help(
            (
                Cap("Tab", "next group", ("tab", "page down")),
                Cap("", "group before", ("page up", "shift tab")),
            ),
            "group",
        ),
        Help((Cap("←", "less", ("left",)), Cap("→", "more", ("right",))), "change", "steps"),
        one("Enter", "enter", "choose", *ENTER, "space"),
        one("N", Act.SKIP_PROMPT, "no such pad", when="teaching"),
        one("Back", Act.UNDO, "last pad back", "backspace", "u", when="taught"),
        one("U", Act.UNDO, "take back: {what was changed}", when="undo"),
        BACK,
    ),
    "demonstration": (
        one("B", Act.STOP, "stop", "b", "space", ".", when="not stopped"),
        one("B", Act.STOP, "go on", "b", "space", ".", when="stopped"),
        both(
            ("PgUp", "PgDn"),
            Act.STEP,
            "fault",
            (("page up", "up"), ("page down", "down")),
            when="not stopped",
        ),
        both(
            ("PgUp", "PgDn"), Act.STEP, "stroke", (("page up", "up"), ("page down", "down")), when="stopped"
        ),
        TEMPO,
        HALF,
        BY_ONE,
        BY_TWO,
        LAYERS,
        one("R", Act.AGAIN, "from the top", "r", "return"),
        LIGHT_HERE,
        BACK,
    ),
    "class": (
        one("Enter", Act.START, "{start}", *ENTER, "space", *REMOTE_BLANK),
        walk("who", ("up", "page up"), ("down", "page down")),
        TEMPO,
        HALF,
        BY_ONE,
        BY_TWO,
        PASSES,
        one("G", Act.COUNT, "count it", when="held"),
        one("Tab", Action(act=Act.BOARD, value=-1), "older board", "tab", when="boards"),
        one(
            "Shift Tab", Action(act=Act.BOARD, value=1), "newer board", "shift tab", when="boards", rare=True
        ),
        one("A", Act.TOGETHER, "all at once"),
        one("L", Act.LEAVE_OUT, "leave out today", when="here"),
        one("L", Act.LEAVE_OUT, "is here", when="away"),
        one("N", Act.NAMES, "names"),
        one("R", Act.ORDER, "{the other order}", rare=True),
        one("K", Act.RANK, "as named", when="ranked", rare=True),
        one("K", Act.RANK, "sort", when="not ranked", rare=True),
        one("W", Act.WRITE, "write CSV"),
        one("M", Action(act=Act.LIST, value=1), "next class", when="lists", rare=True),
        one("Del", Act.REMOVE, "remove", "delete", "backspace", rare=True),
        one("C", Act.CLEAR, "forget all", rare=True),
        one("U", Act.UNDO, "undo", when="undo"),
        SHOW,
        replace(LIGHT, rare=True),
        BACK,
    ),
    "lesson": (
        one("B", Act.START, "turn", "b", ".", "space", *ENTER),
        both(("PgUp", "PgDn"), Act.STEP, "step", (("page up", "left"), ("page down", "right"))),
        walk("who"),
        one("G", Act.COUNT, "count it", when="held"),
        SHOW,
        one("W", Act.WRITE, "write the pages"),
        BACK,
    ),
    "class, writing names": (
        one("Enter", Act.START, "next name", *ENTER),
        one("Back", Act.REMOVE, "take back", "backspace"),
        one("Esc", Act.NAMES, "done", "escape"),
    ),
    "together": (
        one("Enter", Act.START, "again", *ENTER, *REMOTE_BLANK, when="over"),
        one("Enter", Act.START, "begin", *ENTER, *REMOTE_BLANK, when="can begin"),
        one("PgDn", Act.LEAVE_OUT, "leave out", "page down", when="asked"),
        one("Back", Act.UNDO, "one back", "backspace", "page up", when="can undo"),
        one("G", Act.COUNT, "count it", "g", "page down", when="held"),
        one("Esc", Act.STOP, "stop", "escape", when="playing"),
        replace(BACK, when="not playing"),
    ),
    "page": (
        one("Enter", Act.START, "loop these bars", *ENTER),
        both(("←", "→"), Act.MARK_FIRST, "first bar", LEFT_RIGHT),
        both(("↑", "↓"), Act.MARK_LAST, "last bar", (("up",), ("down",))),
        one("A", Act.MARK_ALL, "all", "a", "home"),
        one("P", Act.WRITE, "print"),
        one("V", Act.SHOW_FOLDER, "show its folder", when="printed"),
        one("1", Act.TURN_OVER, "string 1 up or down", rare=True),
        SHOW,
        BACK,
        both(("", ""), Act.SCROLL, "", (("page up",), ("page down",))),
    ),
    "progress": (
        walk("figure"),
        both(("←", "→"), Act.SHOW, "picture", (("left", "page up"), ("right", "page down"))),
        both(("−", "+"), Act.TEMPO, "at tempo", MINUS_PLUS, when="spread"),
        one("Enter", Act.START, "its takes", *ENTER),
        LIGHT,
        BACK,
    ),
    "takes": (
        walk("choose"),
        one("Enter", Act.START, "hear and see it again", *ENTER, "space"),
        one("Del", Act.REMOVE, "forget it", "delete", "backspace"),
        one("U", Act.UNDO, "undo", when="undo"),
        BACK,
        BY_PAGES,
    ),
    "replay": (one("Space", Act.AGAIN, "again", "space", *ENTER), SHOW, BACK),
    "track": (
        walk("choose"),
        both(("←", "→"), Act.TRACK_STEP, "change", LEFT_RIGHT, when="steps"),
        both(
            ("PgUp", "PgDn"),
            Act.TRACK_STEP,
            f"by {BARS}",
            (("page up",), ("page down",)),
            BARS,
            when="strides",
        ),
        one("Enter", Act.START, "{take it, start or listen}", *ENTER, when="enter"),
        one("Del", Act.REMOVE, "no track", "delete", when="track"),
        BACK,
    ),
    "files": (
        walk("choose"),
        one("Enter", Act.START, "take it, or open the folder", *ENTER),
        one("←", Act.UNDO, "one folder up", "left"),
        BACK,
        BY_PAGES,
        TO_ENDS,
    ),
    "track, heard": (
        one("Enter", Act.USE, "use this", *ENTER, when="found"),
        one("Esc", Act.STOP, "stop", "escape"),
    ),
    "banjo": (
        one("Enter", Act.USE, "use this", *ENTER, when="found"),
        one("Space", Act.START, "again", when="found"),
        one("Enter", Act.START, "{begin or again}", *ENTER, "space", when="can start"),
        one("N", Act.SKIP_PROMPT, "leave this out", when="running"),
        one("Esc", Act.BACK, "stop", "escape", when="running"),
        one("Esc", Act.BACK, "back", "escape", when="not running"),
    ),
    "delay": (
        walk("way"),
        Help(
            (
                Cap("←", Action(act=Act.DELAY, value=-1), ("left",)),
                Cap("→", Action(act=Act.DELAY, value=1), ("right",)),
                Cap("", Action(act=Act.DELAY, value=-DELAY_STRIDE_MS), ("page down",)),
                Cap("", Action(act=Act.DELAY, value=DELAY_STRIDE_MS), ("page up",)),
            ),
            "delay",
            "by hand",
        ),
        one("Enter", Act.USE, "use this", *ENTER, when="found"),
        one("Space", Act.START, "again", when="found"),
        one("Enter", Act.START, "{start or again}", *ENTER, "space", when="can start"),
        one("M", Act.NEXT_MICROPHONE, "other microphone", when="microphones"),
        BACK,
    ),
    "delay, measuring": (one("Esc", Act.STOP, "stop", "escape"),),
    "help": (
        one("Esc", Act.BACK, "back", "escape", *ENTER, "space"),
        both(("↑", "↓"), Act.SCROLL, "further", (("up", "page up"), ("down", "page down")), when="scrolls"),
    ),
    "question": (
        walk("choose"),
        one("Enter", Act.START, "take it", *ENTER),
        one("←", Act.UNDO, "one back", "left", when="can go back"),
        one("Esc", Act.BACK, "{back, no questions or end}", "escape"),
    ),
    "question, teaching pads": (
        one("N", Act.SKIP_PROMPT, "no such pad"),
        one("←", Act.UNDO, "one back", "left", when="can go back"),
        one("Esc", Act.BACK, "{back, no questions or end}", "escape"),
    ),
}
KEYMAP: Mapping[str, tuple[Help, ...]] = {
    scene: (*own, *(each for each in EVERYWHERE if each is not NEW_INPUT or scene != "first bar"))
    for scene, own in OWN.items()
}
"""What each scene has of its own, and what there is everywhere."""
