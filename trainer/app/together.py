"""Let two to eight players tap at once, each on a pad or key of their own, over one sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from trainer.app.corner import Corner
from trainer.app.played import Run
from trainer.app.stage import MIDI_UNCERTAINTY_S, Stage
from trainer.app.tap_sound import play
from trainer.app.views_of import recent_of, sheet_of
from trainer.devices.keys import KeyMoment
from trainer.devices.midi import MidiInputs, MidiTap
from trainer.devices.speaker import SpeakerState
from trainer.errors import TrainerError
from trainer.judging.take import Judgement, Tap
from trainer.practice.classroom import turn_of
from trainer.practice.drill import Drill, DrillMoment, DrillSettings, Phase, Recent
from trainer.practice.seats import Seats, Source
from trainer.screen.scenes.together import TogetherView
from trainer.screen.views import Act, Action, DrillView, PlayerRow, Window
from trainer.sound.plan import plan_for

KEPT_KEYS = ("escape", "return", "enter", "backspace", "f5", "f11", "")  # they steer, or have no name

Finished = Callable[[tuple[tuple[str, Judgement], ...], Run], None]
"""Takes each player's name and judgement, and what was played."""


class Together(Corner):
    """Pads given out by touch, then one drill for all.

    Args:
        stage: for the sound, the settings and the port in use.
        run: pattern, tempo and passes.
        names: the players, at most eight are asked; none for "Player 1" and so on.
        finished: told when a drill came to its end.
        listen: makes another set of inputs, for the ports that the stage does not listen to.
    """

    def __init__(
        self,
        stage: Stage,
        run: Run,
        names: tuple[str, ...],
        finished: Finished,
        listen: Callable[[], MidiInputs] = MidiInputs,
    ) -> None:
        self._stage = stage
        self._run = run
        self._finished = finished
        self.seats = Seats.of(names)
        self._drills: tuple[Drill, ...] = ()
        self._moment: DrillMoment | None = None
        self._song_s = 0.0
        self._results: tuple[str, ...] = ()
        self._inputs: list[MidiInputs] = []
        self._open_others(listen)

    @property
    def in_time(self) -> bool:  # type: ignore[override]
        """Whether the drill runs."""
        return self._moment is not None and not self._results

    def view(self, window: Window) -> TogetherView:
        """Return the seats, or the sheet with a row for each player."""
        return TogetherView(
            window=window,
            seats=self.seats,
            title=self._run.pattern.title,
            drill=self._drill_view(window),
            results=self._results,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Begin, begin again, or take a pad back."""
        if action.act is Act.START:
            if self.seats.can_begin:
                self._start(host_ns)
        elif action.act is Act.UNDO and self._moment is None:
            self.seats = self.seats.undone()
        else:
            return False
        return True

    def tick(self, host_ns: int) -> None:
        """Hear the other ports, and move all drills on."""
        for inputs in self._inputs:
            inputs.scan()
            self._heard(inputs.open_name, inputs.poll())
        if not self.in_time:
            return
        speaker = self._stage.speaker
        song_s = speaker.song_s(host_ns)
        if song_s is None or speaker.state is SpeakerState.LOST:
            self._stage.say("The sound device was lost; this time does not count.")
            self._end(counts=False)
            return
        self._song_s = song_s
        moments = [drill.advance(song_s) for drill in self._drills]
        self._moment = moments[0]
        if all(moment.phase is Phase.DONE for moment in moments):
            if speaker.xruns:
                self._stage.say("The sound was interrupted; this time does not count.")
            self._end(counts=not speaker.xruns)

    def key_down(self, key: str, *, host_ns: int, looked_ns: int) -> bool:
        """Take in a key as somebody's pad."""
        if key in KEPT_KEYS:
            return False
        moment = KeyMoment.between(looked_ns, host_ns)
        self._tap(Source(key=key), moment.host_ns, None, moment.uncertainty_s)
        return True

    def midi_taps(self, taps: tuple[MidiTap, ...]) -> None:
        """Take in what the port in use has sent."""
        self._heard(self._stage.hearing.midi.open_name, taps)

    def leave(self) -> None:
        """Fall silent, and let go of the other ports."""
        self._stage.speaker.stop()
        for inputs in self._inputs:
            inputs.end()
        self._inputs = []

    # Taps

    def _open_others(self, listen: Callable[[], MidiInputs]) -> None:
        """Listen to every port but the one in use; one that cannot be opened is another program's."""
        mine = self._stage.hearing.midi.open_name
        for port in self._stage.hearing.midi.ports():
            if port == mine:
                continue
            inputs = listen()
            try:
                inputs.open(port)
            except TrainerError as problem:
                self._stage.say(str(problem))
                inputs.end()
                continue
            self._inputs.append(inputs)

    def _heard(self, port: str, taps: tuple[MidiTap, ...]) -> None:
        for tap in taps:
            source = Source(port=port, channel=tap.channel, note=tap.note)
            self._tap(source, tap.host_ns, tap.velocity, MIDI_UNCERTAINTY_S)

    def _tap(self, source: Source, host_ns: int, velocity: int | None, uncertainty_s: float) -> None:
        if self._moment is None:
            self.seats = self.seats.touched(source)
            return
        seat = self.seats.seat_of(source)
        song_s = self._stage.tapped_s(host_ns)
        if seat is None or song_s is None or not self.in_time:
            return
        tap = Tap(song_s=song_s, velocity=velocity, uncertainty_s=uncertainty_s)
        drill = self._drills[seat]
        drill.tap(tap)
        if self._stage.chosen.settings.tap_sound:
            play(drill, tap, self._stage.chosen.volume_db, self._stage.speaker)

    # The drill

    def _start(self, host_ns: int) -> None:
        stage, run = self._stage, self._run
        settings = DrillSettings(
            pattern=run.pattern,
            bpm=run.bpm,
            passes=run.passes,
            feel=stage.chosen.feel,
            pocket=stage.chosen.pocket,
        )
        self._drills = tuple(Drill(settings) for _ in self.seats.sources)
        first = self._drills[0]
        plan = plan_for(
            run.pattern,
            first.timeline,
            passes=run.passes,
            settings=stage.sound_settings(),
            feel=stage.chosen.feel,
            rate=stage.speaker.rate,
        )
        stage.speaker.start(plan, host_ns)
        self._results = ()
        self._song_s = first.start_s
        self._moment = first.advance(first.start_s)

    def _end(self, *, counts: bool) -> None:
        self._stage.speaker.stop()
        played = [
            (name, drill.judgement()) for name, drill in zip(self.seats.names, self._drills, strict=False)
        ]
        turns = [turn_of(take, pattern=self._run.pattern.name, bpm=self._run.bpm) for _, take in played]
        self._results = tuple(turn.in_words for turn in turns)
        if counts:
            self._finished(tuple(played), self._run)

    def _drill_view(self, window: Window) -> DrillView | None:
        moment = self._moment
        if moment is None:
            return None
        sheet = sheet_of(self._drills[0], moment, self._song_s, window)
        return replace(
            sheet,
            outcomes=(),
            strays=(),
            taps=(),
            sound=self._stage.sound_words,
            others=tuple(
                _row(name, recent_of(drill, self._song_s))
                for name, drill in zip(self.seats.names, self._drills, strict=False)
            ),
        )


def _row(name: str, recent: Recent) -> PlayerRow:
    return PlayerRow(name=name, outcomes=recent.outcomes, strays=recent.strays, taps=recent.taps)
