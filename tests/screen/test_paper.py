"""Pages on paper: their size, one page where it can be read, words that can be found, files whole or none."""

import re
import struct
import subprocess
import sys
import zlib
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest

from tests.screen.pages import BREAK, LONG, PAGES, box
from trainer.errors import BadSettings, NoDisplay, StoreProblem
from trainer.music.pattern import Pattern
from trainer.screen import paper as module
from trainer.screen.draw import Text
from trainer.screen.paper import pdf_bytes, png_bytes, write_sheet
from trainer.screen.printed import DPI, Paper, printed_pages, px
from trainer.screen.scenes.page_words import letters_for

pygame = pytest.importorskip("pygame", reason="pygame has no wheel for this Python")
fpdf = pytest.importorskip("fpdf")
pypdf = pytest.importorskip("pypdf")

# ISO 216: A4 is 210 by 297 mm; letter is 8.5 by 11 inches; an inch is 25.4 mm and 72 points.
POINTS = {Paper.A4: (595.28, 841.89), Paper.LETTER: (612.0, 792.0)}
HUGE = replace(LONG, bars=LONG.bars * 2, chart=replace(LONG.chart, spans=LONG.chart.spans * 2))  # type: ignore[union-attr, type-var]


def extracted(data: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(BytesIO(data)).pages]


class TestPages:
    @pytest.mark.parametrize("name", PAGES)
    @pytest.mark.parametrize("paper", Paper)
    @pytest.mark.parametrize("string_1_on_top", [False, True])
    def test_all_stands_inside_the_margins_and_up_to_16_bars_on_one_page(
        self, name: str, paper: Paper, string_1_on_top: bool
    ) -> None:
        pages = printed_pages(
            PAGES[name], letters=letters_for(PAGES[name]), paper=paper, string_1_on_top=string_1_on_top
        )
        assert len(pages) == 1 or len(PAGES[name].bars) > 16
        for page, item in ((each, item) for each in pages for item in each.items):
            left, top, right, bottom = box(item)
            assert left >= px(10), item
            assert right <= page.width - px(10), item
            assert top >= px(10), item
            assert bottom <= page.height - px(10), item

    def test_what_would_be_too_small_to_read_goes_on_to_another_page(self) -> None:
        fine = replace(HUGE, slots_per_beat=4, motion=HUGE.motion * 2)
        fine = replace(fine, bars=tuple(bar + bar for bar in HUGE.bars))
        pages = printed_pages(fine)
        assert len(pages) > 1
        numbers = [
            [i.text for i in page.items if isinstance(i, Text) and i.text.endswith(f"of {len(pages)}")]
            for page in pages
        ]
        assert numbers == [[f"{fine.title}, page {n} of {len(pages)}"] for n in range(1, len(pages) + 1)]

    def test_a_short_figure_is_not_blown_up_without_end(self) -> None:
        (page,) = printed_pages(PAGES["one bar"])
        assert max(box(item)[3] for item in page.items if item.colour != (0, 0, 0)) <= page.height


class TestPng:
    def test_an_a4_page_has_300_dots_an_inch_and_says_so(self) -> None:
        """210 by 297 mm at 300 dots an inch are 2480 by 3508; pHYs: PNG specification (W3C), 11.3.4.3."""
        data = png_bytes(printed_pages(BREAK)[0])
        assert data[:8] == b"\x89PNG\r\n\x1a\n"
        assert struct.unpack(">II", data[16:24]) == (2480, 3508)
        length, name = struct.unpack(">I4s", data[33:41])
        assert (length, name) == (9, b"pHYs")
        across, down, unit = struct.unpack(">IIB", data[41:50])
        assert (across, down, unit) == (11811, 11811, 1), "300 / 0.0254 dots a metre"
        assert struct.unpack(">I", data[50:54])[0] == zlib.crc32(data[37:50])
        picture = pygame.image.load(BytesIO(data), "page.png")
        assert picture.get_size() == (2480, 3508)

    def test_it_is_black_on_white(self) -> None:
        picture = pygame.image.load(BytesIO(png_bytes(printed_pages(BREAK)[0])), "page.png")
        array = pygame.surfarray.array3d(picture)
        assert (array.max(axis=2) - array.min(axis=2) <= 1).all(), "no colour"
        assert (array == 255).mean() > 0.85
        assert array.min() == 0

    def test_no_display_is_needed(self, tmp_path: Path) -> None:
        code = (
            "from pathlib import Path; from tests.screen.pages import BREAK; "
            "from trainer.screen.paper import write_sheet; "
            f"print(write_sheet(BREAK, Path({str(tmp_path / 'x.png')!r}))[0].name)"
        )
        done = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=False,
            cwd=Path(__file__).parents[2], env={"PATH": "", "SDL_VIDEODRIVER": "none at all"},
        )  # fmt: skip
        assert done.stdout.endswith("x.png\n"), done.stderr


class TestPdf:
    @pytest.mark.parametrize("paper", Paper)
    def test_it_is_one_page_of_the_papers_size_with_words_that_can_be_found(self, paper: Paper) -> None:
        pages = printed_pages(BREAK, letters=letters_for(BREAK), paper=paper)
        reader = pypdf.PdfReader(BytesIO(pdf_bytes(pages, paper, BREAK.title)))
        assert len(reader.pages) == 1
        size = reader.pages[0].mediabox
        assert (float(size.width), float(size.height)) == pytest.approx(POINTS[paper], abs=0.01)
        text = reader.pages[0].extract_text()
        assert "Lantern at the ford" in text
        assert re.search(r"skips\s+·\s+2/4\s+·\s+40 to 120 bpm\s+·\s+open G\s+·\s+in A", text)
        assert {"6-", "F#m", "16"} <= set(text.split())
        assert reader.metadata is not None
        assert reader.metadata.title == BREAK.title

    def test_its_fonts_are_the_shipped_ones_and_embedded(self) -> None:
        reader = pypdf.PdfReader(BytesIO(pdf_bytes(printed_pages(BREAK), Paper.A4, "x")))
        fonts = reader.pages[0]["/Resources"]["/Font"]
        for font in fonts.values():
            below = font.get_object()["/DescendantFonts"][0].get_object()
            assert "IBMPlexSans" in below["/BaseFont"]
            assert "/FontFile2" in below["/FontDescriptor"].get_object()

    def test_each_text_stands_where_it_was_laid(self) -> None:
        """pypdf tells where each text begins, in points from the lower left corner."""
        page = printed_pages(BREAK)[0]
        title = next(i for i in page.items if isinstance(i, Text) and i.text == BREAK.title)
        found: list[tuple[float, float]] = []

        def visit(text: str, _cm: object, matrix: list[float], _font: object, _size: object) -> None:
            if text.strip() == BREAK.title:
                found.append((matrix[4], matrix[5]))

        reader = pypdf.PdfReader(BytesIO(pdf_bytes((page,), Paper.A4, "x")))
        reader.pages[0].extract_text(visitor_text=visit)
        points = 72 / DPI
        assert found[0] == pytest.approx((title.x * points, 841.89 - title.y * points), abs=0.05)


class TestFiles:
    def test_one_pdf_or_a_png_for_each_page(self, tmp_path: Path) -> None:
        assert write_sheet(BREAK, tmp_path / "a.pdf") == (tmp_path / "a.pdf",)
        assert write_sheet(BREAK, tmp_path / "a.PNG") == (tmp_path / "a.PNG",)
        assert sorted(p.name for p in tmp_path.iterdir()) == ["a.PNG", "a.pdf"], "and no drafts"

    def test_another_ending_is_refused(self, tmp_path: Path) -> None:
        with pytest.raises(BadSettings, match=r"found a\.jpg .*\.png or \.pdf"):
            write_sheet(BREAK, tmp_path / "a.jpg")

    def test_a_folder_that_is_not_there_is_said_and_nothing_is_left(self, tmp_path: Path) -> None:
        with pytest.raises(StoreProblem, match="cannot be written"):
            write_sheet(BREAK, tmp_path / "no" / "a.png")
        assert list(tmp_path.iterdir()) == []

    def test_a_missing_library_is_one_sentence_and_the_other_way_stays(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(module, "fpdf", None)
        with pytest.raises(BadSettings, match="fpdf2, which writes PDF, is not installed"):
            write_sheet(BREAK, tmp_path / "a.pdf")
        write_sheet(BREAK, tmp_path / "a.png")
        monkeypatch.setattr(module, "pygame", None)
        with pytest.raises(NoDisplay, match="pygame"):
            write_sheet(BREAK, tmp_path / "b.png")
        assert [p.name for p in tmp_path.iterdir()] == ["a.png"]


def test_a_pattern_without_chords_is_printed_too() -> None:
    plain: Pattern = replace(BREAK, chart=None)
    assert "Lantern" in extracted(pdf_bytes(printed_pages(plain), Paper.A4, plain.title))[0]
