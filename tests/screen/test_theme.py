"""Contrast by WCAG 2; the reference figures are those worked out in WCAG's own terms."""

import pytest

from trainer.screen.theme import PROJECTOR, ROOM, Colour, Sizes, Theme, contrast, luminance, mixed

THEMES = pytest.mark.parametrize("theme", [ROOM, PROJECTOR], ids=("room", "projector"))
FADED = 107 / 255


@pytest.mark.parametrize(
    ("colour", "ratio"),
    [
        ((0, 0, 0), 21.0),
        ((0x76, 0x76, 0x76), 4.542),
        ((0x77, 0x77, 0x77), 4.478),
        ((0xFF, 0, 0), 3.998),
        ((0, 0, 0xFF), 8.592),
    ],
)
def test_contrast_on_white_is_that_of_wcag(colour: Colour, ratio: float) -> None:
    """WCAG 2.2, "contrast ratio" and "relative luminance", worked by hand from the formulas."""
    assert contrast(colour, (255, 255, 255)) == pytest.approx(ratio, abs=0.001)
    assert contrast((255, 255, 255), colour) == contrast(colour, (255, 255, 255))


def test_luminance_runs_from_black_to_white() -> None:
    assert luminance((0, 0, 0)) == 0.0
    assert luminance((255, 255, 255)) == pytest.approx(1.0)


@THEMES
def test_text_reaches_4_5_to_1_on_every_ground_it_stands_on(theme: Theme) -> None:
    """WCAG 2.2 success criterion 1.4.3."""
    for text in (theme.ink, theme.muted):
        for ground in (theme.wall, theme.sheet, theme.raised):
            assert contrast(text, ground) >= 4.5


@THEMES
def test_words_that_have_passed_the_now_line_still_reach_4_5_to_1(theme: Theme) -> None:
    assert contrast(mixed(theme.ink, theme.sheet, FADED), theme.sheet) >= 4.5


@THEMES
@pytest.mark.parametrize("name", ["in_time", "early", "late", "slip", "other", "now", "focus", "ink"])
def test_marks_reach_3_to_1_on_the_sheet_and_on_the_wall(theme: Theme, name: str) -> None:
    """WCAG 2.2 success criterion 1.4.11."""
    mark = getattr(theme, name)
    assert contrast(mark, theme.sheet) >= 3
    assert contrast(mark, theme.wall) >= 3


@THEMES
def test_marks_of_the_review_reach_3_to_1_on_the_pocket_too(theme: Theme) -> None:
    for name in ("in_time", "slip", "ink", "string", "pocket_edge"):
        assert contrast(getattr(theme, name), theme.pocket) >= 3


@THEMES
def test_strings_and_the_ends_of_the_pocket_reach_3_to_1(theme: Theme) -> None:
    assert contrast(theme.string, theme.sheet) >= 3
    assert contrast(theme.pocket_edge, theme.sheet) >= 3


def test_large_text_is_20_minutes_of_arc_at_8_m_on_a_picture_2_m_wide() -> None:
    """h = 2 D tan(theta / 2) for 20 minutes (ISO 9241-303: 20 to 22 preferred); capital 0.698 of the size."""
    import math

    capital_mm = 2 * 8000 * math.tan(math.radians(20 / 60) / 2)
    for width, height in ((1280, 720), (1920, 1080), (3840, 2160)):
        capital_px = capital_mm / 2000 * width
        assert 0.698 * Sizes.of(width, height).large >= capital_px - 0.5


def test_sizes_follow_the_narrower_side() -> None:
    assert Sizes.of(1920, 1080).body == Sizes.of(1920, 2000).body
    assert Sizes.of(3840, 2160).body == 2 * Sizes.of(1920, 1080).body
    assert Sizes.of(1920, 1080, 1.5).body > 1.4 * Sizes.of(1920, 1080).body
