"""Write printed pages as files: PNG with the window's painter, PDF as text and lines. No display is needed.

PNG: 300 dots an inch, said in the file (the pHYs chunk of the PNG specification, W3C). PDF: the same draw
list with the shipped fonts embedded, so that words can be searched.
"""

from __future__ import annotations

import struct
import tempfile
import zlib
from collections.abc import Generator
from pathlib import Path

from trainer.errors import BadSettings, NoDisplay, StoreProblem
from trainer.files import SHARED, write_whole
from trainer.music.pattern import Pattern
from trainer.screen.draw import Anchor, Disc, Item, Panel, Polygon, Polyline, Rect, Ring, Scene, Text
from trainer.screen.painter import Painter
from trainer.screen.printed import DPI, MM_PER_INCH, PAPER, Paper, PrintedPage, printed_pages
from trainer.screen.scenes.page_words import Letters
from trainer.sdl import pygame
from trainer.shipped import shipped_folder

try:
    import fpdf
except ImportError:
    fpdf = None  # type: ignore[assignment]

POINTS_PER_INCH = 72.0
POINTS_PER_PX = POINTS_PER_INCH / DPI
PNG_HEAD = 33  # bytes: signature and IHDR; pHYs has to come after it and before the picture
FONT = "Plex"
ITEMS_A_STEP = 150
REGULAR_FONT, BOLD_FONT = "IBMPlexSans-Regular.ttf", "IBMPlexSans-SemiBold.ttf"


def can_write_pdf() -> bool:
    """Return whether the library for PDF is there."""
    return fpdf is not None


def write_sheet(
    pattern: Pattern,
    path: Path,
    *,
    letters: Letters | None = None,
    paper: Paper = Paper.A4,
    string_1_on_top: bool = False,
) -> tuple[Path, ...]:
    """Write a pattern's page, and return the files written: one PDF, or a PNG for each page.

    Raises:
        BadSettings: a name that ends otherwise, or a library that is missing for it.
        StoreProblem: the file cannot be written.
    """
    steps = sheet_steps(pattern, path, letters=letters, paper=paper, string_1_on_top=string_1_on_top)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            written: tuple[Path, ...] = done.value
            return written


def sheet_steps(
    pattern: Pattern,
    path: Path,
    *,
    letters: Letters | None = None,
    paper: Paper = Paper.A4,
    string_1_on_top: bool = False,
) -> Generator[None, None, tuple[Path, ...]]:
    """Write a page as :func:`write_sheet` does, in steps of some hundredths of a second each.

    A page as PNG is one step of about half a second. Stopped halfway it leaves no half a file.
    """
    ending = path.suffix.lower()
    if ending not in (".png", ".pdf"):
        raise BadSettings(f"found {path.name} for the page's file", "let its name end with .png or .pdf")
    pages = printed_pages(pattern, letters=letters, paper=paper, string_1_on_top=string_1_on_top)
    yield
    if ending == ".pdf":
        data = yield from _pdf_steps(pages, paper, pattern.title)
        write_file(path, data)
        return (path,)
    paths = [path] + [path.with_stem(f"{path.stem}-{n}") for n in range(2, len(pages) + 1)]
    for each, page in zip(paths, pages, strict=True):
        write_file(each, png_bytes(page))
        yield
    return tuple(paths)


def write_pages(
    pages: tuple[PrintedPage, ...], path: Path, *, title: str, paper: Paper = Paper.A4
) -> tuple[Path, ...]:
    """Write pages that are laid out, and return the files written: one PDF, or a PNG for each page.

    Raises:
        BadSettings: a name that ends otherwise, or a library that is missing for it.
        StoreProblem: the file cannot be written.
    """
    ending = path.suffix.lower()
    if ending not in (".png", ".pdf"):
        raise BadSettings(f"found {path.name} for the page's file", "let its name end with .png or .pdf")
    if ending == ".pdf":
        write_file(path, pdf_bytes(pages, paper, title))
        return (path,)
    paths = [path] + [path.with_stem(f"{path.stem}-{n}") for n in range(2, len(pages) + 1)]
    for each, page in zip(paths, pages, strict=True):
        write_file(each, png_bytes(page))
    return tuple(paths)


def png_bytes(page: PrintedPage) -> bytes:
    """Return a page as a PNG.

    Raises:
        NoDisplay: the library that paints is missing.
    """
    sheet = Panel(0, 0, page.width, page.height, PAPER.sheet, page.items)
    found = painted_png(Scene((sheet,)), page.width, page.height)
    per_metre = round(DPI / MM_PER_INCH * 1000)
    body = b"pHYs" + struct.pack(">IIB", per_metre, per_metre, 1)
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    return found[:PNG_HEAD] + chunk + found[PNG_HEAD:]


def painted_png(scene: Scene, width: int, height: int) -> bytes:
    """Return a scene painted as a PNG of so many pixels.

    Raises:
        NoDisplay: the library that paints is missing.
    """
    if pygame is None:
        raise NoDisplay(
            "the library pygame, which paints pictures, is not installed for this Python",
            "install it, or write a .pdf",
        )
    surface = pygame.Surface((width, height))
    painter = Painter(surface, shipped_folder("assets") / "fonts")
    painter.paint(scene)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "page.png"
        pygame.image.save(surface, str(file))
        return file.read_bytes()


def pdf_bytes(pages: tuple[PrintedPage, ...], paper: Paper, title: str) -> bytes:
    """Return pages as a PDF.

    Raises:
        BadSettings: the library that writes PDF is missing.
    """
    steps = _pdf_steps(pages, paper, title)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            data: bytes = done.value
            return data


def _pdf_steps(pages: tuple[PrintedPage, ...], paper: Paper, title: str) -> Generator[None, None, bytes]:
    if fpdf is None:
        raise BadSettings(
            "the library fpdf2, which writes PDF, is not installed",
            "install thumbfall with its extra print (pip install 'thumbfall[print]'), or write a .png",
        )
    width, height = (mm / MM_PER_INCH * POINTS_PER_INCH for mm in paper.size_mm)
    document = fpdf.FPDF(unit="pt", format=(width, height))
    document.set_auto_page_break(False)
    document.set_margin(0)
    document.set_title(title)
    document.set_creator("Thumbfall")
    fonts = shipped_folder("assets") / "fonts"
    document.add_font(FONT, "", fonts / REGULAR_FONT)
    document.add_font(FONT, "B", fonts / BOLD_FONT)
    try:
        for page in pages:
            document.add_page()
            with document.local_context(stroke_cap_style="round", stroke_join_style="round"):
                for number, item in enumerate(page.items):
                    _draw(document, item)
                    if number % ITEMS_A_STEP == ITEMS_A_STEP - 1:
                        yield
        yield
        return bytes(document.output())
    finally:
        # Left halfway, the document would hold its fonts' files open.
        for font in document.fonts.values():
            if isinstance(font, fpdf.fonts.TTFFont):
                font.ttfont.close()


def _draw(document: fpdf.FPDF, item: Item) -> None:
    """Draw one thing of a draw list; its pixels become points."""
    k = POINTS_PER_PX
    document.set_fill_color(*item.colour)
    document.set_draw_color(*item.colour)
    if isinstance(item, Rect):
        document.rect(item.x * k, item.y * k, item.w * k, item.h * k, style="F")
    elif isinstance(item, Disc):
        r = item.radius * k
        document.ellipse(item.x * k - r, item.y * k - r, 2 * r, 2 * r, style="F")
    elif isinstance(item, Ring):
        r = (item.radius - item.width / 2) * k
        document.set_line_width(item.width * k)
        document.ellipse(item.x * k - r, item.y * k - r, 2 * r, 2 * r, style="D")
    elif isinstance(item, Polygon):
        document.polygon([(x * k, y * k) for x, y in item.points], style="F")
    elif isinstance(item, Text):
        document.set_font(FONT, "B" if item.bold else "", item.size * k)
        document.set_text_color(*item.colour)
        wide = document.get_string_width(item.text)
        shift = {Anchor.LEFT: 0.0, Anchor.CENTRE: wide / 2, Anchor.RIGHT: wide}[item.anchor]
        document.text(item.x * k - shift, item.y * k, item.text)
    else:
        _line(document, item)


def _line(document: fpdf.FPDF, line: Polyline) -> None:
    """Draw a line whose width changes: piece by piece, each with the mean width of its ends."""
    k = POINTS_PER_PX
    if len(set(line.widths)) == 1:
        document.set_line_width(line.widths[0] * k)
        document.polyline([(x * k, y * k) for x, y in line.points])
        return
    for at in range(len(line.points) - 1):
        (x1, y1), (x2, y2) = line.points[at], line.points[at + 1]
        document.set_line_width((line.widths[at] + line.widths[at + 1]) / 2 * k)
        document.line(x1 * k, y1 * k, x2 * k, y2 * k)


def write_file(path: Path, data: bytes) -> None:
    """Write a file that was asked for by name, whole or not at all.

    Raises:
        StoreProblem: it cannot be written.
    """
    try:
        write_whole(path, data, mode=SHARED)
    except OSError as err:
        raise StoreProblem(f"{path} cannot be written ({err.strerror})", "choose another place") from err
