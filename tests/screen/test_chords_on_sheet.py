"""The drill over a chart: the chord now, the next one a bar ahead, frets, bar numbers, layers and rows."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.screen.pages import BREAK, LONG
from tests.screen.views import drill_view, in_six, played
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.notation import read_pattern
from trainer.music.pattern import Pattern
from trainer.screen.draw import Disc, Panel, Polyline, Rect, Ring, Text
from trainer.screen.scenes.drill import DrillView, drill_scene
from trainer.screen.scenes.layers import SheetLayer
from trainer.screen.scenes.marks import mark
from trainer.screen.scenes.other_rows import PlayerRow
from trainer.screen.theme import ROOM, Sizes, ThemeName
from trainer.screen.window import Window

WINDOW = Window(width=1920, height=1080)
BPM = 60  # a beat a second
IN_SIX = replace(
    in_six(),
    bars=in_six().bars * 8,
    chart=Chart(
        key="D",
        spans=tuple(ChordSpan(chord=Chord(degree=d, minor=d == 6), beats=4) for d in (1, 6, 4, 5)),
    ),
)
THREE = read_pattern(
    'title = "Three"\nlevel = "plain"\nstep = 1\nmeter = "3/4"\nslots_per_beat = 2\nslow_bpm = 50\n'
    'goal_bpm = 120\nbars = """\n' + "strike 3 fret 2, rest, brush, thumb, brush, thumb\n" * 8 + '"""\n',
    name="three",
)
THREE = replace(
    THREE,
    chart=Chart(
        key="C", spans=tuple(ChordSpan(chord=Chord(degree=d, shift=-(d == 7)), beats=6) for d in (1, 7, 4, 5))
    ),
)


def sheet_at(song_s: float, pattern: Pattern = BREAK, **more: object) -> Panel:
    return drill_scene(drill_view(WINDOW, pattern, song_s, BPM, **more)).panels[2]


def row_texts(panel: Panel) -> list[Text]:
    """The texts of the chords' row: all above the highest bar number."""
    strip = panel.strips[0]
    above = strip.picture.shape.above  # type: ignore[attr-defined]
    return [i for i in panel.items if isinstance(i, Text) and i.y < panel.y + above]


def words_of(panel: Panel) -> list[str]:
    return [text.text.strip() for text in row_texts(panel)]


class TestChords:
    """BREAK has two beats to the bar, its chords begin on beats 0 6 10 14 18 20 24 28 of 32."""

    def test_the_chord_now_is_the_largest_and_quiet(self) -> None:
        for song_s, chord in ((1.0, "1"), (6.5, "4"), (18.2, "6-"), (31.9, "1")):
            largest = max(row_texts(sheet_at(song_s)), key=lambda text: text.size)
            assert (largest.text, largest.colour) == (chord, ROOM.muted)
            assert largest.size > Sizes.of(1920, 1080).large

    def test_the_next_chord_is_said_a_bar_before_it_with_the_beats_that_are_left(self) -> None:
        assert "next" not in words_of(sheet_at(3.9))
        for song_s, left in ((4.1, "in 2"), (5.1, "in 1"), (5.9, "in 1")):
            words = words_of(sheet_at(song_s))
            assert words[-4:] == ["1", "next", "4", left], song_s
        assert "next" not in words_of(sheet_at(6.1))

    def test_chords_to_come_move_with_their_beats(self) -> None:
        for song_s in (3.0, 3.4):
            panel = sheet_at(song_s)
            strip = panel.strips[0]
            coming = [t for t in row_texts(panel) if t.colour == ROOM.ink]
            beats = [(t.x - strip.x) / strip.w for t in coming]
            first_beat = next(b for b in range(-2, 40) if self.is_beat(panel, strip.x, b, song_s))
            assert coming[0].text == "4"
            assert beats[0] + first_beat == pytest.approx(6, abs=0.1)

    @staticmethod
    def is_beat(panel: Panel, x: int, beat: int, song_s: float) -> bool:
        now_x = panel.dim_before
        assert now_x is not None
        return abs(now_x + (beat - song_s) * panel.strips[0].w - x) <= 1.5

    def test_in_the_count_in_the_first_chord_is_the_next_one(self) -> None:
        words = words_of(sheet_at(-1.5))
        assert words[-3:] == ["next", "1", "in 2"]

    def test_after_the_last_beat_nothing_comes_next(self) -> None:
        last = sheet_at(4 * 32 - 0.5)
        assert "next" not in words_of(last)
        goes_on = sheet_at(32 - 0.5)
        assert "next" not in words_of(goes_on), "from the last chord, 1, to the first, 1, nothing changes"

    def test_six_eight_counts_its_two_beats(self) -> None:
        assert words_of(sheet_at(2.5, IN_SIX))[-4:] == ["1", "next", "6-", "in 2"]

    def test_a_figure_without_chords_keeps_the_room_for_itself(self) -> None:
        plain = sheet_at(3.0, replace(BREAK, chart=None))
        assert plain.strips[0].picture.shape.above == 0  # type: ignore[attr-defined]


class TestBars:
    def test_bars_are_numbered_at_their_lines_and_anew_with_each_pass(self) -> None:
        small = Sizes.of(1920, 1080).small

        def numbers(song_s: float) -> list[str]:
            return [i.text for i in sheet_at(song_s).items if isinstance(i, Text) and i.size == small]

        assert numbers(4.5)[:3] == ["bar 3", "bar 4", "bar 5"]
        assert {"bar 16", "bar 1"} <= set(numbers(31.5))
        assert "bar 17" not in numbers(31.5)

    def test_bars_alike_share_their_pictures_whatever_their_number(self) -> None:
        """32 bars of which every fourth is alike: the sheet is painted from few pictures."""
        pictures = set()
        for second in range(0, 60):
            pictures |= {s.picture for s in sheet_at(second + 0.5, LONG).strips}
        # Eight beats, and those of the count-in and of the beginning, whose neighbours differ.
        assert len(pictures) <= 8 + 7


class TestPocket:
    def test_the_band_is_as_wide_as_the_verdict_allows(self) -> None:
        """Middle pocket at slots of half a second: 50 ms, and 10 ms of the keys; at 60 bpm a beat is 1 s."""
        view = drill_view(WINDOW, BREAK, 3.0, BPM)
        taps = tuple(replace(tap, uncertainty_s=0.010) for tap in view.taps)
        picture = drill_scene(replace(view, taps=taps)).panels[2].strips[-1].picture
        assert picture.pocket == pytest.approx(0.050 + 0.010)  # type: ignore[attr-defined]

    def test_a_tap_that_is_surer_or_not_so_sure_does_not_make_the_band_jump(self) -> None:
        view = drill_view(WINDOW, BREAK, 3.0, BPM)
        taps = tuple(replace(t, uncertainty_s=0.0041 + 0.0003 * (at % 5)) for at, t in enumerate(view.taps))
        pockets = {
            drill_scene(replace(view, taps=taps[:n], outcomes=())).panels[2].strips[-1].picture.pocket  # type: ignore[attr-defined]
            for n in range(1, len(taps))
        }
        assert pockets == {0.056}


class TestLayers:
    def without(self, layer: SheetLayer) -> Panel:
        return sheet_at(3.0, layers=frozenset(SheetLayer) - {layer})

    def test_a_hidden_hand_leaves_strings_and_taps(self) -> None:
        panel = self.without(SheetLayer.PATH)
        items = panel.strips[3].picture.items()
        assert not any(isinstance(i, Ring) for i in items)
        straight = [i for i in items if isinstance(i, Polyline)]
        assert all(len({y for _, y in line.points[:3]}) == 1 for line in straight if len(line.points) > 3)
        assert not any(isinstance(i, Disc) and i.colour == ROOM.now for i in panel.items)

    def test_hidden_strings_take_frets_and_numbers_with_them(self) -> None:
        scene = drill_scene(
            drill_view(WINDOW, BREAK, 3.0, BPM, layers=frozenset(SheetLayer) - {SheetLayer.STRINGS})
        )
        assert scene.panels[1].items == ()
        items = [i for s in scene.panels[2].strips for i in s.picture.items()]
        assert not any(isinstance(i, Text) and i.text.isdigit() for i in items)

    def test_hidden_taps_take_the_pocket_with_them(self) -> None:
        panel = self.without(SheetLayer.TAPS)
        colours = {i.colour for s in panel.strips for i in s.picture.items()}
        assert ROOM.pocket not in colours
        assert not any(i.colour in (ROOM.in_time, ROOM.early, ROOM.late) for i in panel.items)

    def test_hidden_chords_leave_the_sheet_where_it_was(self) -> None:
        panel = self.without(SheetLayer.CHORDS)
        assert row_texts(panel) == []
        assert panel.strips[0].picture.shape == sheet_at(3.0).strips[0].picture.shape  # type: ignore[attr-defined]


def others(song_s: float, n: int) -> tuple[PlayerRow, ...]:
    drill = played(BREAK, BPM, 4, song_s)
    drill.advance(song_s)
    names = (
        "Ada",
        "Benedikt, whose name is longer than any row",
        "Cleo",
        "Dov",
        "Ester",
        "Finn",
        "Gul",
        "Ida",
    )
    return tuple(
        PlayerRow(name=name, outcomes=drill.outcomes, strays=drill.strays, taps=drill.taps)
        for name in names[:n]
    )


class TestOtherPlayers:
    @pytest.mark.parametrize("n", [1, 2, 8])
    def test_each_has_a_row_with_a_name_under_the_sheet(self, n: int) -> None:
        panel = sheet_at(4.0, others=others(4.0, n))
        bottom = panel.strips[0].y + panel.strips[0].h
        names = [i for i in panel.items if isinstance(i, Text) and i.y > bottom]
        assert [i.text[:3] for i in names] == ["Ada", "Ben", "Cle", "Dov", "Est", "Fin", "Gul", "Ida"][:n]
        assert names[-1].y < panel.y + panel.h
        assert all(i.size >= 0.6 * Sizes.of(1920, 1080).body for i in names)

    def test_marks_stand_at_their_taps_in_their_row(self) -> None:
        """The same tap on the sheet and in the row has the same x."""
        row = others(4.0, 1)[0]
        outcome = next(o for o in reversed(row.outcomes) if o.tap is not None and o.tap.song_s > 2.9)
        panel = sheet_at(4.0, others=(replace(row, outcomes=(outcome,), strays=(), taps=()),))
        assert outcome.tap is not None
        assert panel.dim_before is not None
        x = panel.dim_before + (outcome.tap.song_s - 4.0) * panel.strips[0].w
        shown = mark(outcome.verdict, 0.0, 0.0, 1.0, ROOM)[0].colour
        under = panel.strips[0].y + panel.strips[0].h
        marks = [i for i in panel.items if not isinstance(i, Text | Polyline) and i.colour == shown]
        below = [i for i in marks if _top(i) > under]
        assert below
        assert min(abs(_x(i) - x) for i in below) <= 12

    def test_nine_are_not_shown(self) -> None:
        rows = others(4.0, 8)
        assert sheet_at(4.0, others=(*rows, rows[0])).strips[0].h == sheet_at(4.0, others=rows).strips[0].h


def _x(item: object) -> float:
    if isinstance(item, Rect):
        return item.x + item.w / 2
    if isinstance(item, Disc | Ring):
        return item.x
    return sum(x for x, _ in item.points) / len(item.points)  # type: ignore[attr-defined]


def _top(item: object) -> float:
    if isinstance(item, Rect | Disc | Ring):
        return float(item.y)
    return float(item.points[0][1])  # type: ignore[attr-defined]


def full(window: Window) -> dict[str, DrillView]:
    return {
        "a break": drill_view(window, BREAK, 5.2, BPM),
        "32 bars, fast": drill_view(window, LONG, 41.3, 160),
        "in six": drill_view(window, IN_SIX, 3.1, BPM),
        "three-four": drill_view(window, THREE, 11.2, 92),
        "a class": drill_view(window, BREAK, 4.0, BPM, others=others(4.0, 8)),
        "count-in": drill_view(window, BREAK, -1.2, BPM, others=others(0.0, 2)),
    }


@pytest.mark.parametrize(
    "window",
    [
        Window(width=1280, height=720),
        Window(width=1920, height=1080, theme=ThemeName.PROJECTOR),
        Window(width=3840, height=2160),
        Window(width=1280, height=720, text_scale=1.5),
    ],
    ids=lambda w: f"{w.width}x{w.height} {w.text_scale}",
)
@pytest.mark.parametrize("name", list(full(Window(width=1280, height=720))))
def test_no_text_leaves_its_panel_or_touches_another(name: str, window: Window) -> None:
    pygame = pytest.importorskip("pygame", reason="pygame has no wheel for this Python")
    from trainer.screen.painter import Painter

    painter = Painter(pygame.Surface((1, 1)), Path(__file__).parents[2] / "assets" / "fonts")
    boxes: list[tuple[object, str]] = []
    for panel in drill_scene(full(window)[name]).panels:
        for text in panel.items:
            if not isinstance(text, Text) or not text.text.strip():
                continue
            x, _, w, _ = painter.text_size(text)
            found = pygame.Rect(x, text.y - round(0.7 * text.size), w, round(0.9 * text.size))
            assert pygame.Rect(panel.x, panel.y, panel.w, panel.h).contains(found), text.text
            for other, words in boxes:
                assert not found.colliderect(other), (text.text, words)
            boxes.append((found, text.text))
