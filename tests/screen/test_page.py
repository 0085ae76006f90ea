"""The page in the window: lines of bars that fit, marks that are seen, chords where they are."""

import itertools
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.judging.helpers import pattern_of
from tests.screen.pages import BARS, BREAK, ONE, PAGES, box, over
from trainer.errors import BadSettings
from trainer.music.pattern import Pattern
from trainer.music.tuning import Tuning
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Polyline, Rect, Scene, Text
from trainer.screen.scenes.page import PageView
from trainer.screen.scenes.page_form import written
from trainer.screen.scenes.page_lines import LinePicture, lines_shape
from trainer.screen.scenes.page_words import letters_for
from trainer.screen.theme import PROJECTOR, ThemeName
from trainer.screen.window import Window

WINDOWS = [
    Window(width=1280, height=720),
    Window(width=1920, height=1080, theme=ThemeName.PROJECTOR),
    Window(width=3840, height=2160),
    Window(width=1280, height=720, text_scale=1.5),
]


def page_of(pattern: Pattern, window: Window = WINDOWS[1], first: int = 0, last: int | None = None) -> Scene:
    return PageView(
        window=window,
        tune=written(pattern),
        title=pattern.title,
        first=first,
        last=len(written(pattern).pattern.bars) - 1 if last is None else last,
        shown=first,
        bpm=Fraction(80),
        letters=letters_for(pattern),
    ).scene()


class TestLines:
    @pytest.mark.parametrize("name", PAGES)
    @pytest.mark.parametrize("window", WINDOWS, ids=lambda w: f"{w.width}x{w.height} {w.text_scale}")
    def test_every_bar_can_be_reached_and_every_line_lies_in_its_place(
        self, name: str, window: Window
    ) -> None:
        pattern = PAGES[name]
        found: set[int] = set()
        for bar in range(len(pattern.bars)):
            scene = page_of(pattern, window, bar, bar)
            panel = scene.panels[2]
            strips = panel.strips
            assert all(a.y + a.h == b.y for a, b in itertools.pairwise(strips))
            assert all(s.x >= 0 and s.x + s.w <= window.width for s in strips)
            hits = {h.action.value: h for h in scene.hits if h.action.act is Act.SELECT}
            found |= set(hits)
            assert hits[bar].h >= min(strips[0].h, panel.h), "the marked bar is seen whole"
        assert found == set(range(len(pattern.bars)))

    @pytest.mark.parametrize("name", PAGES)
    def test_panels_cover_the_window(self, name: str) -> None:
        for window in WINDOWS:
            panels = page_of(PAGES[name], window).panels
            assert sum(p.w * p.h for p in panels) == window.width * window.height

    @pytest.mark.parametrize("name", PAGES)
    def test_nothing_of_a_line_is_drawn_outside_of_it(self, name: str) -> None:
        """Paper has no edges to cut at, unlike the pictures in the window; a word may reach out by half."""
        pattern = PAGES[name]
        shape = lines_shape(pattern, min(4, len(pattern.bars)), 1800, 260)
        for line in range(shape.lines):
            for item in LinePicture(pattern, shape, PROJECTOR, line, letters_for(pattern)).items():
                left, top, right, bottom = box(item)
                assert left >= 0, item
                assert right <= 1800 + shape.sheet.spacing, item
                assert top >= 0, item
                assert bottom <= shape.line_height, item

    def test_the_path_of_a_bar_goes_on_where_that_of_the_bar_before_ended(self) -> None:
        shape = lines_shape(BREAK, 4, 1800, 260)
        items = LinePicture(BREAK, shape, PROJECTOR, 0, None).items()
        wide = BREAK.meter.beats * shape.sheet.beat_px
        hands = [i for i in items if isinstance(i, Polyline) and i.points[-1][0] - i.points[0][0] == wide]
        assert len(hands) == 4
        for a, b in itertools.pairwise(hands):
            assert b.points[0][0] == pytest.approx(a.points[-1][0])
            assert b.points[0][1] == pytest.approx(a.points[-1][1], abs=0.5)

    def test_every_fret_is_written_beside_its_string(self) -> None:
        shape = lines_shape(BREAK, 4, 1800, 260)
        items = LinePicture(BREAK, shape, PROJECTOR, 0, None).items()
        size = shape.sheet.fret_size
        frets = [i for i in items if isinstance(i, Text) and i.bold and i.size == size]
        assert [i.text for i in frets] == ["2", "3", "2", "4", "2", "0", "2"]
        strings = (3, 2, 1, 1, 4, 4, 3)
        for text, string in zip(frets, strings, strict=True):
            below = text.y - shape.sheet.y(string - 1)
            assert 0 < below < shape.sheet.spacing

    def test_chords_stand_over_their_beats_and_are_named_again_on_a_new_line(self) -> None:
        """By hand: four bars of two beats in a line; the 4 that begins on beat 6 goes on to beat 10."""
        shape = lines_shape(BREAK, 4, 1800, 260)
        begun = {}
        for line in (0, 1):
            items = LinePicture(BREAK, shape, PROJECTOR, line, letters_for(BREAK)).items()
            top = [i for i in items if isinstance(i, Text) and i.y < shape.sheet.above]
            numbers = [i for i in top if i.bold]
            at = [(i.x - shape.number_width) // shape.sheet.beat_px for i in numbers]
            begun[line] = list(zip([i.text for i in numbers], at, strict=True))
            letters = {i.text for i in top if not i.bold and not i.text.isdigit()}
            assert letters == ({"A", "D"} if line == 0 else {"D", "A", "E"})
        assert begun[0] == [("1", 0), ("4", 6)]
        assert begun[1] == [("4", 0), ("1", 2), ("5", 6)]


class TestMarks:
    def test_a_marked_bar_has_another_ground_and_stands_between_brackets(self) -> None:
        shape = lines_shape(BREAK, 4, 1800, 260)
        rects = [
            i for i in LinePicture(BREAK, shape, PROJECTOR, 0, None, (1, 2)).items() if isinstance(i, Rect)
        ]
        grounds = [r for r in rects if r.colour == PROJECTOR.raised and r.h == shape.line_height]
        wide = 2 * shape.sheet.beat_px
        assert [(r.x - shape.number_width) // wide for r in grounds] == [1, 2]
        lines = [r for r in rects if r.colour == PROJECTOR.focus]
        uprights, feet = [r for r in lines if r.h > r.w], [r for r in lines if r.h < r.w]
        assert len(feet) == 4, "so that no colour is needed to see them"
        assert {r.x for r in uprights} == {
            min(r.x for r in feet),
            max(r.x + r.w for r in feet) - uprights[0].w,
        }
        assert {r.y for r in uprights} | {r.y + r.h for r in uprights} >= {0, shape.line_height}
        words = shape.sheet.words_y
        assert all(not r.y < words < r.y + r.h for r in uprights), "they give way to the words"

    def test_a_click_marks_the_bar_that_it_met(self) -> None:
        scene = page_of(BREAK)
        hits = [h for h in scene.hits if h.action.act is Act.SELECT]
        for hit in hits:
            middle = scene.action_at(hit.x + hit.w / 2, hit.y + hit.h / 2)
            assert middle == hit.action

    def test_keys_mark_loop_print_and_lead_back(self) -> None:
        scene = page_of(BREAK)
        assert scene.actions_for_key("right") == (Action(act=Act.MARK_FIRST, value=1),)
        assert scene.actions_for_key("up") == (Action(act=Act.MARK_LAST, value=-1),)
        assert scene.actions_for_key("return") == (Action(act=Act.START),)
        assert scene.actions_for_key("p") == (Action(act=Act.WRITE),)
        assert scene.actions_for_key("escape") == (Action(act=Act.BACK),)

    def test_the_header_says_which_bars_are_marked(self) -> None:
        def words(scene: Scene) -> set[str]:
            return {i.text for i in scene.panels[0].items if isinstance(i, Text)}

        assert "bars 3 to 6" in words(page_of(BREAK, first=2, last=5))
        assert "all bars" in words(page_of(BREAK))


class TestLetters:
    def test_a_key_moves_the_capo_and_a_capo_moves_the_key(self) -> None:
        """By hand: shapes of A at the first fret sound in Bb, at the second in B."""
        moved = letters_for(BREAK, "Bb")
        assert moved is not None
        assert (moved.key, moved.capo, moved.shapes) == ("Bb", 1, "A")
        capo = letters_for(BREAK, None, 2)
        assert capo is not None
        assert (capo.key, capo.shapes) == ("B", "A")

    def test_a_capo_of_the_patterns_own_is_taken_into_account(self) -> None:
        own = letters_for(replace(BREAK, tuning=Tuning(capo=2)))
        assert own is not None
        assert (own.key, own.capo, own.shapes) == ("A", 2, "G")
        assert own.words == "in A: shapes of G, capo 2"

    def test_frets_belong_to_one_shape_and_a_chart_alone_to_any(self) -> None:
        with pytest.raises(BadSettings, match="sound in Bb with the capo at 1, not 3"):
            letters_for(BREAK, "Bb", 3)
        open_strings = over(("strike 3, rest, brush, thumb",) * 2, (ONE, 4))
        free = letters_for(open_strings, "Bb", 3)
        assert free is not None
        assert free.shapes == "G"

    def test_a_figure_without_chords_has_no_key(self) -> None:
        assert letters_for(pattern_of(BARS[0])) is None
        with pytest.raises(BadSettings, match="has no chords"):
            letters_for(pattern_of(BARS[0]), "G")


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("window", WINDOWS, ids=lambda w: f"{w.width}x{w.height} {w.text_scale}")
def test_words_beside_the_lines_lie_in_their_panels_and_touch_nothing(name: str, window: Window) -> None:
    pygame = pytest.importorskip("pygame", reason="pygame has no wheel for this Python")
    from trainer.screen.painter import Painter

    painter = Painter(pygame.Surface((1, 1)), Path(__file__).parents[2] / "assets" / "fonts")
    boxes: list[object] = []
    for panel in page_of(PAGES[name], window, 0, 0).panels:
        for text in panel.items:
            if not isinstance(text, Text) or not text.text:
                continue
            x, _, w, _ = painter.text_size(text)
            found = pygame.Rect(x, text.y - round(0.76 * text.size), w, round(0.98 * text.size))
            assert pygame.Rect(panel.x, panel.y, panel.w, panel.h).contains(found), text.text
            assert not any(found.colliderect(other) for other in boxes), text.text
            boxes.append(found)
    assert boxes
