"""Hold what the window shows; turn taps and wishes into the next state.

No window library here: the app hands in key names, MIDI taps and the host time, and takes views out. So
everything a person can do can be tested without a display.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from trainer.app.backing import OwnTrack
from trainer.app.climbing import Climb
from trainer.app.finishing import played_of
from trainer.app.hearing import Hearing
from trainer.app.places import Place, Places
from trainer.app.played import Played, Run
from trainer.app.practising import Practising
from trainer.app.preferences import Preferences, tempo_after
from trainer.app.recording import Recorder
from trainer.app.sending import MidiSending
from trainer.app.steering import Steering
from trainer.app.tap_sound import hands_taps, play
from trainer.devices.midi import MidiInputs, MidiTap
from trainer.devices.midi_out import MidiOut
from trainer.devices.outputs import output_name
from trainer.devices.speaker import SpeakerLike, SpeakerState
from trainer.errors import TrainerError
from trainer.judging.take import Judgement, Tap
from trainer.music.strokes import Hand
from trainer.practice.drill import Drill, DrillMoment, DrillSettings, Phase
from trainer.practice.ladder import LadderKind
from trainer.sound.plan import SoundSettings, plan_for
from trainer.sound.thinning import EVERY_BEAT

MIDI_UNCERTAINTY_S = 0.001  # a USB frame; the arrival stamp adds less while the switch interval is short
INTERRUPTED = "the sound was interrupted"
HANDS_PASSES = 4  # simulated hands do not go on until stopped


class Stage(Places):
    """The state behind the window; from the app's thread only."""

    def __init__(
        self,
        *,
        chosen: Preferences,
        speaker: SpeakerLike,
        midi: MidiInputs,
        recorder: Recorder | None = None,
        midi_out: MidiOut | None = None,
    ) -> None:
        super().__init__(chosen)
        self.speaker = speaker
        self.recorder = recorder
        chosen.output_name = output_name(speaker)
        self._lent = False  # the drill runs for the corner
        self.drill: Drill | None = None
        self.moment: DrillMoment | None = None
        self.run: Run | None = None
        self.next_bpm: Fraction | None = None
        self.climb: Climb | None = None
        self.uncertainty_s = 0.0
        self.played: Played | None = None
        self._next_beat = Fraction(0)
        self._coming: list[Tap] = []  # of the simulated hands, in order
        self._messages = 0
        self._problem = ""
        self._click_off = False
        self._thinning = chosen.thinning
        self.heard_ns = 0  # the last moment of the host clock that the stage was told
        self.hearing = Hearing(chosen, midi, self._add_note)
        self.own_track = OwnTrack()
        self.practising = Practising(chosen, recorder, self._add_note)
        self.steering = Steering(self)
        self.sending = MidiSending(chosen, midi_out, self._add_note) if midi_out is not None else None

    @property
    def simulated(self) -> bool:
        """Whether simulated hands are playing, or have played what is reviewed."""
        return self.run is not None and self.run.hands is not None

    @property
    def sound_words(self) -> str:
        """What can be heard, in a few words."""
        return self.speaker.name if self.chosen.settings.click else "click off"

    # From scene to scene

    def open_settings(self) -> None:
        """Show the settings, and remember from where."""
        if self.place is Place.DRILL:
            self.stop()
        if self.place is not Place.SETTINGS:
            self._came_from = self.place
            self.place = Place.SETTINGS

    def back(self) -> None:
        """Go back one scene."""
        if self.place is Place.SETTINGS:
            self.hearing.leave()
            self.place = self._came_from
        elif self.place is Place.CORNER:
            self.leave_corner()
        elif self.place is Place.DRILL:
            self.stop()
        else:
            self.place = Place.LIBRARY

    def change_tempo(self, steps: int) -> None:
        """Go slower or faster by steps of five: in a drill from a coming pass on, else from the next one."""
        run = self.run if self.place in (Place.DRILL, Place.REVIEW) else None
        pattern = run.pattern if run is not None else self.chosen.pattern
        if pattern is None or (self.simulated and self.place is Place.DRILL):
            return
        if self.own_track.is_ready:
            self.say("The tempo is that of your track; without it any tempo can be chosen.")
            return
        base = run.bpm if run is not None else self.chosen.bpm
        bpm = tempo_after(steps, base)
        self.keep(lambda: self.chosen.remember_tempo(pattern, bpm))
        if run is not None:
            self.run = replace(run, bpm=bpm)
        if self.place is Place.DRILL and self.drill is not None:
            if self.climb is not None:
                self.climb.moved_by_hand(pattern, bpm)
            self._retempo(bpm)

    def _retempo(self, bpm: Fraction) -> None:
        """Let another tempo begin with a coming pass; passes until then are not counted on the ladder."""
        assert self.drill is not None
        self.next_bpm = bpm
        self._next_beat = self.drill.change_tempo(bpm, self._last_song_s())
        if self.climb is not None:
            self.climb.counts_from(self._next_beat, self.drill.settings.pattern)
        self.speaker.set_timeline(self.drill.timeline)
        if self.recorder is not None:
            self.recorder.retempo(self.drill.timeline)

    def _go_on_climbing(self) -> None:
        """Judge the passes that are over, and move on the ladder."""
        assert self.drill is not None
        assert self.run is not None
        bpm = self.climb.after_passes(self.drill) if self.climb is not None else None
        if bpm is not None:
            self._retempo(bpm)
            self.run = replace(self.run, bpm=bpm)

    # Taps

    def key_down(self, key: str, *, host_ns: int, looked_ns: int) -> bool:
        """Take in a key; return whether it was used (as a tap, or as the new key of a hand)."""
        if self.place is Place.SETTINGS and self.hearing.new_key(key):
            return True
        if self.place is Place.CORNER and self.corner is not None:
            return self.corner.key_down(key, host_ns=host_ns, looked_ns=looked_ns)
        tap = self.hearing.key_tap(key, host_ns=host_ns, looked_ns=looked_ns)
        if self.place is not Place.DRILL or self.simulated or not self.hearing.is_tapped(key):
            return False
        if tap is not None:
            self._take_in(tap.host_ns, tap.hand, None, None, tap.uncertainty_s)
        return True

    def midi_taps(self, taps: tuple[MidiTap, ...]) -> None:
        """Take in what the port has sent."""
        if self.place is Place.CORNER and self.corner is not None:
            self.corner.midi_taps(taps)
            return
        for tap in taps:
            touch = self.hearing.pad_touch(tap)
            if touch is None:
                continue
            if self.place is not Place.DRILL:
                self.steering.touched(touch.hand, tap.host_ns)
            elif not self.simulated:
                self._take_in(tap.host_ns, touch.hand, touch.string, tap.velocity, MIDI_UNCERTAINTY_S)

    def tapped_s(self, host_ns: int) -> float | None:
        """Return the second that a tap of a host time is meant for: the one heard then, less the delay.

        None while nothing plays.
        """
        heard_s = self.speaker.song_s(host_ns)
        return None if heard_s is None else heard_s - self.chosen.delay_ms / 1000

    def _take_in(
        self, host_ns: int, hand: Hand | None, string: int | None, velocity: int | None, uncertainty_s: float
    ) -> None:
        song_s = self.tapped_s(host_ns)
        if self.drill is None or song_s is None:
            return
        self._messages += 1
        self.uncertainty_s = uncertainty_s
        self._play(
            Tap(song_s=song_s, hand=hand, string=string, velocity=velocity, uncertainty_s=uncertainty_s)
        )

    def _play(self, tap: Tap) -> None:
        assert self.drill is not None
        self.drill.tap(tap)
        if self.recorder is not None:
            self.recorder.tap(tap)
        if self.sending is not None:
            self.sending.tap(self.drill, tap, self.heard_ns)
        if self.chosen.settings.tap_sound:
            play(self.drill, tap, self.chosen.volume_db, self.speaker)

    # The drill

    def start(self, host_ns: int, run: Run | None = None) -> None:
        """Begin a drill with its count-in: a given one, or the one chosen."""
        pattern = self.chosen.pattern
        if run is None and pattern is not None:
            passes = 0 if self.chosen.climbs else self.chosen.settings.passes
            run = Run(pattern=pattern, bpm=self.chosen.bpm, passes=passes)
        if run is None:
            self.say("There is no pattern to drill; thumbfall patterns says why.")
            return
        if run.hands is not None and not run.passes:
            run = replace(run, passes=HANDS_PASSES)
        backing = None
        if self.own_track.is_ready and self.own_track.bpm is not None:
            try:
                backing = self.own_track.backing_for(run.pattern)
                # A track has one tempo: the drill takes it, ends with it, and nothing climbs.
                fit = backing.passes_that_fit(run.pattern.beats)
                run = replace(run, bpm=self.own_track.bpm, passes=min(run.passes or fit, fit))
            except TrainerError as problem:
                self.say(str(problem))
        self.run = run
        climbs = self.chosen.climbs and run.hands is None and not run.passes
        kind = LadderKind.named(self.chosen.settings.ladder) if climbs else LadderKind.OFF
        self.climb = None if kind is LadderKind.OFF else Climb(kind, run.pattern, run.bpm)
        self.drill = Drill(
            DrillSettings(
                pattern=run.pattern,
                bpm=run.bpm,
                passes=run.passes,
                feel=self.chosen.feel,
                pocket=self.chosen.pocket,
                knows_left=self.hearing.hears_left and run.hands is None,
            )
        )
        self._coming = hands_taps(run, self.drill) if run.hands is not None else []
        self._messages, self._problem, self.next_bpm = 0, "", None
        self._click_off = not self.chosen.clicks
        self.uncertainty_s = 0.0
        # Where a track plays no bar is silent.
        self._thinning = self.chosen.thinning if backing is None else EVERY_BEAT
        plan = plan_for(
            run.pattern,
            self.drill.timeline,
            passes=run.passes,
            settings=self.sound_settings(),
            feel=self.chosen.feel,
            rate=self.speaker.rate,
            backing=backing,
        )
        self.speaker.start(plan, host_ns)
        if self.sending is not None:
            self.sending.begin(self.speaker, host_ns)
        self._write_down(run)
        self.practising.started(host_ns, run.pattern)
        self.heard_ns = host_ns
        self.moment = self.drill.advance(self.drill.start_s)
        self.place = Place.DRILL

    def _write_down(self, run: Run) -> None:
        """Begin to write the drill down, so that it outlives even the program."""
        assert self.drill is not None
        if self.recorder is None:
            return
        note = self.recorder.begins(
            run,
            self.drill,
            player=run.player if run.player is not None else self.chosen.settings.player,
            input_name=self.hearing.in_use,
            sound=self.speaker.name,
            delay_ms=self.chosen.delay_ms,
        )
        if note:
            self.say(note)

    def end(self) -> None:
        """Give back what was opened for the stage, before the program ends."""
        if self.corner is not None:
            self.corner.leave()
        if self.sending is not None:
            self.sending.end()
        if self.recorder is not None:
            self.recorder.close()

    def lend(self, host_ns: int, run: Run) -> None:
        """Run a drill for the corner; it gets the take and the window back when the drill is over."""
        self.start(host_ns, run)
        self._lent = self.place is Place.DRILL

    def again(self, host_ns: int) -> None:
        """Begin the last drill once more."""
        self.start(host_ns, self.run)

    def sound_settings(self) -> SoundSettings:
        """Return what the stream should sound like; the program plays what the input cannot hear."""
        sound = self.chosen.sound_settings(hears_left=self.hearing.hears_left)
        return replace(sound, backing_db=self.own_track.volume_db)

    def heard_click(self) -> None:
        """Note that the click may have been heard: only a take wholly without it tells clock from hand."""
        self._click_off = self._click_off and not self.chosen.clicks

    def stop(self) -> None:
        """End the drill and review what was played so far; with nothing asked yet, go back to the library."""
        if self.drill is not None:
            self._finish(self.drill.stop(self._last_song_s()))

    def tick(self, host_ns: int) -> None:
        """Move on to a moment of the host clock."""
        for notice in self.hearing.midi.scan():
            self._port_notice(notice.name, present=notice.present)
        self.heard_ns = host_ns
        self.steering.tick(host_ns)
        if self.sending is not None:
            self.sending.tick(self.speaker, host_ns)
        if self.place is Place.CORNER and self.corner is not None:
            self.corner.tick(host_ns)
        if self.place is not Place.DRILL or self.drill is None:
            return
        song_s = self.speaker.song_s(host_ns)
        if self.speaker.state is SpeakerState.LOST or song_s is None:
            self._problem = "the sound device was lost"
            self.stop()
            return
        if self._problem in ("", INTERRUPTED):
            # What looked like a gap may prove to be none: a busy machine, whose sound did not run dry.
            self._problem = INTERRUPTED if self.speaker.xruns else ""
        while self._coming and self._coming[0].song_s <= song_s:
            self._messages += 1
            self._play(self._coming.pop(0))
        self.moment = self.drill.advance(song_s)
        self._go_on_climbing()
        if self.next_bpm is not None and self.moment.beat >= self._next_beat:
            self.next_bpm = None
        if self.moment.phase is Phase.DONE:
            self._finish(self.drill.judgement())

    def _last_song_s(self) -> float:
        assert self.drill is not None
        assert self.moment is not None
        return self.drill.timeline.seconds(Fraction(self.moment.beat))

    def _finish(self, judgement: Judgement) -> None:
        assert self.drill is not None
        assert self.moment is not None
        assert self.run is not None
        remarks = self.speaker.notes
        self.speaker.stop()
        if self.sending is not None:
            self.sending.stop()
        self.played = played_of(
            self.run,
            self.drill,
            judgement,
            bpm=self.moment.bpm,
            not_graded=self._problem,
            remarks=remarks,
            messages=self._messages,
            click_off=self._click_off,
            thinning=self._thinning,
        )
        if self.climb is not None:
            # Not while it climbed: writing to the disk takes time that a tap may need.
            pattern, bpm = self.run.pattern, self.climb.ladder.next_time_bpm
            self.keep(lambda: self.chosen.remember_tempo(pattern, bpm))
        if self.recorder is not None:
            note = self.recorder.ends(self.played)
            if note:
                self.say(note)
        self.practising.stopped(self.heard_ns)
        self.drill, self.moment = None, None
        self.first_row = 0
        self.place = Place.REVIEW if judgement.outcomes else Place.LIBRARY
        if self._lent and self.corner is not None:
            self._lent = False
            self.place = Place.CORNER
            self.corner.drilled(self.played)

    def _port_notice(self, name: str, *, present: bool) -> None:
        if name != self.chosen.settings.input_name:
            return
        if present:
            self.say(f"{name} is back.")
            return
        self.say(f"{name} was unplugged: plug it in again, or choose another input.")
        if self.place is Place.DRILL and not self.simulated:
            self._problem = "the input was unplugged"
