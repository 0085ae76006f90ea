"""Know how wide a text will be, so that scenes can lay it out without a font at hand.

The advance widths are those of the two shipped fonts, in thousandths of the type's size; the painter's
own measure agrees within the kerning, and a test holds them together.
"""

from __future__ import annotations

from functools import lru_cache

CAPITAL = 0.698  # height of a capital as a share of the size, from the font's OS/2 table

_REGULAR = """
236 284 419 713 598 927 694 242 335 335 450 600 272 399 272 383 600 600 600 600 600 600 600 600 600 600
292 292 600 600 600 477 891 641 653 621 671 583 559 695 707 400 510 634 501 812 707 708 606 708 640 581
572 678 609 891 613 593 580 317 383 317 600 565 600 534 580 503 580 549 324 528 568 250 250 527 272 873
568 560 580 580 367 487 351 568 492 768 507 499 464 343 314 343 600 236 284 514 595 612 605 314 586 600
776 399 513 600 0 476 600 468 600 346 346 600 573 652 326 600 359 398 513 847 872 824 467 641 641 641
641 641 641 907 621 583 583 583 583 400 400 400 400 674 707 708 708 708 708 708 600 708 678 678 678 678
593 606 640 534 534 534 534 534 534 864 503 549 549 549 549 250 250 250 250 555 568 560 560 560 560 560
600 568 568 568 568 568 499 580 499 641 534 641 534 641 534 621 503 621 503 621 503 621 503 671 603 674
583 583 549 583 549 583 549 583 549 583 549 695 531 695 531 695 531 695 531 707 568 713 568 400 250 400
250 400 250 400 250 400 250 645 496 510 250 634 527 527 501 272 501 272 501 274 501 358 508 278 707 568
707 568 707 568 811 707 568 708 560 708 560 708 560 985 931 640 367 640 367 640 367 581 487 581 487 581
487 581 487 572 351 572 351 582 357 678 568 678 568 678 568 678 568 678 568 678 568 891 768 593 499 593
580 464 580 464 580 464 278 641 653 499 642 583 580 707 708 400 634 629 812 707 584 708 693 606 600 569
572 593 852 613 790 716 400 593 644 518 573 295 568 644 584 502 560 518 428 573 562 295 527 509 578 511
456 560 622 552 483 583 477 568 715 496 726 736 641 636 653 499 726 583 978 593 707 707 662 684 812 707
708 693 606 621 572 595 844 613 730 645 956 993 741 875 630 631 960 640 534 564 558 435 597 549 770 501
588 588 550 565 696 588 560 573 580 503 472 499 750 507 600 538 798 825 590 724 520 511 781 535 588 780
273 273 475 474 803 552 396 1306 820 820 820 820 600 600 600 600
"""
_BOLD = """
236 309 471 656 600 960 713 260 337 337 556 600 299 402 299 437 600 600 600 600 600 600 600 600 600 600
319 319 600 600 600 493 899 672 663 642 689 600 577 712 719 423 545 678 521 817 719 712 641 712 664 611
580 689 638 949 655 632 599 329 437 329 600 559 600 559 600 513 600 558 350 545 588 275 275 562 294 888
588 563 600 600 393 499 374 588 524 819 544 524 502 363 376 363 600 236 309 541 586 623 637 376 574 600
787 434 545 600 0 468 600 469 600 347 345 600 593 670 349 600 348 423 545 840 863 827 486 672 672 672
672 672 672 950 642 600 600 600 600 423 423 423 423 694 719 712 712 712 712 712 600 712 689 689 689 689
632 641 677 559 559 559 559 559 559 864 513 558 558 558 558 275 275 275 275 589 588 563 563 563 563 563
600 571 588 588 588 588 524 600 524 672 559 672 559 672 559 642 513 642 513 642 513 642 513 689 659 694
603 600 558 600 558 600 558 600 558 600 558 712 553 712 553 712 553 712 553 719 588 728 588 423 275 423
275 423 275 423 275 423 275 653 545 545 275 678 562 562 521 294 521 294 521 335 521 421 531 303 719 588
719 588 719 588 864 719 588 712 563 712 563 712 563 994 910 664 393 664 393 664 393 611 499 611 499 611
499 611 499 580 374 580 377 590 381 689 588 689 588 689 588 689 588 689 588 689 588 949 819 632 524 632
599 502 599 502 599 502 302 672 663 510 670 600 599 719 719 423 678 659 817 719 599 712 704 641 600 599
580 632 849 655 825 715 423 632 660 525 599 319 578 660 602 529 563 525 435 599 572 319 564 529 605 531
445 563 645 570 500 585 493 578 756 531 749 760 672 651 663 510 789 600 998 604 719 719 671 723 817 719
712 704 641 642 580 620 886 655 760 668 1008 1064 753 916 653 659 999 667 559 566 571 441 640 558 838
522 605 605 579 597 717 605 563 590 600 513 486 524 788 544 623 566 830 864 625 784 549 528 810 570 588
780 292 292 517 517 869 531 420 1360 876 876 876 876 600 600 600 600
"""
_SPANS = ((0x20, 0x7F), (0xA0, 0x180), (0x391, 0x3CA), (0x410, 0x450))
_MARKS = "–—‘’“”…†•‰←↑→↓−≈≤≥"
_CHARACTERS = "".join(chr(code) for first, end in _SPANS for code in range(first, end)) + _MARKS
_WIDTHS = {
    bold: dict(zip(_CHARACTERS, map(int, table.split()), strict=True))
    for bold, table in ((False, _REGULAR), (True, _BOLD))
}
_UNKNOWN = 1000  # a character of another script is as wide as it is high, at most


def missing_letters(text: str) -> str:
    """Return the characters of a text that the shipped fonts do not have, each once, in order."""
    return "".join(dict.fromkeys(each for each in text if each not in _WIDTHS[False]))


@lru_cache(maxsize=4096)
def text_width(text: str, size: int, *, bold: bool = False) -> int:
    """Return the width of one line in pixels, rounded up."""
    widths = _WIDTHS[bold]
    return -(-sum(widths.get(character, _UNKNOWN) for character in text) * size // 1000)


@lru_cache(maxsize=1024)
def shortened(text: str, size: int, width: int, *, bold: bool = False) -> str:
    """Return the text, or as much of its beginning as fits with an ellipsis.

    >>> shortened("A title that is much too long", 20, 160)
    'A title that is m…'
    """
    if text_width(text, size, bold=bold) <= width:
        return text
    kept = text
    while kept and text_width(kept.rstrip() + "…", size, bold=bold) > width:
        kept = kept[:-1]
    return kept.rstrip() + "…"


@lru_cache(maxsize=512)
def wrapped(text: str, size: int, width: int, most: int, *, bold: bool = False) -> tuple[str, ...]:
    """Break a text into at most ``most`` lines at spaces; the last is shortened when more is left.

    >>> wrapped("Let the hand fall all the way and rise with the beat", 20, 200, 2)
    ('Let the hand fall all', 'the way and rise wit…')
    """
    words = text.split()
    lines: list[str] = []
    line = ""
    for at, word in enumerate(words):
        longer = f"{line} {word}".strip()
        if line and text_width(longer, size, bold=bold) > width:
            if len(lines) == most - 1:
                return (*lines, shortened(" ".join((line, *words[at:])), size, width, bold=bold))
            lines.append(shortened(line, size, width, bold=bold))
            line = word
        else:
            line = longer
    if line:
        lines.append(shortened(line, size, width, bold=bold))
    return tuple(lines)
