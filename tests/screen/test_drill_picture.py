"""What a drill's picture says beyond the path: the thumb's way, what is not to be tapped, the numbers."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.screen.views import drill_view
from tests.shipped import shipped
from trainer.music.layout import lay_out
from trainer.music.notation import read_pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.records.library import open_pattern
from trainer.screen.draw import Disc, Panel, Rect, Ring, Text
from trainer.screen.hand_path import Slot, path_of, string_height, thumb_height
from trainer.screen.scenes.drill import drill_scene
from trainer.screen.scenes.sheet import BeatPicture, lead_in
from trainer.screen.theme import ROOM
from trainer.screen.window import Window

WINDOW = Window(width=1280, height=720)
HEAD = (
    'title = "T"\nlevel = "ornaments"\nstep = 1\nmeter = "2/4"\nslots_per_beat = 2\nslow_bpm = 50\n'
    "goal_bpm = 120\n"
)
LEFT = read_pattern(HEAD + 'bars = """\nstrike 3, hammer-on 3 fret 2, brush, thumb\n"""\n', name="left")
LIBRARY = shipped()


def panel_at(song_s: float, pattern: object = LEFT, **more: object) -> Panel:
    return drill_scene(drill_view(WINDOW, pattern, song_s, 60, **more)).panels[2]  # type: ignore[arg-type]


def pictures(panel: Panel) -> list[BeatPicture]:
    return [strip.picture for strip in panel.strips if isinstance(strip.picture, BeatPicture)]


def words(panel: Panel) -> set[str]:
    return {item.text for picture in pictures(panel) for item in picture.items() if isinstance(item, Text)}


class TestTheThumb:
    """The thumb is off the hand before its stroke, on its string at its beat, and with the hand after it."""

    SLOTS = tuple(
        Slot.of(t.stroke, t.motion, float(t.beat))
        for t in lay_out(open_pattern("skip-figure", LIBRARY), Timeline.steady(60), passes=2)
    )

    def test_it_lies_on_its_string_at_its_beat_and_a_while_before(self) -> None:
        path = path_of(self.SLOTS)
        thumbs = [slot for slot in self.SLOTS if slot.kind.hand is Hand.THUMB]
        assert thumbs
        for slot in thumbs:
            for beat in (slot.beat, slot.beat - 0.1):
                assert thumb_height(path, beat) == pytest.approx(string_height(slot.strings[0]))

    def test_it_leaves_the_hand_and_comes_back_to_it_without_a_jump(self) -> None:
        path = path_of(self.SLOTS)
        beats = np.arange(0.0, 7.5, 0.001)
        hand = path.heights(beats)
        thumb = np.array([thumb_height(path, beat) or at for beat, at in zip(beats, hand, strict=True)])
        assert np.max(np.abs(np.diff(thumb))) < 0.1  # spacings in a thousandth of a beat
        assert np.any(thumb != hand)

    def test_the_nail_has_none(self) -> None:
        strikes = read_pattern(HEAD + 'bars = """\nstrike 1, rest, strike 2, rest\n"""\n', name="s")
        slots = [Slot.of(t.stroke, t.motion, float(t.beat)) for t in lay_out(strikes, Timeline.steady(60))]
        assert all(thumb_height(path_of(slots), beat) is None for beat in np.arange(0, 2, 0.05))

    def test_it_is_drawn_under_the_now_line_only_while_it_is_off_the_hand(self) -> None:
        def balls(song_s: float) -> int:
            panel = panel_at(song_s, open_pattern("skip-figure", LIBRARY))
            return sum(isinstance(item, Disc) and item.colour == ROOM.now for item in panel.items)

        assert (balls(0.45), balls(0.8)) == (2, 1)


class TestNotToBeTapped:
    def test_a_left_hand_stroke_that_the_input_cannot_hear_stands_in_brackets_without_a_pocket(self) -> None:
        unheard, heard = (panel_at(0.4, knows_left=knows) for knows in (False, True))
        assert "(hammer-on)" in words(unheard)
        assert "hammer-on" in words(heard)
        assert "(hammer-on)" not in words(heard)

        def pockets(panel: Panel) -> int:
            return sum(
                isinstance(item, Rect) and item.colour == ROOM.pocket
                for picture in pictures(panel)
                for item in picture.items()
            )

        assert pockets(unheard) < pockets(heard)

    def test_a_pickup_is_shown_in_the_count_in_and_not_asked(self) -> None:
        pattern = open_pattern("turnip-frost at ornaments", LIBRARY)
        assert pattern.pickup == 2
        slots = lead_in(pattern)
        assert [slot.kind for slot in slots] == [Kind.STRIKE, Kind.HAMMER_ON]
        assert [slot.beat for slot in slots] == [-1.0, -0.5]
        assert not any(slot.asked for slot in slots)
        assert "(strike)" in words(panel_at(-0.9, pattern))

    def test_the_line_on_the_signs_names_what_the_figure_has(self) -> None:
        def line(pattern: object, **more: object) -> list[str]:
            view = drill_view(WINDOW, pattern, 0.4, 60, explains_signs=True, **more)  # type: ignore[arg-type]
            return [item.text for item in drill_scene(view).panels[3].items if isinstance(item, Text)]

        assert line(LEFT, knows_left=False)[-1] == "played for you"
        assert "played for you" not in line(LEFT, knows_left=True)
        assert "skip: tap nothing" in line(open_pattern("skip-figure", LIBRARY))
        assert len(drill_scene(drill_view(WINDOW, LEFT, 0.4, 60)).panels) == 5


class TestNumbers:
    """String, fret, bar, chord, pass and count each have a look of their own."""

    def test_strings_stand_in_rings_bars_have_their_word_and_chords_a_plate(self) -> None:
        pattern = open_pattern("turnip-frost at ornaments", LIBRARY)
        scene = drill_scene(drill_view(WINDOW, pattern, 2.2, 60))
        gutter, sheet = scene.panels[1:3]
        rings = [item for item in gutter.items if isinstance(item, Ring)]
        assert len(rings) == 5
        bars = [i.text for i in sheet.items if isinstance(i, Text) and i.text.startswith("bar ")]
        assert bars
        chords = [i for i in sheet.items if isinstance(i, Text) and i.text in ("1", "4", "5")]
        plates = [i for i in sheet.items if isinstance(i, Rect) and i.colour == ROOM.raised]
        assert chords
        assert all(any(p.holds(c.x, c.y) for p in plates) for c in chords)

    def test_letters_stand_beside_the_numbers_where_they_are_wanted(self) -> None:
        pattern = open_pattern("turnip-frost at ornaments", LIBRARY)
        assert pattern.chart is not None

        def texts(letters: str) -> set[str]:
            panel = panel_at(2.2, pattern, letters=letters)
            return {item.text for item in panel.items if isinstance(item, Text)}

        assert "G" in texts("G")
        assert "G" not in texts("")
        one_up = {chord for chord in texts("A") if chord.isalpha()}
        assert "A" in one_up

    def test_the_count_says_that_it_is_one(self) -> None:
        counting = {item.text for item in panel_at(-1.7).items if isinstance(item, Text)}
        assert {"3", "count-in"} <= counting


def test_a_pickup_is_heard_in_the_count_in_of_a_drill_and_nothing_of_it_later() -> None:
    from trainer.sound.plan import SoundSettings, plan_for
    from trainer.sound.stream_onsets import pluck_onsets

    pattern = open_pattern("turnip-frost at plain", LIBRARY)
    silent = replace(pattern, parts=())
    for each, expected in ((pattern, pattern.pickup), (silent, 0)):
        timeline = Timeline.steady(Fraction(60))
        settings = SoundSettings(pickup=True, left_hand=False)
        plan = plan_for(each, timeline, passes=1, settings=settings)
        onsets = pluck_onsets(plan, 0, plan.frame_of(Fraction(pattern.beats)))
        assert len(onsets) == expected
        assert all(onset.frame < plan.origin_frame for onset in onsets)
