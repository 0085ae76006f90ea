"""Show everything that can be chosen, one row each, and beside it what the chosen row means."""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.music.strokes import Hand
from trainer.screen.draw import Anchor, Disc, Hit, Item, Panel, Rect, Ring, Scene, Text
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.parts import (
    Cap,
    Frame,
    Help,
    full_screen_help,
    header_panel,
    help_panel,
    middle_baseline,
    note_panel,
    row_background,
    scrolled,
    status_items,
)
from trainer.screen.views import Act, Action, SettingsView

LIST_SHARE = 0.60  # of the window's width
LOUDEST = 10


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


def rows_of(view: SettingsView) -> tuple[SettingRow, ...]:
    """Return the rows in order; ``view.focus`` counts them."""
    return (*_input_rows(view), *_key_rows(view), *_sound_rows(view), *_other_rows(view))


def settings_scene(view: SettingsView) -> Scene:
    """Return the settings' scene."""
    lines = len(view.banner.lines) if view.banner is not None else 1
    frame = Frame.of(view.window, note_lines=lines)
    rows = rows_of(view)
    focus = min(max(view.focus, 0), len(rows) - 1)
    header = header_panel(frame, "Settings", ())
    table, row_hits = _table(frame, rows, focus)
    side = _side(frame, view, rows[focus])
    status = status_items(frame, view.midi_note or view.inputs[view.input_in_use].name, 0.0, view.sound)
    note, note_hits = note_panel(frame, view.banner, status)
    strip, hits, keys = help_panel(frame, _helps(view, rows, focus))
    return Scene((header, table, side, note, strip), (*row_hits, *hits, *note_hits), keys)


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
    return tuple(rows)


def _key_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    asked = "press a key"
    return (
        SettingRow(
            label="Key for the nail",
            value=asked if view.waiting_key is Hand.NAIL else view.nail_key,
            enter=Action(act=Act.NAIL_KEY),
            remark="Enter, then press the key that stands for the nail.",
        ),
        SettingRow(
            label="Key for the thumb",
            value=asked if view.waiting_key is Hand.THUMB else view.thumb_key,
            enter=Action(act=Act.THUMB_KEY),
            remark="Enter, then press the key that stands for the thumb.",
        ),
        SettingRow(
            label="Key for the left hand",
            value=asked if view.waiting_key is Hand.LEFT else view.left_key or "none",
            enter=Action(act=Act.LEFT_KEY),
            remark="Enter, then press a key for hammer-ons, pull-offs and slides, or backspace for none. "
            "Without one the program plays them and does not judge them.",
        ),
    )


def _stepped(label: str, value: str, act: Act, remark: str) -> SettingRow:
    """Return a row whose value has an order; enter goes up."""
    less, more = Action(act=act, value=-1), Action(act=act, value=1)
    return SettingRow(label=label, value=value, enter=more, less=less, more=more, remark=remark)


def _switched(label: str, value: str, act: Act, remark: str) -> SettingRow:
    """Return a row that every key changes to its other value."""
    action = Action(act=act)
    return SettingRow(label=label, value=value, enter=action, less=action, more=action, remark=remark)


def _sound_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    helps = "" if view.subdivide_helps else " (not at this tempo)"
    volume = _stepped(
        "Volume", str(view.click_volume), Act.CLICK_VOLUME,
        "Of click and taps. No program can know how loud it is at your ear: keep it low in headphones.",
    )  # fmt: skip
    return (
        _switched("Click", _on(view.click_on), Act.CLICK_ON, "The beat, louder on the first of a bar."),
        replace(volume, level=view.click_volume / LOUDEST),
        _switched(
            "Clicks between beats", _on(view.subdivide) + helps, Act.SUBDIVIDE,
            "They help while they are at least a quarter of a second apart, and hinder below that.",
        ),
        _switched(
            "Taps sound", _on(view.tap_sound), Act.TAP_SOUND,
            "Each tap plucks the string that its stroke asks for.",
        ),
    )  # fmt: skip


def _target_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    swing = "straight" if view.swing == 1 else f"{view.swing:g} to 1"
    lay_back = f"{view.lay_back_ms} ms" if view.lay_back_ms else "none"
    lies_back = "every stroke" if view.lay_back_of == "all" else view.lay_back_of
    return (
        _stepped(
            "Delay", f"{view.delay_ms} ms", Act.DELAY,
            "How late your sound and your input are together: taken off each tap. Play a figure you know "
            "well, and let the review take its mean for it.",
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


def _other_rows(view: SettingsView) -> tuple[SettingRow, ...]:
    return (
        _switched(
            "Ladder", _on(view.ladder), Act.LADDER,
            "Drills go on until stopped. After some clean passes in a row the tempo climbs by a "
            "twentieth, after as many that are not it goes down. Clean: nine strokes of ten as asked, no "
            "skip touched, no gap rushed.",
        ),
        *_target_rows(view),
        _stepped(
            "Pocket", view.pocket.value, Act.POCKET,
            f"How far off still counts as in time: at least {view.pocket.floor_s * 1000:.0f} ms "
            "either way, and more when the strokes are far apart.",
        ),
        _switched(
            "Theme", view.window.theme.value, Act.THEME,
            "Room is dark; projector is light, for a wall in a lit room.",
        ),
        _switched(
            "Full screen", _on(view.window.full_screen), Act.FULL_SCREEN,
            "F11 does the same on every screen.",
        ),
    )  # fmt: skip


def _on(value: bool) -> str:
    return "on" if value else "off"


def _helps(view: SettingsView, rows: tuple[SettingRow, ...], focus: int) -> tuple[Help, ...]:
    row = rows[focus]

    def to(place: int) -> Action:
        return Action(act=Act.SELECT, value=min(max(place, 0), len(rows) - 1))

    helps = [Help((Cap("↑", to(focus - 1), ("up",)), Cap("↓", to(focus + 1), ("down",))), "row")]
    if row.less is not None and row.more is not None:
        helps.append(Help((Cap("←", row.less, ("left",)), Cap("→", row.more, ("right",))), "change"))
    helps.append(Help((Cap("Enter", row.enter, ("return", "enter", "space")),), "choose"))
    if view.teach_prompt:
        helps.append(Help((Cap("N", Action(act=Act.SKIP_PROMPT), ("n",)),), "no such pad"))
    helps.append(Help((Cap("Esc", Action(act=Act.BACK), ("escape",)),), "back"))
    helps.append(full_screen_help())
    return tuple(helps)


def _row_high(frame: Frame, rows: int) -> int:
    """Return the height of a row: all rows are shown as long as they are not crowded."""
    body = frame.sizes.body
    return max(round(1.5 * body), min(round(1.85 * body), (frame.note_top - frame.body_top) // rows))


def _table(frame: Frame, rows: tuple[SettingRow, ...], focus: int) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    width = round(LIST_SHARE * frame.window.width)
    top, high = frame.body_top, frame.note_top - frame.body_top
    row_high = _row_high(frame, len(rows))
    shown = max(1, high // row_high)
    first = scrolled(len(rows), shown, focus)
    x = frame.left - sizes.px(20)
    value_x = frame.left + text_width("Clicks between beats", sizes.body) + sizes.gap * 2
    items: list[Item] = []
    hits: list[Hit] = []
    for at, row in enumerate(rows[first : first + shown]):
        place, y = first + at, top + at * row_high
        if place == focus:
            items.extend(row_background(frame, x, y, width - x, row_high))
        items.extend(_row(frame, row, y, row_high, value_x, width - sizes.gap, focus=place == focus))
        # The first click chooses the row and a second one does what it is for.
        action = row.enter if place == focus else Action(act=Act.SELECT, value=place)
        hits.append(Hit(x, y, width - x, row_high, action))
        if row.less is not None and row.more is not None and place == focus:
            wide = round(1.6 * sizes.body)
            hits.append(Hit(value_x - wide, y, wide, row_high, row.less))
            hits.append(Hit(width - sizes.gap - wide, y, wide, row_high, row.more))
    return Panel(0, top, width, high, theme.wall, tuple(items)), tuple(hits)


def _row(
    frame: Frame, row: SettingRow, y: int, high: int, value_x: int, right: int, *, focus: bool
) -> list[Item]:
    theme, sizes = frame.theme, frame.sizes
    body = sizes.body
    baseline = middle_baseline(y, high, body)
    items: list[Item] = [Text(frame.left, baseline, row.label, body, theme.quiet)]
    x = value_x
    if row.chosen is not None:
        r, middle = 0.30 * body, y + high / 2
        items.append(Ring(x + r, middle, r, 0.22 * r + 1, theme.ink))
        if row.chosen:
            items.append(Disc(x + r, middle, 0.55 * r, theme.focus))
        x += round(1.1 * body)
    if row.level is not None:
        long, thick = sizes.px(260), sizes.px(10)
        middle = y + (high - thick) // 2
        items.append(Rect(x, middle, long, thick, theme.pocket_edge, thick // 2))
        if row.level > 0:
            filled = max(thick, round(long * row.level))
            items.append(Rect(x, middle, filled, thick, theme.ink, thick // 2))
        x += long + sizes.gap
    arrows = row.less is not None and focus
    room = right - x - (round(1.6 * body) if arrows else 0)
    items.append(Text(x, baseline, shortened(row.value, body, room, bold=focus), body, theme.ink, bold=focus))
    if arrows:
        items.append(Text(value_x - round(0.55 * body), baseline, "←", body, theme.quiet, Anchor.RIGHT))
        items.append(Text(right - round(0.3 * body), baseline, "→", body, theme.quiet, Anchor.RIGHT))
    return items


def _side(frame: Frame, view: SettingsView, row: SettingRow) -> Panel:
    """Return what is asked for just now, large; else what the chosen row means."""
    theme, sizes = frame.theme, frame.sizes
    x = round(LIST_SHARE * frame.window.width)
    top, high = frame.body_top, frame.note_top - frame.body_top
    left, width = x + 2 * sizes.gap, frame.right - x - 2 * sizes.gap
    prompt = view.teach_prompt
    if view.waiting_key is not None:
        whose = "left hand" if view.waiting_key is Hand.LEFT else view.waiting_key.value
        prompt = f"press the key for your {whose}"
    size = sizes.title if prompt else sizes.body
    lines = wrapped(
        prompt[:1].upper() + prompt[1:] if prompt else row.remark, size, width, 8, bold=bool(prompt)
    )
    items: list[Item] = []
    # On the baseline of the first row.
    y = middle_baseline(top, _row_high(frame, len(rows_of(view))), size)
    for line in lines:
        items.append(Text(left, y, line, size, theme.ink, bold=bool(prompt)))
        y += round(1.4 * size)
    return Panel(x, top, frame.window.width - x, high, theme.wall, tuple(items))
