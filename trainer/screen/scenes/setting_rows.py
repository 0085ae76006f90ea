"""Say what can be chosen: one row each, in groups that are shown one at a time."""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.music.strokes import Hand
from trainer.screen.views import Act, Action, SettingsView

LOUDEST = 10
THINNED_BY_BARS = "off for N bars in M"
# In the order of the settings' screen wishes: what each key of one's own does, and its usual key.
OWN_KEYS = (
    ("start", "Start, and again", "the enter key"),
    ("slower", "Slower", "the left arrow"),
    ("faster", "Faster", "the right arrow"),
    ("next", "Next figure", "the down arrow"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingRow:
    """One row.

    Attributes:
        label, value: what it is and how it stands.
        less, more: what the left and right keys and the row's arrows do; None where there is no order.
        enter: what the enter key and a click do.
        remark: what it means, in a sentence or two.
        chosen: for an input, whether it is the one in use; None for other rows.
        level: for a volume, 0 to 1.
    """

    label: str
    value: str
    enter: Action
    less: Action | None = None
    more: Action | None = None
    remark: str = ""
    chosen: bool | None = None
    level: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Rows that belong together.

    Attributes:
        first: place of the first row among all rows.
    """

    name: str
    rows: tuple[SettingRow, ...]
    first: int

    def holds(self, place: int) -> bool:
        """Return whether a place among all rows is one of the group's."""
        return self.first <= place < self.first + len(self.rows)


def groups_of(view: SettingsView) -> tuple[Group, ...]:
    """Return the groups in order, none of them empty."""
    parts = (
        ("Input", _input_rows(view)),
        ("Keys", _key_rows(view)),
        ("Click", _click_rows(view)),
        ("Sound", _sound_rows(view)),
        ("Target", _target_rows(view)),
        ("Practice", _practice_rows(view)),
        ("Screen", _screen_rows(view)),
    )
    groups: list[Group] = []
    first = 0
    for name, rows in parts:
        groups.append(Group(name=name, rows=rows, first=first))
        first += len(rows)
    return tuple(groups)


def rows_of(view: SettingsView) -> tuple[SettingRow, ...]:
    """Return all rows in order; ``view.focus`` counts them."""
    return tuple(row for group in groups_of(view) for row in group.rows)


def place_of(view: SettingsView, act: Act) -> int | None:
    """Return the place of the row that an act belongs to; None when it is not shown just now."""
    for place, row in enumerate(rows_of(view)):
        if row.enter.act is act:
            return place
    return None


def _stepped(label: str, value: str, act: Act, remark: str) -> SettingRow:
    """Return a row whose value has an order; enter goes up."""
    less, more = Action(act=act, value=-1), Action(act=act, value=1)
    return SettingRow(label=label, value=value, enter=more, less=less, more=more, remark=remark)


def _switched(label: str, value: str, act: Act, remark: str) -> SettingRow:
    """Return a row that every key changes to its other value."""
    action = Action(act=act)
    return SettingRow(label=label, value=value, enter=action, less=action, more=action, remark=remark)


def _on(value: bool) -> str:
    return "on" if value else "off"


def _input_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    rows = [
        SettingRow(
            label="Tap on" if at == 0 else "",
            value=item.name if item.present else f"{item.name} (not plugged in)",
            enter=Action(act=Act.INPUT, value=at),
            chosen=at == view.input_in_use,
            remark="Enter taps on this from now on. MIDI pads are exact to a millisecond or two; "
            "computer keys to several.",
        )
        for at, item in enumerate(view.inputs)
    ]
    if view.input_in_use > 0:
        rows.append(
            SettingRow(
                label="Pads",
                value=view.pads or "not taught yet",
                enter=Action(act=Act.TEACH),
                remark="Enter, then touch the pads you are asked for. With one pad, timing is judged and "
                "the hand is not.",
            )
        )
    rows.append(
        _switched(
            "Pads steer", _on(view.pads_steer), Act.PADS_STEER,
            "Between drills, after a quiet second: nail twice starts, thumb twice takes the next figure, "
            "nail and thumb goes faster, thumb and nail slower. On one pad: twice, three, four, five times.",
        )
    )  # fmt: skip
    return (
        *rows,
        SettingRow(
            label="Measure delay",
            value="open",
            enter=Action(act=Act.OPEN_CALIBRATION),
            remark="Finds how late your sound and your input are together: tap along, or use a microphone.",
        ),
        _stepped(
            "Delay", f"{view.delay_ms} ms", Act.DELAY,
            "How late your sound and your input are together: taken off each tap. Measure it, or let the "
            "review of a figure you know well take its mean for it.",
        ),
    )  # fmt: skip


def _key_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    asked = "press a key"
    hands = tuple(
        SettingRow(
            label=label,
            value=asked if view.waiting_key is hand else key or "none",
            enter=Action(act=act),
            remark=remark,
        )
        for label, hand, key, act, remark in (
            ("Nail", Hand.NAIL, view.nail_key, Act.NAIL_KEY,
             "Enter, then press the key that stands for the nail."),
            ("Thumb", Hand.THUMB, view.thumb_key, Act.THUMB_KEY,
             "Enter, then press the key that stands for the thumb."),
            ("Left hand", Hand.LEFT, view.left_key, Act.LEFT_KEY,
             "Enter, then press a key for hammer-ons, pull-offs and slides, or backspace for none. "
             "Without one the program plays them and does not judge them."),
        )
    )  # fmt: skip
    wishes = tuple(
        SettingRow(
            label=label,
            value=asked if view.waiting_key == wish else view.own_keys[at] or "none",
            enter=Action(act=Act.OWN_KEY, value=at),
            remark=f"{usual[:1].upper()}{usual[1:]} always works. Enter, then press a key of your own for it "
            "besides, or backspace for none.",
        )
        for at, (wish, label, usual) in enumerate(OWN_KEYS)
    )
    return (*hands, *wishes)


def _click_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    helps = "" if view.subdivide_helps else " (not at this tempo)"
    volume = _stepped(
        "Volume", str(view.click_volume), Act.CLICK_VOLUME,
        "Of click and taps. No program can know how loud it is at your ear: keep it low in headphones.",
    )  # fmt: skip
    bars = (
        _stepped("Silent bars", str(view.thin_off), Act.THIN_OFF, "So many bars are without the click."),
        _stepped("Out of", f"{view.thin_of} bars", Act.THIN_OF, "After so many bars it all begins anew."),
    )
    by_bars = view.thinning == THINNED_BY_BARS
    thinning = f"all but {view.thin_off} of {view.thin_of} bars" if by_bars else view.thinning
    return (
        _switched("Click", _on(view.click_on), Act.CLICK_ON, "The beat, louder on the first of a bar."),
        replace(volume, level=view.click_volume / LOUDEST),
        _stepped(
            "Heard on", thinning, Act.THINNING,
            "Fewer clicks leave more of the time to you; the review shows how you drift in the silence.",
        ),
        *(bars if by_bars else ()),
        _switched(
            "Between beats", _on(view.subdivide) + helps, Act.SUBDIVIDE,
            "More clicks help while they are at least a quarter of a second apart, and hinder below that.",
        ),
    )  # fmt: skip


def _sound_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    volume = _stepped("Band volume", str(view.band_volume), Act.BAND_VOLUME, "Of the band alone.")
    return (
        _switched(
            "Taps sound", _on(view.tap_sound), Act.TAP_SOUND,
            "Each tap plucks the string that its stroke asks for.",
        ),
        _switched(
            "Band", _on(view.band), Act.BAND,
            "Bass, chop and a light drum play along where there are chords.",
        ),
        replace(volume, level=view.band_volume / LOUDEST),
        _stepped(
            "MIDI out", view.midi_out or "none", Act.MIDI_OUT,
            "Sends the click, the clock and your taps to another device.",
        ),
    )  # fmt: skip


def _target_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    swing = "straight" if view.swing == 1 else f"{view.swing:g} to 1"
    lay_back = f"{view.lay_back_ms} ms" if view.lay_back_ms else "none"
    lies_back = "every stroke" if view.lay_back_of == "all" else view.lay_back_of
    return (
        _stepped(
            "Pocket", view.pocket.value, Act.POCKET,
            f"How far off still counts as in time: at least {view.pocket.floor_s * 1000:.0f} ms "
            "either way, and more when the strokes are far apart.",
        ),
        _stepped(
            "Swing", swing, Act.SWING,
            "Moves the up slots of the target: long to short. The review measures what you play.",
        ),
        _stepped(
            "Lay back", lay_back, Act.LAY_BACK,
            "Moves the target behind the click, for a strolling feel.",
        ),
        _stepped(
            "What lies back", lies_back, Act.LAY_BACK_OF,
            "Every stroke, or one kind: brushes that lie back behind strikes on the beat, say.",
        ),
    )  # fmt: skip


LADDER_REMARKS = {
    "off": "The tempo stays as you set it.",
    "plain": "The tempo climbs by a twentieth after some clean passes in a row and goes down after as many "
    "that are not. Clean: nine strokes of ten as asked, no skip touched, no gap rushed, a spread of at most "
    "8 % of a slot (20 ms at least), no drift.",
    "homing in": "The tempo goes up and down in shorter and shorter steps, to the fastest that is clean.",
    "alternating": "Slow and goal tempo in turns; the slow one climbs.",
}


def _practice_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    return (
        _stepped("Ladder", view.ladder, Act.LADDER, LADDER_REMARKS.get(view.ladder, "")),
        SettingRow(
            label="Player",
            value=view.player or "nobody named",
            enter=Action(act=Act.OPEN_NAMING),
            remark="Takes are kept under this name. None is needed where only one plays. "
            + (f"They are in {view.records_place}." if view.records_place else "No take is kept just now."),
        ),
    )


def _screen_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    return (
        _switched(
            "Theme", view.window.theme.value, Act.THEME,
            "Room is dark; projector is light, for a wall in a lit room.",
        ),
        _stepped(
            "Text", view.text_size, Act.TEXT_SIZE,
            "Usual, a quarter larger, or half as large again, on every screen.",
        ),
        _switched(
            "Full screen", _on(view.window.full_screen), Act.FULL_SCREEN,
            "F11 does the same on every screen.",
        ),
    )  # fmt: skip
