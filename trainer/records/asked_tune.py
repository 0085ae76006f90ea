"""Read what a player asks for by name: a pattern, a break at a level, a chart with a figure.

The grammar in one sentence: the name of a pattern, a break or a chart (or the path of its file), for a break
``at`` and one of plain, ornaments and skips, for a chart ``with`` and the name of a pattern, and for both, if
another key is wanted, ``in`` and the key. ``barn-lantern``, ``barn-lantern at skips``, ``old-gate with
in-three`` and ``barn-lantern at skips in A`` are such names. A break without a level is plain; a chart
without a figure has the one that its file names.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from trainer.errors import BadSettings
from trainer.music.backup import BackupChart, lay_chart
from trainer.music.breaks import Break, lay_break
from trainer.music.keys import read_key, shape_key, sounding_key
from trainer.music.pattern import Level, Pattern
from trainer.music.source import nearest, shown
from trainer.music.tune_files import Tune

_ASKED = re.compile(
    r"(?P<name>.+?)(?:\s+at\s+(?P<level>\S+)|\s+with\s+(?P<figure>.+?))?(?:\s+in\s+(?P<key>.+))?"
)
LEVEL_WORDS = tuple(level.value for level in Level)


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedTune:
    """What a name asks for; None where it says nothing.

    Attributes:
        name: of a pattern, a break or a chart, or the path of its file.
        level: of a break.
        figure: name of the pattern to lay over a chart.
        key: the key in which a break or a chart shall sound.
    """

    name: str
    level: Level | None = None
    figure: str | None = None
    key: str | None = None


def read_asked(text: str) -> AskedTune:
    """Return what a name asks for, whether or not there is such a tune.

    Raises:
        BadSettings: not a level, or not a key.
    """
    found = _ASKED.fullmatch(text.strip())
    if found is None:
        return AskedTune(name=text)
    level, key = found["level"], found["key"]
    if level is not None and level.lower() not in LEVEL_WORDS:
        near = nearest(level, LEVEL_WORDS)
        wanted = f"did you mean {near}" if near else f"write {', '.join(LEVEL_WORDS)}"
        raise BadSettings(f"found {shown(level)} for a level", wanted)
    return AskedTune(
        name=found["name"],
        level=None if level is None else Level(level.lower()),
        figure=found["figure"],
        key=None if key is None else read_key(key),
    )


def lay(tune: Tune, asked: AskedTune, find_figure: Callable[[str], Pattern]) -> Pattern:
    """Return a tune as the pattern that was asked for.

    Args:
        find_figure: gives a pattern of the library by its name.

    Raises:
        BadSettings: it cannot be laid in that way, or the figure is not in the library.
    """
    if isinstance(tune, Pattern):
        if asked.level or asked.figure or asked.key:
            raise BadSettings(
                f"{tune.name} is a pattern and is played as it stands", f"write {tune.name} alone"
            )
        return tune
    if asked.level and isinstance(tune, BackupChart):
        raise BadSettings(
            f"{tune.name} is a chart and has no levels", f"write a figure: {tune.name} with {tune.figure}"
        )
    if asked.figure and isinstance(tune, Break):
        raise BadSettings(
            f"{tune.name} is a break and takes no figure", f"write a level: {tune.name} at skips"
        )
    moved = tune if asked.key is None else tune.in_key(asked.key)
    if isinstance(moved, Break):
        pattern = lay_break(moved, asked.level or Level.PLAIN)
    else:
        pattern = lay_chart(moved, find_figure(asked.figure or moved.figure))
    if moved.chart.key == tune.chart.key:
        return pattern
    return replace(pattern, name=f"{pattern.name} in {moved.chart.key}")


def retuned(tune: Break | BackupChart, key: str | None, capo: int | None) -> Break | BackupChart:
    """Return a tune in another key, with the capo at another fret, or both.

    A key alone moves the capo, a capo alone moves the key: the shapes stay. With both, a chart's shapes
    change; a break's melody lies where it lies, so there the two must agree.

    Raises:
        BadSettings: a break cannot sound in that key with the capo there.
    """
    shapes = shape_key(tune.chart.key, tune.tuning.capo)
    if capo is None:
        return tune if key is None else tune.in_key(key)
    sounding = sounding_key(shapes, capo)
    if isinstance(tune, Break) and key is not None and shape_key(key, capo) != shape_key(sounding, capo):
        raise BadSettings(
            f"with the capo at {capo} {tune.name} sounds in {sounding} and not in {key}",
            "leave out one of the two",
        )
    chart = replace(tune.chart, key=key or sounding)
    return replace(tune, chart=chart, tuning=replace(tune.tuning, capo=capo))
