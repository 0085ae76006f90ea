"""Answer the command that writes a pattern as a page to print."""

from __future__ import annotations

import argparse
from pathlib import Path

from trainer.commands.parsing import Answer, Commands, add_pattern, whole
from trainer.music.named import one_of
from trainer.records.library import load_library, open_pattern

PAPERS = ("a4", "letter")
HIGHEST_CAPO = 12
STRING_1 = ("bottom", "top")


def add_to(each: Commands) -> None:
    """Add the commands of this module."""
    parser = each.add_parser("sheet", help="write a pattern as a page to print: PDF or PNG")
    add_pattern(parser)
    parser.add_argument("--to", metavar="FILE", required=True, help="file to write, .pdf or .png")
    parser.add_argument("--key", metavar="K", help="the key that sounds (default: the pattern's own)")
    parser.add_argument("--capo", metavar="N", help="the capo's fret (default: as the shapes need it)")
    parser.add_argument("--paper", metavar="SIZE", default="a4", help="a4 (default) or letter")
    parser.add_argument(
        "--string-1", metavar="WHERE", default="bottom",
        help="where string 1 is drawn: bottom (default), as the hand falls, or top",
    )  # fmt: skip

    def run(o: argparse.Namespace) -> Answer:
        capo = None if o.capo is None else whole(o.capo, "--capo", 0, most=HIGHEST_CAPO)
        return write(o.pattern, Path(o.to), key=o.key, capo=capo, paper=o.paper, string_1=o.string_1)

    parser.set_defaults(command=run)


def write(
    name: str, path: Path, *, key: str | None, capo: int | None, paper: str, string_1: str = "bottom"
) -> Answer:
    """Write the page of a pattern, without a display.

    Raises:
        TrainerError: the pattern, the key or the paper cannot be used, a library is missing, or the file
            cannot be written.
    """
    from trainer.screen.paper import write_sheet  # loads the libraries that draw
    from trainer.screen.printed import Paper, readable_title
    from trainer.screen.scenes.page_words import letters_for

    one_of(paper, PAPERS, "the paper")
    one_of(string_1, STRING_1, "string 1")
    pattern = open_pattern(name, load_library())
    letters = letters_for(pattern, key, capo)
    on_top = string_1 == "top"
    written = write_sheet(pattern, path, letters=letters, paper=Paper(paper), string_1_on_top=on_top)
    words = f" {letters.words}" if letters is not None else ""
    lacking = readable_title(pattern)[1]
    return Answer(
        lines=tuple(f"{each}: {pattern.title}{words}, for {paper} paper." for each in written),
        notes=(lacking,) if lacking else (),
    )
