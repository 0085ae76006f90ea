"""What stands on a printed page: words and frets under all strokes, signs explained, the form of a tune."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.judging.helpers import pattern_of
from tests.screen.pages import BREAK, LONG, box
from trainer.music.form import Part
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind, Motion, Stroke
from trainer.screen.draw import Disc, Polyline, Text
from trainer.screen.hand_path import Slot
from trainer.screen.lettering import missing_letters
from trainer.screen.paper import sheet_steps, write_sheet
from trainer.screen.printed import DPI, MM_PER_INCH, Paper, printed_pages, px, readable_title
from trainer.screen.scenes.page_form import written
from trainer.screen.scenes.page_key import key_entries
from trainer.screen.scenes.page_lines import LinePicture, lines_shape
from trainer.screen.scenes.sheet_shape import WORDS
from trainer.screen.theme import PROJECTOR

LEAST_TYPE_MM = 1.9  # 5.4 points; a page on a stand is read from some 60 cm; common practice, no source
FORM = (Part(name="A", bars=6, times=2, endings=(2, 2)), Part(name="B", bars=8, times=3))


def formed() -> Pattern:
    bars = LONG.bars
    first, b = bars[:6], bars[10:18]
    played = (*first, *bars[6:8], *first, *bars[8:10], *b, *b, *b)
    chart = LONG.chart
    assert chart is not None
    spans = (replace(chart.spans[0], beats=2 * len(played)),)
    return replace(LONG, bars=played, parts=FORM, chart=replace(chart, spans=spans))


def texts(pattern: Pattern, paper: Paper = Paper.A4) -> list[Text]:
    return [i for page in printed_pages(pattern, paper=paper) for i in page.items if isinstance(i, Text)]


@pytest.mark.parametrize("paper", Paper)
@pytest.mark.parametrize("pattern", [BREAK, LONG, replace(LONG, bars=LONG.bars[:8], chart=None)])
def test_every_stroke_has_its_word_large_enough_to_read(pattern: Pattern, paper: Paper) -> None:
    words = set(WORDS.values())
    found = [item for item in texts(pattern, paper) if item.text in words and item.text]
    assert len(found) >= sum(stroke.kind is not Kind.REST for stroke in pattern.strokes)
    assert min(item.size for item in found) / DPI * MM_PER_INCH >= LEAST_TYPE_MM - 0.05


def test_every_open_string_has_its_0() -> None:
    pattern = pattern_of("strike 3, thumb, brush, drop-thumb 2")
    zeros = [item for item in texts(pattern) if item.text == "0" and item.bold]
    assert len(zeros) == 1 + 1 + 3 + 1


def test_a_slide_up_rises_and_a_slide_down_falls() -> None:
    pattern = pattern_of("strike 1 fret 2, slide 1 fret 4, strike 1 fret 4, slide 1 fret 2")
    for on_top in (False, True):
        slopes = [line for line in _thin_lines(pattern, string_1_on_top=on_top) if len(line.points) == 2]
        rises = [line.points[1][1] < line.points[0][1] for line in slopes]
        assert rises == [True, False], f"string 1 on top: {on_top}"


def _thin_lines(pattern: Pattern, *, string_1_on_top: bool) -> list[Polyline]:
    shape = lines_shape(pattern, 1, 1800, 400)
    picture = LinePicture(pattern, shape, PROJECTOR, 0, string_1_on_top=string_1_on_top)
    return [i for i in picture.items() if isinstance(i, Polyline) and len(i.widths) == 1]


def test_an_accent_is_a_sign_over_its_word_on_either_way_round() -> None:
    pattern = pattern_of("accented strike 1, thumb, brush, thumb")
    for on_top in (False, True):
        (accent,) = [i for i in _thin_lines(pattern, string_1_on_top=on_top) if len(i.points) == 3]
        shape = lines_shape(pattern, 1, 1800, 400)
        words_top = shape.sheet.words_y - shape.sheet.word_size
        assert 0 < words_top + 0.3 * shape.sheet.word_size - max(y for _, y in accent.points) < 40


def test_string_1_is_where_it_was_asked_for() -> None:
    for on_top in (False, True):
        (page,) = printed_pages(pattern_of("strike 3, rest, brush, thumb"), string_1_on_top=on_top)
        plain = [i for i in page.items if isinstance(i, Text) and not i.bold]
        numbers = {i.text: i.y for i in plain if i.text in "12345"}
        assert (numbers["1"] < numbers["5"]) == on_top


def test_each_written_bar_stands_once_with_its_parts_repeats_and_endings() -> None:
    tune = written(formed())
    assert len(tune.pattern.bars) == 6 + 2 + 2 + 8
    assert [sign.part for sign in tune.signs if sign.part] == ["A", "B, 3 times"]
    assert [n for n, sign in enumerate(tune.signs) if sign.begins_repeat] == [0, 10]
    assert [n for n, sign in enumerate(tune.signs) if sign.ends_repeat] == [7, 17]
    assert [sign.ending for sign in tune.signs[6:10]] == ["1.", "1.", "2.", "2."]
    assert tune.pattern.chart is not None
    assert tune.pattern.chart.beats == tune.pattern.beats
    said = [item.text for item in texts(formed())]
    assert {"A", "B, 3 times", "1.", "2."} <= set(said)


def test_a_repeats_dots_stand_clear_of_what_begins_there() -> None:
    """They lie left of the bar line: the first stroke of a bar stands on it."""
    (page,) = printed_pages(formed())
    dots = [i for i in page.items if isinstance(i, Disc) and i.colour == (0, 0, 0)]
    frets = [box(i) for i in page.items if isinstance(i, Text) and i.bold and i.text.isdigit()]
    rests = [d for d in dots if not any(left <= d.x + d.radius and d.x - d.radius <= left + 30
                                        and abs(top - d.y) < 25 for left, top, _, _ in frets)]  # fmt: skip
    assert len(dots) >= 8
    assert rests == dots


def test_a_tune_without_a_form_is_written_as_it_is_played() -> None:
    assert written(BREAK).pattern is BREAK


def test_the_key_explains_the_signs_that_a_page_has_and_no_others() -> None:
    words = {words for _, words in key_entries(BREAK, ())}
    assert {"hammer-on", "pull-off", "skip: down in time, touching nothing"} <= words
    assert not {"slide up", "louder", "damped: a knock"} & words
    strike = Stroke(kind=Kind.STRIKE, strings=(1,), fret=2, accented=True, slid_from=1)
    plain = pattern_of("strike 3, rest, rest, rest")
    few = {w for _, w in key_entries(replace(plain, bars=((strike, *plain.bars[0][1:]),)), ())}
    assert {"louder", "slide up", "slide quickly from 2 into 4"} <= few
    (page,) = printed_pages(BREAK)
    assert "hammer-on" in [i.text for i in page.items if isinstance(i, Text) and i.size == px(2.7)]


def test_every_colour_of_a_page_is_a_grey_that_paper_shows() -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 on white for text; 0x76 is the lightest grey that has it (by its formula)."""
    for item in printed_pages(formed())[0].items:
        assert len(set(item.colour)) == 1, "grey"
        if isinstance(item, Text):
            assert item.colour[0] <= 0x76


def test_a_title_in_another_script_is_never_blank() -> None:
    title, sentence = readable_title(replace(BREAK, title="渡し場の灯 – lantern"))
    assert title == "lantern"
    assert sentence == "The title has 5 letters that this page's type lacks; the file holds it whole."
    assert readable_title(replace(BREAK, title="渡し場の灯"))[0] == BREAK.name
    assert readable_title(replace(BREAK, title="Фонарь у брода")) == ("Фонарь у брода", "")


def test_no_letter_of_a_page_is_one_that_its_type_lacks() -> None:
    """Outside check: pypdf reads no .notdef, which a PDF shows as nothing."""
    strange = replace(BREAK, title="Übung Плясовая 練習", teacher="Let it ring: 響く.")
    found = texts(strange)
    assert "Übung Плясовая" in [item.text for item in found]
    assert "Let it ring: ··." in [item.text for item in found]
    assert not any(missing_letters(item.text) for item in found)


def test_a_page_is_written_in_steps_too_and_stopped_halfway_leaves_nothing(tmp_path: Path) -> None:
    whole, stepped = tmp_path / "whole.pdf", tmp_path / "stepped.pdf"
    pytest.importorskip("fpdf")
    write_sheet(BREAK, whole)
    steps = sheet_steps(BREAK, stepped)
    assert sum(1 for _ in steps) > 3
    assert stepped.stat().st_size == pytest.approx(whole.stat().st_size, rel=0.01)
    halfway = sheet_steps(BREAK, tmp_path / "half.pdf")
    next(halfway)
    next(halfway)
    halfway.close()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["stepped.pdf", "whole.pdf"]


def test_a_damped_stroke_has_crosses_and_no_frets() -> None:
    stroke = Stroke(kind=Kind.BRUSH, strings=(3, 2, 1), muted=True)
    assert Slot.of(stroke, Motion.DOWN, 0.0, zeros=True).frets == ()


def test_the_frets_of_a_triplet_stand_together() -> None:
    stroke = Stroke(kind=Kind.STRIKE, strings=(3,), fret=0, triplet=(2, 0))
    plain = pattern_of("strike 3, rest, rest, rest")
    pattern = replace(plain, bars=((stroke, *plain.bars[0][1:]),))
    assert "0–2–0" in [item.text for item in texts(pattern)]
