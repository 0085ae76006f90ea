"""Keep takes as Standard MIDI Files, and read takes that any recorder has made.

Written with 30,000 ticks to a quarter note, so a written tap comes back within half a tick: 50 microseconds
at 20 bpm, the slowest, and 8 at 120. A MIDI tempo is a whole number of microseconds a quarter; ticks are
counted by the file's own tempo map, so that rounding moves no tap.
"""

from __future__ import annotations

import errno
import struct
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import mido
from mido.midifiles.meta import KeySignatureError

from trainer.errors import BadTake, StoreProblem
from trainer.files import SHARED, read_whole, write_whole
from trainer.judging.bounces import Bounces
from trainer.judging.take import Tap
from trainer.music.pattern import Meter
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.music.tuning import OPEN_G
from trainer.practice.pads import HAND_CHANNELS, SIDE_CHANNEL, UNKNOWN_HAND_CHANNEL, PadMap, own_take_map

# The library takes some 5 microseconds and 400 bytes a message, and a message can be two bytes long: a file
# of this size takes seconds at the worst. 100,000 strokes of ours take half of it.
LARGEST_FILE_BYTES = 2 << 20
MOST_NOTES = 100_000  # an hour of 28 strokes a second; reading and grading them takes some seconds
LONGEST_S = 86_400.0  # a damaged file can put its last note years away
TICKS_PER_QUARTER = 30_000  # a tick is 17 microseconds at 120 bpm and 50 at 40
DEFAULT_VELOCITY = 90
NOTE_TICKS = TICKS_PER_QUARTER // 16
UNKNOWN_STRING_NOTE = 60  # no open string of open G, so the reader knows that the string is not known
_USUAL_TEMPO_US = 500_000  # a file without a tempo is at 120: Standard MIDI Files 1.0
_MARK = "thumbfall take"
_POCKET = "pocket "  # text before the name of the pocket by which a take was judged
_BEAT_0 = "beat 0"  # text of the marker at the first beat, where the file does not begin with it


@dataclass(frozen=True, slots=True, kw_only=True)
class FileNote:
    """One note-on of a file: seconds from the file's start, channel from 0, note, velocity."""

    file_s: float
    channel: int
    note: int
    velocity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedTake:
    """What a file holds.

    Attributes:
        notes: in order of time.
        bpm: the first tempo of the file in quarter notes a minute, None when the file names none.
        own: whether this program wrote it, so that channels tell hands.
        beat_0_s: second of the file at which it marks beat 0; 0 when it marks none.
        pocket: name of the pocket by which the take was judged when it was written; empty when unknown.
    """

    notes: tuple[FileNote, ...]
    bpm: float | None
    own: bool
    beat_0_s: float = 0.0
    pocket: str = ""

    def pads(self) -> PadMap:
        """Return the map to read the file by when nobody names one.

        Files of our own tell hands by channel; of any other only the time is known.
        """
        return own_take_map() if self.own else PadMap()

    def taps(self, pads: PadMap | None = None, *, offset_s: float = 0.0) -> tuple[Tap, ...]:
        """Return the taps, beat 0 at ``offset_s`` of the file; notes that no pad sends are left out."""
        pads = self.pads() if pads is None else pads
        # A long take has few different notes, and a map can have many pads.
        touches = {
            (channel, note): pads.touch(channel, note)
            for channel, note in {(each.channel, each.note) for each in self.notes}
        }
        found = []
        bounces = Bounces()
        for note in self.notes:
            pad = (note.channel, note.note)
            touch = touches[pad]
            if touch is not None and bounces.is_touch(pad, round(note.file_s * 1e6)):
                found.append(
                    Tap(
                        song_s=note.file_s - offset_s,
                        hand=touch.hand,
                        string=touch.string,
                        velocity=note.velocity,
                    )
                )
        return tuple(found)


def read_take(path: Path) -> RecordedTake:
    """Read the note-ons of a Standard MIDI File of type 0 or 1.

    Raises:
        BadTake: not readable, not a MIDI file, damaged, or with no note in it.
    """
    try:
        data = read_whole(path, LARGEST_FILE_BYTES)
    except FileNotFoundError as err:
        raise BadTake(f"there is no file {path}", "check the name") from err
    except PermissionError as err:
        raise BadTake(f"{path} may not be read", "mend the file's rights") from err
    except OSError as err:
        if path.is_dir():
            raise BadTake(f"{path} is a folder", "name a MIDI file in it") from err
        if err.errno != errno.EFBIG:
            raise BadTake(f"{path} cannot be read ({err.strerror})", "name a MIDI file") from err
        size = path.stat().st_size
        raise BadTake(
            f"{path} is {size} bytes long and at most {LARGEST_FILE_BYTES} are read", "cut the recording"
        ) from err
    try:
        midi = mido.MidiFile(file=BytesIO(data), clip=True)
        take = _walk(midi, path)
    except BadTake:
        raise
    # What the library lets out on damaged files, found by trying thousands of them.
    except (OSError, EOFError, ValueError, LookupError, TypeError, struct.error, KeySignatureError) as err:
        raise BadTake(f"{path} is not a readable MIDI file", "export the take again") from err
    if not take.notes:
        raise BadTake(f"{path} holds no note", "record the taps as notes")
    return take


def write_take(
    path: Path,
    taps: tuple[Tap, ...],
    timeline: Timeline,
    meter: Meter,
    *,
    title: str = "",
    lead_s: float = 0.0,
    pocket: str = "",
) -> None:
    """Write taps as a file of type 1: tempo map in the first track, taps in the second.

    The channel tells the hand (nail 1, thumb 2, left 3; unknown 4) and the note is the open string's
    pitch, or 60 where the string is not known.

    Args:
        lead_s: second of the file at which beat 0 lies; taps up to this much before beat 0 can be kept. A
            marker in the file tells the reader.
        pocket: name of the pocket by which the take was judged, so that it can be read again as it was.

    Raises:
        StoreProblem: the file cannot be written.
    """
    tempi = _tempo_map(timeline, meter, lead_s)
    midi = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER)
    head = mido.MidiTrack()
    head.append(mido.MetaMessage("text", text=_MARK))
    if pocket:
        head.append(mido.MetaMessage("text", text=_POCKET + pocket))
    if title:
        head.append(mido.MetaMessage("track_name", name=title.encode("latin-1", "replace").decode("latin-1")))
    numerator, denominator = (int(part) for part in meter.value.split("/"))
    head.append(mido.MetaMessage("time_signature", numerator=numerator, denominator=denominator))
    placed = [(tick, mido.MetaMessage("set_tempo", tempo=tempo)) for tick, _second, tempo in tempi]
    if lead_s > 0:
        placed.append((_tick(lead_s, tempi), mido.MetaMessage("marker", text=_BEAT_0)))
    at = 0
    for tick, message in sorted(placed, key=lambda p: p[0]):
        head.append(message.copy(time=tick - at))
        at = tick
    midi.tracks.append(head)
    midi.tracks.append(_tap_track(taps, tempi, lead_s))
    save_midi(midi, path)


def save_midi(midi: mido.MidiFile, path: Path) -> None:
    """Write a MIDI file whole or not at all.

    Raises:
        StoreProblem: it cannot be written.
    """
    data = BytesIO()
    midi.save(file=data)
    try:
        write_whole(path, data.getvalue(), mode=SHARED)
    except OSError as err:
        raise StoreProblem(f"{path} cannot be written ({err.strerror})", "choose another place") from err


def _channel_of(hand: Hand | None) -> int:
    if hand is Hand.NONE:
        return SIDE_CHANNEL
    return UNKNOWN_HAND_CHANNEL if hand is None else HAND_CHANNELS[hand]


def _tap_track(taps: tuple[Tap, ...], tempi: list[tuple[int, float, int]], lead_s: float) -> mido.MidiTrack:
    messages: list[tuple[int, int, mido.Message]] = []
    sounding: dict[tuple[int, int], int] = {}
    kept = [t for t in taps if t.song_s + lead_s >= 0]
    for tap in sorted(kept, key=lambda t: t.song_s, reverse=True):
        tick = _tick(tap.song_s + lead_s, tempi)
        channel = _channel_of(tap.hand)
        note = OPEN_G.note(tap.string) if tap.string is not None else UNKNOWN_STRING_NOTE
        velocity = min(max(tap.velocity or DEFAULT_VELOCITY, 1), 127)
        # A note ends before the same note begins again.
        end = min(tick + NOTE_TICKS, sounding.get((channel, note), tick + NOTE_TICKS))
        sounding[(channel, note)] = tick
        on = mido.Message("note_on", channel=channel, note=note, velocity=velocity)
        messages.append((tick, 1, on))
        messages.append((end, 0, mido.Message("note_off", channel=channel, note=note)))
    track = mido.MidiTrack()
    at = 0
    for tick, _order, message in sorted(messages, key=lambda m: (m[0], m[1])):
        track.append(message.copy(time=tick - at))
        at = tick
    return track


def _tempo_map(timeline: Timeline, meter: Meter, lead_s: float) -> list[tuple[int, float, int]]:
    """Return (tick, second, microseconds a quarter) for each span of the timeline from beat 0 on."""
    tempi: list[tuple[int, float, int]] = []
    for span in timeline.spans:
        tempo = round(60_000_000 / (span.bpm * meter.beat_quarters))
        second = max(0.0, float(span.start_s)) + lead_s
        tick = _tick(second, tempi) if tempi else 0
        # The change falls on a whole tick: its second is what a reader will compute for it.
        second = _second(tick, tempi) if tempi else 0.0
        tempi.append((tick, second, tempo))
    return tempi


def _tick(second: float, tempi: list[tuple[int, float, int]]) -> int:
    tick, since, tempo = next(t for t in reversed(tempi) if t[1] <= second)
    return tick + round((second - since) * 1e6 * TICKS_PER_QUARTER / tempo)


def _second(tick: int, tempi: list[tuple[int, float, int]]) -> float:
    since_tick, since, tempo = next(t for t in reversed(tempi) if t[0] <= tick)
    return since + (tick - since_tick) * tempo / 1e6 / TICKS_PER_QUARTER


def _walk(midi: mido.MidiFile, path: Path) -> RecordedTake:
    if midi.type == 2:
        raise BadTake(f"{path} is a MIDI file of type 2, songs apart", "save it as type 0 or 1")
    if midi.type not in (0, 1):
        raise ValueError("no such type")
    if midi.ticks_per_beat <= 0:
        raise BadTake(f"{path} counts film frames, not beats", "save it with ticks to the quarter note")
    notes: list[FileNote] = []
    own, first_tempo, beat_0_s, pocket = False, None, 0.0, ""
    tempo, since_tick, since_s = _USUAL_TEMPO_US, 0, 0.0
    for tick, message in _telling(midi):
        second = since_s + (tick - since_tick) * tempo / 1e6 / midi.ticks_per_beat
        if message.type == "set_tempo":
            since_tick, since_s, tempo = tick, second, message.tempo
            first_tempo = tempo if first_tempo is None else first_tempo
        elif message.type == "text":
            own = own or message.text == _MARK
            if message.text.startswith(_POCKET):
                pocket = message.text.removeprefix(_POCKET)
        elif message.type == "marker":
            beat_0_s = second if message.text == _BEAT_0 else beat_0_s
        else:
            notes.append(
                FileNote(file_s=second, channel=message.channel, note=message.note, velocity=message.velocity)
            )
            if second > LONGEST_S:
                hours, most = f"{second / 3600:.0f}", f"{LONGEST_S / 3600:.0f}"
                raise BadTake(f"{path} has a note after {hours} hours of at most {most}", "cut the recording")
            if len(notes) > MOST_NOTES:
                raise BadTake(f"{path} holds more than {MOST_NOTES} notes", "cut the recording")
    bpm = 60e6 / first_tempo if first_tempo is not None else None
    return RecordedTake(notes=tuple(notes), bpm=bpm, own=own, beat_0_s=beat_0_s, pocket=pocket if own else "")


def _telling(midi: mido.MidiFile) -> list[tuple[int, mido.Message]]:
    """Return (tick, message) of what matters in a file, by tick; of one tick the first track first."""
    found: list[tuple[int, mido.Message]] = []
    for track in midi.tracks:
        tick = 0
        for message in track:
            tick += message.time
            kind = message.type
            # A tempo of 0 would stand still, and a note-on of velocity 0 is a note-off.
            if (
                (kind == "note_on" and message.velocity > 0)
                or (kind == "set_tempo" and message.tempo > 0)
                or kind in ("text", "marker")
            ):
                found.append((tick, message))
    found.sort(key=lambda pair: pair[0])
    return found
