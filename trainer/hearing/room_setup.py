"""Learn a room, a microphone and a banjo in half a minute: silence, a sweep, plucks of each string, touches.

Pure: sound goes in as it comes, and what is to be done next can be asked for at any moment. What is kept of
the sound is a few figures for every hundredth of a second, the strokes, and the seconds of the sweep.

What a set-up is told by: noise is what the room makes while nobody plays; touches made on purpose and what
stands out while nothing is played tell where to draw the line between the two; each pluck is told apart by
what the others have taught. A microphone that raises and lowers its own gain makes the noise after a loud
pluck softer than before; a gate cuts a pluck's end off within a hundredth of a second; without the system's
leave there come zeros.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

import numpy as np

from trainer.hearing.bands import RATE, Wave
from trainer.hearing.listening import HeardStroke, Listener
from trainer.hearing.onsets import THRESHOLD
from trainer.hearing.room import LARGEST_SOFT, LEAST_SOFT, LEAST_STRENGTH, Room, touch_threshold
from trainer.hearing.strings import StringEar
from trainer.hearing.sweep import SWEEP_S, SweepHeard, sweep_heard
from trainer.music.tuning import OPEN_G, STRINGS, Tuning

SILENCE_S, QUIET_FROM_S = 3.0, 1.2
SWEEP_STEP_S = SWEEP_S + 0.8
PLUCKS, TOUCHES = 3, 6
STRING_S, TOUCHES_S = 15.0, 20.0  # at most
LONGEST_S = 150.0
LEAST_RISE = 0.05
MARGIN, BY_ITSELF = 1.2, 80.0  # over this percentile of what rises by itself
LOOK = 512  # frames of one look at the level
HIGH_HZ = (6000.0, 12_000.0)
CLIPPED = 0.999
CLIPPED_SHARE = 2e-4
LEAST_DB = -120.0
LOUDER_DB = 12.0  # a pluck stands out by more
CLEAR_SNR_DB, LEAST_SNR_DB = 20.0, 10.0
GATE_DB, GATE_S = 18.0, 0.9  # what a gate cuts off within two looks; so long after a pluck it is looked for
GAIN_DB, GAIN_FROM_S, GAIN_TO_S = 4.0, 0.10, 0.50
STRINGS_TOLD = 0.93  # of the plucks


class SetupStep(enum.Enum):
    """What is done; the value is what the step is called."""

    SILENCE = "silence"
    SWEEP = "sweep"
    STRINGS = "strings"
    TOUCHES = "touches"
    DONE = "done"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupFound:
    """What a set-up has found.

    Attributes:
        room: what is to be kept.
        can: what can be told in this room, in a sentence; empty where the room will not do.
        why_not: why the room will not do, a sentence each; empty where it will.
        remarks: what else is to be known, a sentence each.
    """

    room: Room
    can: str
    why_not: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


class RoomSetup:
    """One set-up; sound comes in pieces, mono at 48 kHz, from -1 to 1.

    Args:
        tuning: tuning and capo of the banjo.
        has_loudspeaker: whether a sweep can be played at all.

    Attributes:
        step: what is being done.
        string: which string is to be plucked, in the step of the strings.
        plucks: how many plucks of each string were heard, by string.
        touches: levels of the touches heard, in dB.
        sweep: what was heard of the sweep; None before it was.
    """

    def __init__(self, tuning: Tuning = OPEN_G, *, has_loudspeaker: bool = True) -> None:
        self.tuning = tuning
        self.step = SetupStep.SILENCE
        self.string = 1
        self.sweep: SweepHeard | None = None
        self._has_loudspeaker = has_loudspeaker
        self._listener = Listener(threshold=LEAST_RISE, touch_threshold=LEAST_STRENGTH)
        self._taken = 0  # frames
        self._step_from_s = 0.0
        self._levels: list[tuple[float, float, float]] = []  # mean, high band, peak, in dB
        self._rest = np.zeros(0)
        self._sound: list[Wave] = []  # of the sweep's step
        self._loud = self._clipped = 0
        self._all_zero = True
        self._quiet: list[HeardStroke] = []
        self._plucked: dict[int, list[HeardStroke]] = {string: [] for string in range(1, STRINGS + 1)}
        self._ringing: list[HeardStroke] = []
        self._touched: list[HeardStroke] = []
        self._silence = (LEAST_DB, LEAST_DB, LEAST_DB)

    @property
    def seconds(self) -> float:
        """How much sound has come."""
        return self._taken / RATE

    @property
    def plucks(self) -> dict[int, int]:
        """How many plucks of each string were heard."""
        return {string: len(heard) for string, heard in self._plucked.items()}

    @property
    def touches(self) -> tuple[float, ...]:
        """The levels of the touches heard, in dB below full scale."""
        return tuple(each.level_db for each in self._touched)

    @property
    def pluck_db(self) -> float:
        """The level of a usual pluck in dB below full scale; 0 before any was heard."""
        plucks = self._all_plucks()
        return float(np.median([each.level_db for each in plucks])) if plucks else 0.0

    @property
    def levels(self) -> tuple[float, ...]:
        """The latest levels in dB below full scale, one for each look, about four seconds of them."""
        return tuple(mean for mean, _high, _peak in self._levels[-400:])

    @property
    def share(self) -> float:
        """How much of the step is done, 0 to 1."""
        lasted_s = self.seconds - self._step_from_s
        if self.step is SetupStep.SILENCE:
            return min(1.0, lasted_s / SILENCE_S)
        if self.step is SetupStep.SWEEP:
            return min(1.0, lasted_s / SWEEP_STEP_S)
        if self.step is SetupStep.STRINGS:
            return sum(self.plucks.values()) / (PLUCKS * STRINGS)
        return min(1.0, len(self._touched) / TOUCHES) if self.step is SetupStep.TOUCHES else 1.0

    def push(self, piece: Wave) -> None:
        """Take in the next piece of sound."""
        if self.step is SetupStep.DONE:
            return
        self._taken += len(piece)
        self._all_zero = self._all_zero and not piece.any()
        self._look(piece)
        if self.step is SetupStep.SWEEP:
            self._sound.append(piece)
        for stroke in self._listener.push(piece):
            self._hear(stroke)
        self._go_on()

    def skip(self) -> None:
        """Go on without what is asked for."""
        if self.step is SetupStep.STRINGS and self.string < STRINGS:
            self.string += 1
            self._step_from_s = self.seconds
        elif self.step is not SetupStep.DONE:
            self._next_step()

    def found(self) -> SetupFound:
        """Return what was found until now."""
        why_not, remarks = self._why_not(), self._remarks()
        taught = {
            string: np.mean([each.colour for each in heard], axis=0)
            for string, heard in self._plucked.items()
            if len(heard) >= PLUCKS - 1
        }
        can = "" if why_not else self._can()
        room = Room(
            soft_threshold=self._soft_threshold(),
            touch_threshold=self._touch_threshold(),
            tuning=self.tuning,
            taught=taught,
            words=can,
        )
        return SetupFound(room=room, can=can, why_not=why_not, remarks=remarks)

    # Taking in

    def _look(self, piece: Wave) -> None:
        """Note the level of every hundredth of a second."""
        rest = np.concatenate([self._rest, piece])
        count = len(rest) // LOOK
        looks = rest[: count * LOOK].reshape(count, LOOK)
        self._rest = rest[count * LOOK :]
        if not count:
            return
        lines = np.abs(np.fft.rfft(looks * np.hanning(LOOK), axis=1)) ** 2
        hz = np.fft.rfftfreq(LOOK, 1 / RATE)
        high = lines[:, (hz >= HIGH_HZ[0]) & (hz <= HIGH_HZ[1])].mean(axis=1)
        peaks = np.abs(looks).max(axis=1)
        for mean, above, peak in zip((looks**2).mean(axis=1), high, peaks, strict=True):
            self._levels.append((_db(mean), _db(above), 2 * _db(peak)))
        self._clipped += int((np.abs(looks) >= CLIPPED).sum())
        self._loud += looks.size

    def _hear(self, stroke: HeardStroke) -> None:
        if self.step is SetupStep.SILENCE:
            # In its first second a hearer does not know yet how quiet the room is.
            self._quiet += [stroke] if stroke.time_s > QUIET_FROM_S else []
        elif self.step is SetupStep.STRINGS:
            loud = stroke.level_db > self._silence[2] + LOUDER_DB
            if stroke.rise >= THRESHOLD and loud and stroke.time_s > self._step_from_s:
                self._plucked[self.string].append(stroke)
            else:
                self._ringing.append(stroke)
        elif self.step is SetupStep.TOUCHES and stroke.time_s > self._step_from_s:
            quiet = max((each.rise for each in self._quiet), default=0.0)
            made = stroke.rise > MARGIN * quiet and stroke.touch_strength >= self._touch_threshold()
            self._touched += [stroke] if made else []

    def _go_on(self) -> None:
        lasted_s = self.seconds - self._step_from_s
        if self.step is SetupStep.SILENCE and lasted_s >= SILENCE_S:
            looks = np.array(self._levels[10:])
            mean, high, peak = np.median(looks, axis=0)
            self._silence = (float(mean), float(high), float(peak))
            self._next_step()
        elif self.step is SetupStep.SWEEP and lasted_s >= SWEEP_STEP_S:
            self.sweep = sweep_heard(np.concatenate(self._sound))
            self._sound = []
            self._next_step()
        elif self.step is SetupStep.STRINGS:
            if len(self._plucked[self.string]) >= PLUCKS or lasted_s > STRING_S:
                self.skip()
        elif self.step is SetupStep.TOUCHES and (len(self._touched) >= TOUCHES or lasted_s > TOUCHES_S):
            self._next_step()
        if self.seconds > LONGEST_S:
            self.step = SetupStep.DONE

    def _next_step(self) -> None:
        steps = [each for each in SetupStep if self._has_loudspeaker or each is not SetupStep.SWEEP]
        self.step = steps[steps.index(self.step) + 1]
        if self._all_zero:
            self.step = SetupStep.DONE  # nothing more will come
        self._step_from_s = self.seconds

    # What was found

    def _all_plucks(self) -> list[HeardStroke]:
        return [each for heard in self._plucked.values() for each in heard]

    def _snr_db(self) -> float:
        """Return by how much a usual pluck's peak stands above the usual peaks of the noise."""
        plucks = self._all_plucks()
        usual = float(np.median([each.level_db for each in plucks])) if plucks else LEAST_DB
        return usual - self._silence[2]

    def _soft_threshold(self) -> float:
        """Return the least rise of a soft stroke: above nearly all that rises where nobody plays one."""
        rises = [each.rise for each in (*self._quiet, *self._ringing) if 0 < each.rise < THRESHOLD]
        by_itself = float(np.percentile(rises, BY_ITSELF)) if rises else 0.0
        return float(min(max(MARGIN * by_itself, LEAST_SOFT), LARGEST_SOFT))

    def _touch_threshold(self) -> float:
        return touch_threshold((*self._quiet, *self._ringing))

    def _told_share(self) -> float:
        """Return the share of plucks whose string is told from what the others have taught."""
        right = []
        for string, heard in self._plucked.items():
            for left_out, stroke in enumerate(heard):
                taught = {
                    each: [s.colour for at, s in enumerate(others) if (each, at) != (string, left_out)]
                    for each, others in self._plucked.items()
                }
                ear = StringEar(self.tuning, {each: colours for each, colours in taught.items() if colours})
                frets = dict.fromkeys(range(1, STRINGS + 1), 0)
                right.append(ear.which(stroke.colour, frets).string == string)
        return float(np.mean(right)) if right else 0.0

    def _can(self) -> str:
        snr_db = self._snr_db()
        ms = 3 if snr_db >= CLEAR_SNR_DB else 6
        heard = [each.level_db for each in self._touched]
        usual = float(np.median([each.level_db for each in self._all_plucks()]))
        softest_db = min(0.0, float(np.percentile(heard, 20)) - usual) if heard else 0.0
        enough = len(heard) >= TOUCHES // 2
        touches = f"touches to −{round(-softest_db)} dB under a pluck" if enough else "touches no"
        strings = "yes" if self._told_share() >= STRINGS_TOLD else "not surely"
        return f"In this room: strokes to {ms} ms, {touches}, strings {strings}."

    def _why_not(self) -> tuple[str, ...]:
        if self._all_zero:
            return (
                "The microphone gives nothing but zeros: let the system allow this program to use it, or "
                "choose another microphone.",
            )
        if not self._all_plucks():
            return ("No pluck was heard: bring the microphone nearer, or turn it up.",)
        reasons = []
        if self._clipped > CLIPPED_SHARE * self._loud:
            reasons.append("The sound is clipped: turn the microphone down, or take it farther away.")
        if self._is_gated():
            reasons.append(
                "A noise gate cuts the ends of strokes off: switch noise suppression off in the system's "
                "sound settings, or use another microphone."
            )
        elif self._changes_gain():
            reasons.append(
                "The microphone changes its gain by itself: switch automatic gain off in the system's sound "
                "settings, or use another microphone."
            )
        if self._snr_db() < LEAST_SNR_DB:
            reasons.append("The room is too loud: plucks hardly stand out. Bring the microphone nearer.")
        return tuple(reasons)

    def _is_gated(self) -> bool:
        """Return whether most plucks end within two looks, as no string does by itself."""
        cut = []
        for stroke in self._all_plucks():
            start = int((stroke.time_s + 0.03) * RATE / LOOK)
            tail = np.array([mean for mean, _high, _peak in self._levels[start : start + _looks(GATE_S)]])
            if len(tail) > 3:
                cut.append(float((tail[:-2] - tail[2:]).max()) > GATE_DB)
        return len(cut) >= 3 and float(np.mean(cut)) > 0.5

    def _changes_gain(self) -> bool:
        """Return whether the noise is plainly softer just after plucks than it was in silence."""
        quiet = float(np.median([high for _mean, high, _peak in self._levels[10 : _looks(SILENCE_S)]]))
        lower = []
        for stroke in self._all_plucks():
            start = int(stroke.time_s * RATE / LOOK)
            after = [
                high
                for _mean, high, _peak in self._levels[
                    start + _looks(GAIN_FROM_S) : start + _looks(GAIN_TO_S)
                ]
            ]
            if len(after) > 8:
                lower.append(quiet - float(np.percentile(after, 25)))
        return len(lower) >= 3 and float(np.median(lower)) > GAIN_DB

    def _remarks(self) -> tuple[str, ...]:
        found = []
        if self.sweep is not None and self.sweep.is_heard:
            found.append(
                "The loudspeaker is heard, so strokes are placed against the click itself. Keep the band "
                "off, or play with headphones."
            )
        elif self._has_loudspeaker:
            found.append(
                "The loudspeaker is not heard, as with headphones: strokes are placed by the delay that is "
                "kept. After a figure that you know well, T in the review takes its mean for it."
            )
        untaught = [str(string) for string, heard in self._plucked.items() if len(heard) < PLUCKS - 1]
        if untaught and not self._all_zero:
            found.append(f"Not taught: string {', '.join(untaught)}; it is told by its pitch alone.")
        return tuple(found)


def _looks(seconds: float) -> int:
    return round(seconds * RATE / LOOK)


def _db(power: float) -> float:
    return max(LEAST_DB, 10 * float(np.log10(max(power, 1e-13))))
