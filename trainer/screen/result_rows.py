"""Put what takes come to into a row of the results' page."""

from __future__ import annotations

from trainer.practice.tally import Tally
from trainer.screen.results_page import ResultRow


def row_of(name: str, tally: Tally, *, besides: str = "") -> ResultRow:
    """Return the row of some takes.

    Args:
        besides: one more line of facts; empty for none.
    """
    placement = tally.placement
    words = f"{tally.clean} of {tally.asked} as asked"
    slow, fast = (f"{float(bpm):g}" for bpm in tally.tempi)
    tempo = f"{slow} bpm" if slow == fast else f"{slow} to {fast} bpm"
    second = tempo
    if placement.mean_s is not None:
        ms = round(1000 * placement.mean_s)
        side = "early" if ms < 0 else "late"
        second += f", {abs(ms)} ms {side}" if ms else ", on the click"
    spread = f"spread {1000 * placement.spread_s:.0f} ms" if placement.spread_s is not None else ""
    slips = [f"{tally.touched} touched"] * bool(tally.touched) + [f"{tally.rushed} rushed"] * bool(
        tally.rushed
    )
    slips += [f"{tally.by_word} counted by word"] * bool(tally.by_word)
    third = ", ".join([*([spread] * bool(spread)), *slips])
    return ResultRow(
        name=name,
        facts=tuple(line for line in (words, second, besides or third) if line),
        placements_s=tally.placements_s,
        verdicts=tally.verdicts,
        placement=placement,
        pocket_s=tally.pocket_s,
    )
