"""Set the player's own track in the window: choose the file, then type its beat or tap along with it."""

from __future__ import annotations

import unicodedata
from fractions import Fraction
from pathlib import Path

from trainer.app.click_pattern import METER, click_pattern
from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.own_track import OwnTrack, said, typed_seconds, typed_tempo
from trainer.app.scenes.files import choose_file
from trainer.judging.tapped_tempo import TappedTempo, UnclearTempo, tempo_of_taps
from trainer.music.timeline import Timeline
from trainer.practice.input_event import InputEvent
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.track import TrackRow, TrackView, clock_words
from trainer.screen.window import Window
from trainer.sound.backing import Backing
from trainer.sound.plan import SoundSettings

FILE, TEMPO, BEAT_1, TAP, CHECK, BAR, SPEED, VOLUME = range(8)
SPEED_STEP, SPEED_STRIDE = 5, 2  # percent; steps of a stride
WRITTEN = (FILE, TEMPO, BEAT_1)
LONGEST_LINE = 1000
LISTEN_BPM = Fraction(400)  # so that the silence before the track, as long as a count-in, is short
LISTEN_LEAD_S = 0.3
HOW = "Tap the beat with the track, from beat 1 on: the pad or key you play on, or space."
NO_FILE = (
    "Enter shows your files, or drop one on the window: WAV, FLAC, Ogg or MP3. The file is never changed."
)
NO_BEAT = "Type the tempo and where beat 1 lies, or tap along."
LOOKED_FOR = "the next time it is looked for anew"
READY = "Drills now play to this track, at its tempo, from the bar chosen here."


class TrackController(Controller):
    """Where the beat of the player's own track is set."""

    shows_track = True

    def __init__(self, context: Context, own: OwnTrack) -> None:
        self._context = context
        self._own = own
        self._focus = TAP if own.track is not None else FILE
        self._typed = ""
        self._doing = ""  # "tap" or "check" while the track is heard
        self._taps: list[float] = []
        self._found: TappedTempo | UnclearTempo | None = None
        self._said = ""
        self._uncertainty_s = 0.0
        self._heard_at_s = 0.0
        self._begin_s = 0.0  # the second of the track that the song begins with
        self._was_reading = own.is_reading

    @property
    def in_time(self) -> bool:
        """Whether taps are being taken."""
        return bool(self._doing)

    @property
    def wants_text(self) -> bool:
        """Whether the row with the focus can be written on."""
        return not self._doing and self._focus in WRITTEN

    def view(self, window: Window) -> TrackView:
        """Return the track as it is now."""
        context, own = self._context, self._own
        return TrackView(
            window=window,
            title=own.track.path.name if own.track is not None else "",
            rows=self._rows(),
            focus=self._focus,
            typed=self._typed if self.wants_text else None,
            enter_words=self._enter_words(),
            listening=self._doing == "tap",
            checking=self._doing == "check",
            taps=len(self._taps),
            place_s=self._heard_at_s,
            sentences=self._sentences(),
            can_use=self._doing == "tap" and isinstance(self._found, TappedTempo),
            input_name=context.inputs.in_use,
            uncertainty_s=self._uncertainty_s,
            sound=context.playback.speaker.name,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Do what a key or a click asks for."""
        act, value = action.act, action.value
        if act is Act.STOP and self._doing:
            self._stop()
        elif act is Act.USE and self._doing == "tap":
            self._use()
        elif self._doing:
            return act is not Act.BACK
        elif act is Act.SELECT:
            self._focus = min(max(value, 0), len(self._rows()) - 1)
            self._typed = self._said = ""
        elif act is Act.SCROLL:
            return self.act(Action(act=Act.SELECT, value=self._focus + value), host_ns)
        elif act is Act.START:
            self._enter(host_ns)
        elif act is Act.TRACK_STEP:
            self._step(value)
        elif act is Act.REMOVE:
            self._own.forget()
            context = self._context
            context.keep(lambda: context.preferences.change(own_track=""))
            self._focus, self._typed, self._said, self._found = FILE, "", "", None
        else:
            return False
        return True

    def heard(self, event: InputEvent) -> bool:
        """Take in a tap while the track is heard, by any pad or by space, and backspace while writing."""
        source = event.source
        if self._doing == "tap" and (event.touch is not None or source.port or source.key == "space"):
            self._tap(event)
            return True
        if self.wants_text and source.key == "backspace":
            self._typed = self._typed[:-1]
            return True
        return False

    def typed(self, text: str) -> None:
        """Write on the row with the focus: one line."""
        line = text.splitlines()[0] if text.splitlines() else ""
        clean = "".join(c for c in line if unicodedata.category(c) not in ("Cc", "Cs", "Cn"))
        self._typed = (self._typed + clean)[:LONGEST_LINE]

    def tick(self) -> None:
        """See how far the track has come, and whether it is over."""
        if self._was_reading and not self._own.is_reading:
            self._said = self._own.problem
            self._opened()
        self._was_reading = self._own.is_reading
        if not self._doing:
            return
        playback, own = self._context.playback, self._own
        if playback.is_lost:
            self._stop()
            self._said = playback.sentence(LOOKED_FOR)
            return
        self._heard_at_s = max(0.0, playback.song_s + self._begin_s)
        if own.track is not None and self._heard_at_s >= own.track.seconds:
            self._stop()

    def leave(self) -> None:
        """Fall silent; what is being read is read on meanwhile."""
        self._stop()

    def take(self, path: Path) -> None:
        """Begin to read a file, in the place of the one there is."""
        self._stop()
        self._focus = FILE
        rate = self._context.playback.speaker.rate
        self._said = said(lambda: self._own.open(path, rate))
        self._was_reading = self._own.is_reading
        self._opened()

    # The rows

    def _rows(self) -> tuple[TrackRow, ...]:
        own = self._own
        there, ready = own.track is not None, own.is_ready
        file = own.track.path.name if own.track is not None else ""
        length = f"  {clock_words(own.track.seconds)}" if own.track is not None else ""
        bpm = f"{float(own.bpm):g}" if own.bpm is not None else ""
        if own.played_bpm is not None and own.played_bpm != own.bpm:
            bpm += f", heard at {float(own.played_bpm):.4g}"
        beat_1 = f"{own.beat_1_s:.3f} s" if ready else ""
        bars = ""
        if ready:
            meter_beats = self._beats_per_bar
            bars = f"{own.first_bar} of {own.backing(meter_beats, first_bar=1).bars(meter_beats)}"
        return (
            TrackRow(label="File", value=file + length, prompt="choose one, or paste its path"),
            TrackRow(label="Beats a minute", value=bpm, prompt="type it, or tap", usable=there),
            TrackRow(label="Beat 1", value=beat_1, prompt="seconds, such as 3.25", usable=there),
            TrackRow(label="Tap along", value="", usable=there),
            TrackRow(label="Hear it with the click", value="", usable=ready),
            TrackRow(label="Begin with bar", value=bars, steps=True, strides=True, usable=ready),
            TrackRow(label="Speed", value=f"{own.speed} %", steps=True, strides=True, usable=there),
            TrackRow(label="Volume", value=str(own.volume), steps=True, usable=there),
        )

    @property
    def _beats_per_bar(self) -> int:
        pattern = self._context.preferences.pattern
        return pattern.meter.beats if pattern is not None else METER.beats

    def _enter_words(self) -> str:
        if not self._rows()[self._focus].usable:
            return ""
        if self._focus == FILE and not self._typed:
            return "show files"
        if self._focus in WRITTEN:
            return "take it" if self._typed else ""
        return {TAP: "start", CHECK: "listen"}.get(self._focus, "")

    def _sentences(self) -> tuple[str, ...]:
        if self._said:
            return (self._said,)
        if self._doing == "tap":
            found = self._found
            if isinstance(found, TappedTempo):
                return (found.words, self._at_the_end(found))
            return (HOW,) if found is None else (found.why,)
        if self._own.is_reading:
            return (f"Being read: {self._own.share_read * 100:.0f} %. You can go on meanwhile.",)
        if self._own.track is None:
            return (NO_FILE,)
        return (READY,) if self._own.is_ready else (NO_BEAT,)

    def _at_the_end(self, found: TappedTempo) -> str:
        assert self._own.track is not None
        off_ms = found.error_after_s(self._own.track.seconds - found.beat_1_s) * 1000
        return f"At the end of the track the beat may be off by {off_ms:.0f} ms; more taps make it less."

    # What is done with them

    def _enter(self, host_ns: int) -> None:
        if not self._enter_words():
            return
        own, typed = self._own, self._typed
        if self._focus == FILE and not typed:
            choose_file(self._context, self.take)
            return
        if self._focus == FILE:
            self.take(Path(typed.strip().strip('"')))
            return
        if self._focus == TEMPO:
            self._said = said(lambda: own.set_beat(typed_tempo(typed), own.beat_1_s))
        elif self._focus == BEAT_1:
            if own.bpm is None:
                self._said = "Type the tempo first, or tap along: it finds both."
            else:
                bpm = own.bpm
                self._said = said(lambda: own.set_beat(bpm, typed_seconds(typed)))
        elif self._focus == TAP:
            self._listen(host_ns)
        else:
            self._check(host_ns)
        if not self._said:
            self._typed = ""

    def _opened(self) -> None:
        """Go on once a file has been read, or stay where its name can be mended."""
        if self._own.is_reading:
            return
        self._focus = FILE if self._said else TAP
        if not self._said:
            self._typed = ""

    def _step(self, steps: int) -> None:
        if self._focus == BAR:
            self._said = said(lambda: self._own.step_bar(steps, self._beats_per_bar))
        elif self._focus == SPEED:
            steps = steps if abs(steps) == 1 else SPEED_STRIDE * (1 if steps > 0 else -1)
            self._said = said(lambda: self._own.slow_to(self._own.speed + SPEED_STEP * steps))
            self._was_reading = self._own.is_reading
        elif self._focus == VOLUME:
            self._own.louder(steps)

    def _listen(self, host_ns: int) -> None:
        """Play the track alone from its begin, so that seconds of the song are seconds of the file."""
        track = self._own.track
        assert track is not None
        backing = Backing(samples=track.samples, rate=track.rate, beat_1_s=0.0, bpm=LISTEN_BPM)
        sound = SoundSettings(click=False, count_in=False, left_hand=False, backing_db=self._own.volume_db)
        self._taps, self._found = [], None
        self._start(host_ns, "tap", backing, sound, LISTEN_LEAD_S)

    def _check(self, host_ns: int) -> None:
        sound = SoundSettings(
            click_db=self._context.preferences.volume_db, left_hand=False, backing_db=self._own.volume_db
        )
        self._start(host_ns, "check", self._own.backing(self._beats_per_bar), sound, LISTEN_LEAD_S)

    def _start(self, host_ns: int, doing: str, backing: Backing, sound: SoundSettings, lead_s: float) -> None:
        def start() -> None:
            self._context.playback.start(
                host_ns,
                click_pattern(),
                Timeline.steady(backing.bpm),
                passes=0,
                settings=sound,
                lead_s=lead_s,
                backing=backing,
            )

        self._said = said(start)
        self._heard_at_s = 0.0
        self._begin_s = backing.start_frame / backing.rate if doing == "check" else 0.0
        self._doing = "" if self._said else doing

    def _tap(self, event: InputEvent) -> None:
        at_s = self._context.tapped_s(event.host_ns)
        if at_s is None:
            return
        if self._taps and at_s < self._taps[-1]:
            return  # keys and pads are looked at in turn
        self._uncertainty_s = event.uncertainty_s
        self._taps.append(at_s)
        self._found = tempo_of_taps(self._taps)

    def _use(self) -> None:
        found = self._found
        if isinstance(found, TappedTempo):
            self._stop()
            self._said = said(lambda: self._own.set_heard_beat(found.bpm, max(0.0, found.beat_1_s)))
            self._focus = CHECK

    def _stop(self) -> None:
        if self._doing:
            self._doing = ""
            self._context.playback.stop()


def open_track(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Show where the player's own track is set."""
    context.navigation.open(lambda: TrackController(context, context.own_track))


def take_dropped(context: Context, path: Path) -> None:
    """Take a file that was dropped on the window for the player's own track."""
    if context.navigation.top.in_time:
        return  # nobody drops a file while playing
    if not isinstance(context.navigation.top, TrackController):
        open_track(context, context.now_ns)
    top = context.navigation.top
    if isinstance(top, TrackController):
        top.take(path)
