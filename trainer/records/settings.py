"""Keep what a player has chosen, in one JSON file in the user's settings folder.

A file that cannot be read is put aside and said so; keys of a newer version are kept as they are.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

import platformdirs

from trainer.errors import StoreProblem
from trainer.files import whole_file

APP_NAME = "thumbfall"
LARGEST_FILE_BYTES = 1 << 20
LADDERS = ("off", "plain", "homing in", "alternating")
THINNINGS = ("every beat", "first of the bar", "up slots", "off for N bars in M")
TEXT_SIZES = ("usual", "large", "largest")
SCREEN_WISHES = ("start", "slower", "faster", "next")
LONGEST_NAME = 40  # of a player; what a board of results can show
CHOICES = {"ladder": LADDERS, "thinning": THINNINGS, "text_size": TEXT_SIZES}
RANGES = {
    "click_volume": (0, 10),
    "band_volume": (0, 10),
    "lay_back_ms": (-80, 80),
    "passes": (0, 10_000),
    "thin_off": (1, 15),
    "thin_of": (2, 16),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything remembered from one start to the next.

    Attributes:
        input_name: the input in use without its trailing ids; empty for the computer's keys.
        pads: by input name, the taught pads in the words of ``trainer.practice.pads``.
        nail_key, thumb_key: names of keys.
        left_key: name of the left hand's key; empty when it has none.
        click, subdivide, tap_sound: what is heard.
        click_volume: 0 to 10.
        pocket: name of the pocket.
        swing: long to short of the target, as text; "1" for straight.
        thinning: which clicks are heard, one of ``THINNINGS``; in the last of them the click is silent for
            ``thin_off`` bars of every ``thin_of``.
        band: whether a band plays the chords; ``band_volume`` 0 to 10.
        midi_out: the port that clicks and clock are sent to; empty for none.
        lay_back_ms: by how much the targets of ``lay_back_of`` are moved behind the beat; that is a kind of
            stroke, or "all".
        delays_ms: by input name, how late sound and input together are, as text.
        known_delays: by "INPUT | OUTPUT", the same as measured, in ms as text.
        theme: name of the theme; ``text_size`` one of ``TEXT_SIZES``.
        full_screen: whether the window fills the screen.
        pattern: name of the pattern last chosen.
        tempi: by pattern name, the tempo last drilled, as text.
        passes: passes of a drill; 0 until stopped.
        ladder: how the tempo climbs on clean passes, one of ``LADDERS``.
        player: who plays; empty when nobody said.
        pads_steer: whether the pads also start, repeat and change the tempo while nothing is played.
        own_keys: by what it asks for (``SCREEN_WISHES``), a key that does the same as the usual one.
        records_folder: where takes are kept; empty for the user's data folder.
        cautions_seen: whether the cautions, and the questions of the first start, have been shown.
        other: keys of a newer version, kept.
    """

    input_name: str = ""
    pads: dict[str, str] = field(default_factory=dict)
    nail_key: str = "f"
    thumb_key: str = "j"
    left_key: str = ""
    click: bool = True
    click_volume: int = 7
    subdivide: bool = False
    tap_sound: bool = True
    thinning: str = "every beat"
    thin_off: int = 2
    thin_of: int = 4
    band: bool = False
    band_volume: int = 5
    midi_out: str = ""
    pocket: str = "middle"
    swing: str = "1"
    lay_back_ms: int = 0
    lay_back_of: str = "all"
    delays_ms: dict[str, str] = field(default_factory=dict)
    known_delays: dict[str, str] = field(default_factory=dict)
    theme: str = "room"
    text_size: str = "usual"
    full_screen: bool = False
    pattern: str = ""
    tempi: dict[str, str] = field(default_factory=dict)
    passes: int = 4
    ladder: str = "off"
    player: str = ""
    pads_steer: bool = True
    own_keys: dict[str, str] = field(default_factory=dict)
    records_folder: str = ""
    cautions_seen: bool = False
    other: dict[str, object] = field(default_factory=dict)


def settings_path() -> Path:
    """Return where the settings are kept."""
    return Path(platformdirs.user_config_dir(APP_NAME)) / "settings.json"


def load_settings(path: Path | None = None) -> tuple[Settings, str]:
    """Return the settings and one sentence about what was wrong with them, or an empty text.

    A missing file gives the defaults. A value of the wrong kind gives that key's default. A file that is
    no JSON at all is renamed and left for its owner.
    """
    path = path or settings_path()
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise ValueError("too large")
        raw = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(raw, dict):
            raise ValueError("not a table")
    except FileNotFoundError:
        return Settings(), ""
    except (OSError, ValueError, RecursionError) as err:
        return Settings(), _put_aside(path, err)
    return _from_table(raw)


def save_settings(settings: Settings, path: Path | None = None) -> None:
    """Write the settings whole or not at all.

    Raises:
        StoreProblem: the folder cannot be written.
    """
    path = path or settings_path()
    table = {f.name: getattr(settings, f.name) for f in fields(settings) if f.name != "other"}
    text = json.dumps({**settings.other, **table}, indent=2, ensure_ascii=False, sort_keys=True)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # A lone surrogate, as names of ports can hold, has no UTF-8; its backslash form is JSON's own.
        with whole_file(path, errors="backslashreplace") as file:
            file.write(text + "\n")
    except OSError as err:
        raise StoreProblem(
            f"the settings cannot be kept in {path} ({err.strerror})",
            "free some space or mend the folder's rights; the program goes on without",
        ) from err


def _put_aside(path: Path, err: Exception) -> str:
    aside = path.with_name(path.name + ".unread")
    try:
        path.replace(aside)
    except OSError:
        return f"the settings in {path} cannot be read ({err}); the usual ones are used."
    return f"the settings in {path} cannot be read ({err}); they are put aside as {aside.name}."


def _from_table(raw: dict[str, object]) -> tuple[Settings, str]:
    settings = Settings()
    known = {f.name for f in fields(Settings)} - {"other"}
    wrong = []
    raw = _migrated(raw)
    for name in sorted(known & raw.keys()):
        value, usual = raw[name], getattr(settings, name)
        if _fits(name, value, usual):
            settings = replace(settings, **{name: value})  # type: ignore[arg-type]
        else:
            wrong.append(name)
    other = {name: value for name, value in raw.items() if name not in known}
    if settings.thin_off >= settings.thin_of:
        wrong.append("thin_off")
        settings = replace(settings, thin_off=Settings().thin_off, thin_of=Settings().thin_of)
    note = f"the settings hold an unusable {', '.join(wrong)}; the usual is used." if wrong else ""
    return replace(settings, other=other), note


def _migrated(raw: dict[str, object]) -> dict[str, object]:
    """Return a table in today's words: the ladder was once only on or off."""
    if isinstance(raw.get("ladder"), bool):
        return {**raw, "ladder": "plain" if raw["ladder"] else "off"}
    return raw


def _fits(name: str, value: object, usual: object) -> bool:
    """Return whether a value is of the right kind, among the choices and inside the range."""
    if type(value) is not type(usual):
        return False
    if isinstance(value, dict):
        return all(isinstance(k, str) and isinstance(v, str) for k, v in value.items())
    if name in CHOICES:
        return value in CHOICES[name]
    if name in RANGES:
        least, most = RANGES[name]
        return isinstance(value, int) and least <= value <= most
    if name == "player":
        return isinstance(value, str) and len(value) <= LONGEST_NAME
    return True
