"""Text widths that scenes rely on, against the font itself."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.screen.lettering import CAPITAL, shortened, text_width, wrapped

pygame = pytest.importorskip("pygame", reason="pygame has no wheel for this Python")

FONTS = Path(__file__).parents[2] / "assets" / "fonts"
SENTENCES = (
    "Say it aloud: bum-ditty, and let the hand rise through the rest.",
    "drop-thumb 2",
    "0123456789 ± 12 ms early · 50–110",
    "Zażółć gęślą jaźń; Příliš žluťoučký kůň",
    "← → ↑ ↓ “quoted” it’s…",
)
WORDS = st.text(st.characters(codec="latin-1", exclude_categories=("C",)), max_size=60)  # type: ignore[arg-type]


@pytest.mark.parametrize("sentence", SENTENCES)
@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("size", [17, 31, 62])
def test_widths_are_those_of_the_font(sentence: str, bold: bool, size: int) -> None:
    """The font's own measure, as SDL_ttf gives it; kerning and whole pixels make a small difference."""
    pygame.font.init()
    name = "IBMPlexSans-SemiBold.ttf" if bold else "IBMPlexSans-Regular.ttf"
    true_width = pygame.font.Font(str(FONTS / name), size).size(sentence)[0]
    assert text_width(sentence, size, bold=bold) == pytest.approx(true_width, rel=0.03, abs=3)


def test_a_capital_is_as_high_as_stated() -> None:
    pygame.font.init()
    font = pygame.font.Font(str(FONTS / "IBMPlexSans-Regular.ttf"), 200)
    ink = font.render("H", True, (255, 255, 255)).get_bounding_rect(min_alpha=128)
    assert ink.height == pytest.approx(CAPITAL * 200, abs=2)


def test_the_licence_lies_beside_the_fonts() -> None:
    assert "SIL OPEN FONT LICENSE Version 1.1" in (FONTS / "OFL.txt").read_text(encoding="utf-8")
    assert sum(path.stat().st_size for path in FONTS.iterdir()) < 1_000_000


@given(WORDS, st.integers(40, 900))
def test_a_shortened_text_fits_or_is_an_ellipsis(text: str, width: int) -> None:
    short = shortened(text, 30, width)
    assert text_width(short, 30) <= width or short == "…"
    assert short == text or short.endswith("…")


@given(WORDS, st.integers(100, 900), st.integers(1, 4))
def test_wrapped_lines_fit_and_are_few(text: str, width: int, most: int) -> None:
    lines = wrapped(text, 30, width, most)
    assert len(lines) <= most
    assert all(text_width(line, 30) <= width for line in lines)


def test_nothing_is_lost_when_there_is_room() -> None:
    text = "one two three four five six seven"
    assert " ".join(wrapped(text, 20, 120, 20)) == text
