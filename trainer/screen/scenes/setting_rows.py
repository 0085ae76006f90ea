"""Make the rows of the settings from their table, in groups that are shown one at a time.

A row comes from the table's entry alone. A few settings need more than their value, such as a list of the
inputs that are plugged in: those have a function here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from trainer.music.strokes import Hand
from trainer.practice.setting_kinds import Switch, Whole
from trainer.practice.settings import MICROPHONE, SCREEN_GESTURES, TABLE, Group, Row, Settings
from trainer.screen.actions import Act, Action
from trainer.screen.window import Window

# What each key of one's own does, and its usual key.
OWN_KEYS = {
    "start": ("Start, and again", "the enter key"),
    "slower": ("Slower", "the left arrow"),
    "faster": ("Faster", "the right arrow"),
    "next": ("Next figure", "the down arrow"),
}
ASKED = "press a key"
BANJO_REMARK = (
    "Half a minute in which the microphone learns room, strings and touches, and says what it can tell here. "
    "It is open only there and in drills; no sound is kept."
)


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
class RowFacts:
    """What the rows are made of.

    Attributes:
        settings: as they are.
        inputs: computer keys first, then the ports.
        input_in_use: place in ``inputs``.
        waiting_key: whose key is asked for just now (a hand's, or that of a gesture), or None.
        pads: what the taught pads know, in words ("nail and thumb", "one pad: timing only").
        subdivide_helps: whether the tempo is slow enough for clicks between the beats to help.
        records_path: where takes are kept; empty when they are not.
        delay_ms: how late sound and input are together; taken off each tap.
    """

    window: Window
    settings: Settings = Settings()
    inputs: tuple[InputItem, ...] = (InputItem(name="Computer keys"),)
    input_in_use: int = 0
    waiting_key: Hand | str | None = None
    pads: str = ""
    subdivide_helps: bool = True
    records_path: str = ""
    delay_ms: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingRow:
    """One row.

    Attributes:
        label, value: what it is and how it stands.
        less, more: what the left and right keys and the row's arrows do; None where there is no order.
        enter: what the enter key and a click do.
        remark: what it means, in a sentence or two.
        chosen: for an input, whether it is the one in use; None for other rows.
        share: of the most it can be, for a volume; 0 to 1.
        setting: its name in the table; empty for a row that changes none by itself.
    """

    label: str
    value: str
    enter: Action
    less: Action | None = None
    more: Action | None = None
    remark: str = ""
    chosen: bool | None = None
    share: float | None = None
    setting: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowGroup:
    """Rows that belong together.

    Attributes:
        first: place of the first row among all rows.
    """

    name: str
    rows: tuple[SettingRow, ...]
    first: int

    def holds(self, index: int) -> bool:
        """Return whether a place among all rows is one of the group's."""
        return self.first <= index < self.first + len(self.rows)


def groups_of(facts: RowFacts) -> tuple[RowGroup, ...]:
    """Return the groups in order, none of them empty."""
    rows: dict[Group, list[SettingRow]] = {group: [] for group in Group}
    for name, spec in TABLE.items():
        if spec.row is not None:
            rows[spec.row.group] += _rows(facts, name, spec.row)
    groups: list[RowGroup] = []
    first = 0
    for group, found in rows.items():
        groups.append(RowGroup(name=group.value, rows=tuple(found), first=first))
        first += len(found)
    return tuple(groups)


def rows_of(facts: RowFacts) -> tuple[SettingRow, ...]:
    """Return all rows in order; the focus of the view counts them."""
    return tuple(row for group in groups_of(facts) for row in group.rows)


def row_index(facts: RowFacts, setting: str) -> int | None:
    """Return the place of the first row that a setting has; None when it has none just now."""
    return next((index for index, row in enumerate(rows_of(facts)) if row.setting == setting), None)


def _rows(facts: RowFacts, name: str, row: Row) -> tuple[SettingRow, ...]:
    if row.shown is not None and not row.shown(facts.settings):
        return ()
    plain = _plain(facts.settings, name, row)
    return BY_HAND[name](facts, plain) if name in BY_HAND else (plain,)


def _plain(settings: Settings, name: str, row: Row) -> SettingRow:
    """Return the row as the table has it: the arrows step the setting, and enter goes up."""
    value, kind = getattr(settings, name), TABLE[name].kind
    if row.words is not None:
        words = row.words(settings)
    elif isinstance(kind, Switch):
        words = _on(value)
    else:
        words = str(value)
    less = Action(act=Act.CHANGE, setting=name, value=-1)
    more = replace(less, value=1)
    if isinstance(kind, Switch):
        less = more
    return SettingRow(
        label=row.label,
        value=words,
        enter=more,
        less=less,
        more=more,
        remark=row.remark if isinstance(row.remark, str) else row.remark(settings),
        share=value / kind.most if row.is_volume and isinstance(kind, Whole) else None,
        setting=name,
    )


def _on(value: bool) -> str:
    return "on" if value else "off"


def _asked(row: SettingRow, action: Action) -> SettingRow:
    """Return a row without an order: enter asks for what it shall be."""
    return replace(row, enter=action, less=None, more=None)


def _by_act(row: SettingRow, act: Act) -> SettingRow:
    """Return a row whose steps need more than the settings, and so have an act of their own."""
    less, more = Action(act=act, value=-1), Action(act=act, value=1)
    return replace(row, enter=more, less=less, more=more)


def _inputs(facts: RowFacts, row: SettingRow) -> tuple[SettingRow, ...]:
    return tuple(
        replace(
            _asked(row, Action(act=Act.INPUT, value=at)),
            label=row.label if at == 0 else "",
            value=item.name if item.present else f"{item.name} (not plugged in)",
            chosen=at == facts.input_in_use,
        )
        for at, item in enumerate(facts.inputs)
    )


def _pads(facts: RowFacts, row: SettingRow) -> tuple[SettingRow, ...]:
    if facts.input_in_use == 0:
        return ()
    if facts.settings.input_name.startswith(MICROPHONE):
        banjo = replace(row, label="Your banjo", remark=BANJO_REMARK)
        return (replace(_asked(banjo, Action(act=Act.OPEN_BANJO)), value=facts.pads or "not set up yet"),)
    return (replace(_asked(row, Action(act=Act.TEACH)), value=facts.pads or "not taught yet"),)


def _delay(facts: RowFacts, row: SettingRow) -> tuple[SettingRow, ...]:
    measure = SettingRow(
        label="Measure delay",
        value="open",
        enter=Action(act=Act.OPEN_CALIBRATION),
        remark="Finds how late your sound and your input are together: tap along, or use a microphone.",
    )
    return (measure, replace(_by_act(row, Act.DELAY), value=f"{facts.delay_ms} ms"))


def _key_of(hand: Hand, act: Act) -> Callable[[RowFacts, SettingRow], tuple[SettingRow, ...]]:
    def rows(facts: RowFacts, row: SettingRow) -> tuple[SettingRow, ...]:
        value = ASKED if facts.waiting_key is hand else row.value or "none"
        return (replace(_asked(row, Action(act=act)), value=value),)

    return rows


def _own_keys(facts: RowFacts, row: SettingRow) -> tuple[SettingRow, ...]:
    return tuple(
        replace(
            _asked(row, Action(act=Act.OWN_KEY, value=at)),
            label=OWN_KEYS[gesture][0],
            value=ASKED if facts.waiting_key == gesture else facts.settings.own_keys.get(gesture) or "none",
            remark=f"{OWN_KEYS[gesture][1].capitalize()} {row.remark}",
        )
        for at, gesture in enumerate(SCREEN_GESTURES)
    )


def _subdivide(facts: RowFacts, row: SettingRow) -> tuple[SettingRow, ...]:
    return (row if facts.subdivide_helps else replace(row, value=f"{row.value} (not at this tempo)"),)


def _midi_out(facts: RowFacts, row: SettingRow) -> tuple[SettingRow, ...]:
    del facts
    return (_by_act(row, Act.MIDI_OUT),)


def _player(facts: RowFacts, row: SettingRow) -> tuple[SettingRow, ...]:
    where = f"They are in {facts.records_path}." if facts.records_path else "No take is kept just now."
    return (replace(_asked(row, Action(act=Act.OPEN_NAMING)), remark=f"{row.remark} {where}"),)


def _full_screen(facts: RowFacts, row: SettingRow) -> tuple[SettingRow, ...]:
    action = Action(act=Act.FULL_SCREEN)
    return (replace(row, value=_on(facts.window.full_screen), enter=action, less=action, more=action),)


BY_HAND: Mapping[str, Callable[[RowFacts, SettingRow], tuple[SettingRow, ...]]] = {
    "input_name": _inputs,
    "pads": _pads,
    "known_delays": _delay,
    "nail_key": _key_of(Hand.NAIL, Act.NAIL_KEY),
    "thumb_key": _key_of(Hand.THUMB, Act.THUMB_KEY),
    "left_key": _key_of(Hand.LEFT, Act.LEFT_KEY),
    "side_key": _key_of(Hand.NONE, Act.SIDE_KEY),
    "own_keys": _own_keys,
    "subdivide": _subdivide,
    "midi_out": _midi_out,
    "player": _player,
    "full_screen": _full_screen,
}
