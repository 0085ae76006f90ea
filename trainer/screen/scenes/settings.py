"""Show everything that can be chosen, a group at a time, and beside it what the chosen row means."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.strokes import Hand
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Disc, Hit, Item, Panel, Rect, Ring, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of, walked
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.parts import Frame, middle_baseline, page, row_background, scrolled, status_items
from trainer.screen.scenes.setting_rows import OWN_KEYS, RowFacts, RowGroup, SettingRow, groups_of, rows_of
from trainer.screen.window import Banner

LIST_SHARE = 0.60  # of the window's width
LONGEST_LABEL = "Start, and again"


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingsView(RowFacts):
    """Everything that can be chosen.

    Attributes:
        focus: place of the marked row among :func:`trainer.screen.scenes.setting_rows.rows_of`.
        midi_note: why there are no ports, or an empty text.
        teach_prompt: what pad to touch now ("touch the pad for your nail"), or an empty text.
        undo: what would be taken back, in words; empty for nothing.
        can_unteach: whether a pad was taught that can be taken back.
        sound: what can be heard, in a word or two.
    """

    focus: int = 0
    midi_note: str = ""
    teach_prompt: str = ""
    undo: str = ""
    can_unteach: bool = False
    sound: str = ""
    banner: Banner | None = None

    def scene(self) -> Scene:
        """Return the scene that shows this."""
        return settings_scene(self)


def settings_scene(view: SettingsView) -> Scene:
    """Return the settings' scene."""
    rows = rows_of(view)
    focus = min(max(view.focus, 0), len(rows) - 1)
    groups = groups_of(view)
    group = next(g for g in groups if g.holds(focus))
    helps = _helps(view, rows, focus, groups, group)
    frame = Frame.of(view.window, helps=helps)
    header, tabs = _header(frame, groups, group)
    table, row_hits = _table(frame, group, focus)
    side = _side(frame, view, rows[focus], _row_high(frame, len(group.rows)))
    status = status_items(frame, view.midi_note or view.inputs[view.input_in_use].name, 0.0, view.sound)
    return page(frame, (header, table, side), (*tabs, *row_hits), helps, status=status)


def _header(frame: Frame, groups: tuple[RowGroup, ...], shown: RowGroup) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the title, and right of it the groups' names: the shown one in bold over a bar."""
    theme, sizes = frame.theme, frame.sizes
    size, high = sizes.body, frame.body_top
    baseline = middle_baseline(0, high, sizes.large)
    items: list[Item] = [Text(frame.left, baseline, "Settings", sizes.title, theme.ink, bold=True)]
    hits: list[Hit] = []
    widths = [text_width(group.name, size, bold=True) for group in groups]
    least = frame.left + text_width("Settings", sizes.title, bold=True) + sizes.gap
    spare = (frame.right - least - sum(widths)) // max(len(groups) - 1, 1)
    gap = min(2 * sizes.gap, spare)
    x = frame.right - sum(widths) - gap * (len(groups) - 1)
    for group, wide in zip(groups, widths, strict=True):
        here = group is shown
        items.append(Text(x, baseline, group.name, size, theme.ink if here else theme.muted, bold=here))
        if here:
            bar = sizes.px(6)
            items.append(Rect(x, baseline + round(0.45 * size), wide, bar, theme.focus, bar // 2))
        hits.append(Hit(x - gap // 2, 0, wide + gap, high, Action(act=Act.SELECT, value=group.first)))
        x += wide + gap
    return Panel(0, 0, frame.window.width, high, theme.wall, tuple(items)), tuple(hits)


def _helps(
    view: SettingsView,
    rows: tuple[SettingRow, ...],
    focus: int,
    groups: tuple[RowGroup, ...],
    group: RowGroup,
) -> tuple[Help, ...]:
    row, at = rows[focus], groups.index(group)
    actions = {
        **walked(focus, len(rows) - 1),
        "next group": Action(act=Act.SELECT, value=groups[(at + 1) % len(groups)].first),
        "group before": Action(act=Act.SELECT, value=groups[at - 1].first),
        "enter": row.enter,
    }
    if row.less is not None and row.more is not None:
        actions |= {"less": row.less, "more": row.more}
    states = {
        "steps": row.less is not None and row.more is not None,
        "teaching": bool(view.teach_prompt),
        "taught": view.can_unteach,
        "undo": bool(view.undo) and not view.teach_prompt and not view.can_unteach,
    }
    return helps_of("settings", states=states, actions=actions, words={"what was changed": view.undo})


def _row_high(frame: Frame, rows: int) -> int:
    """Return the height of a row: all rows are shown as long as they are not crowded."""
    body = frame.sizes.body
    return max(round(1.5 * body), min(round(2.5 * body), (frame.note_top - frame.body_top) // rows))


def _table(frame: Frame, group: RowGroup, focus: int) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    width = round(LIST_SHARE * frame.window.width)
    top, high = frame.body_top, frame.note_top - frame.body_top
    row_high = _row_high(frame, len(group.rows))
    shown = max(1, high // row_high)
    first = scrolled(len(group.rows), shown, focus - group.first)
    x = frame.left - sizes.px(20)
    value_x = frame.left + text_width(LONGEST_LABEL, sizes.body) + sizes.gap * 2
    items: list[Item] = []
    hits: list[Hit] = []
    for at, row in enumerate(group.rows[first : first + shown]):
        index, y = group.first + first + at, top + at * row_high
        if index == focus:
            items.extend(row_background(frame, x, y, width - x, row_high))
        items.extend(_row(frame, row, y, row_high, value_x, width - sizes.gap, focus=index == focus))
        # The first click chooses the row and a second one does what it is for.
        action = row.enter if index == focus else Action(act=Act.SELECT, value=index)
        hits.append(Hit(x, y, width - x, row_high, action))
        if row.less is not None and row.more is not None and index == focus:
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
    items: list[Item] = [Text(frame.left, baseline, row.label, body, theme.muted)]
    x = value_x
    if row.chosen is not None:
        r, middle = 0.30 * body, y + high / 2
        items.append(Ring(x + r, middle, r, 0.22 * r + 1, theme.ink))
        if row.chosen:
            items.append(Disc(x + r, middle, r, theme.ink))
        x += round(1.1 * body)
    if row.share is not None:
        long, thick = sizes.px(260), sizes.px(10)
        middle = y + (high - thick) // 2
        items.append(Rect(x, middle, long, thick, theme.pocket_edge, thick // 2))
        if row.share > 0:
            filled = max(thick, round(long * row.share))
            items.append(Rect(x, middle, filled, thick, theme.ink, thick // 2))
        x += long + sizes.gap
    arrows = row.less is not None and focus
    room = right - x - (round(1.6 * body) if arrows else 0)
    items.append(Text(x, baseline, shortened(row.value, body, room, bold=focus), body, theme.ink, bold=focus))
    if arrows:
        items.append(Text(value_x - round(0.55 * body), baseline, "←", body, theme.muted, Anchor.RIGHT))
        items.append(Text(right - round(0.3 * body), baseline, "→", body, theme.muted, Anchor.RIGHT))
    return items


def _prompt(view: SettingsView) -> str:
    """Return what is asked for just now, or an empty text."""
    if isinstance(view.waiting_key, Hand):
        whose = "left hand" if view.waiting_key is Hand.LEFT else view.waiting_key.value
        return f"Press the key for your {whose}"
    if view.waiting_key is not None:
        words = OWN_KEYS[view.waiting_key][0]
        return f"Press a key: {words[:1].lower()}{words[1:]}"
    return view.teach_prompt[:1].upper() + view.teach_prompt[1:]


def _side(frame: Frame, view: SettingsView, row: SettingRow, row_high: int) -> Panel:
    """Return what is asked for just now, large; else what the chosen row means."""
    theme, sizes = frame.theme, frame.sizes
    x = round(LIST_SHARE * frame.window.width)
    top, high = frame.body_top, frame.note_top - frame.body_top
    left, width = x + 2 * sizes.gap, frame.right - x - 2 * sizes.gap
    prompt = _prompt(view)
    size = sizes.title if prompt else sizes.body
    line_high = round(1.4 * size)
    lines = wrapped(prompt or row.remark, size, width, max(1, high // line_high), bold=bool(prompt))
    items: list[Item] = []
    # On the baseline of the first row.
    y = middle_baseline(top, row_high, size)
    for line in lines:
        items.append(Text(left, y, line, size, theme.ink, bold=bool(prompt)))
        y += line_high
    return Panel(x, top, frame.window.width - x, high, theme.wall, tuple(items))
