"""Let two to eight players tap at once, each on a pad or key of their own, over one sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.sheet_of import recent_of, sheet_of
from trainer.app.tap_sound import play
from trainer.devices.midi import MidiInputs
from trainer.judging.take import Judgement, Tap
from trainer.practice.classroom import turn_of
from trainer.practice.drill import Drill, DrillMoment, DrillSettings, Phase, Recent
from trainer.practice.input_event import InputEvent
from trainer.practice.seats import Seats
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.other_rows import PlayerRow
from trainer.screen.scenes.together import TogetherView
from trainer.screen.window import Window

KEPT_KEYS = ("escape", "return", "enter", "backspace", "f5", "f11", "")  # they steer, or have no name

Finished = Callable[[tuple[tuple[str, Judgement], ...], DrillRequest], None]
"""Takes each player's name and judgement, and what was played."""


class TogetherController(Controller):
    """Pads given out by touch, then one drill for all.

    Args:
        request: pattern, tempo and passes.
        names: the players, at most eight are asked; none for "Player 1" and so on.
        finished: told when a drill came to its end.
        listen: makes another set of inputs, for the ports besides the one in use.
    """

    def __init__(
        self,
        context: Context,
        request: DrillRequest,
        names: tuple[str, ...],
        finished: Finished,
        listen: Callable[[], MidiInputs] = MidiInputs,
    ) -> None:
        self._context = context
        self._request = request
        self._finished = finished
        self.seats = Seats.of(names)
        self._drills: tuple[Drill, ...] = ()
        self._moment: DrillMoment | None = None
        self._results: tuple[str, ...] = ()
        context.inputs.listen_to_all(listen)

    @property
    def in_time(self) -> bool:
        """Whether the drill runs."""
        return self._moment is not None and not self._results

    def view(self, window: Window) -> TogetherView:
        """Return the seats, or the sheet with a row for each player."""
        return TogetherView(
            window=window,
            seats=self.seats,
            title=self._request.pattern.title,
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

    def tick(self) -> None:
        """Move all drills on."""
        if not self.in_time:
            return
        playback = self._context.playback
        if playback.is_lost:
            self._end()
            return
        for first_s, last_s in playback.fresh_spans():
            for drill in self._drills:
                drill.spare(first_s, last_s)
        moments = [drill.advance(playback.song_s) for drill in self._drills]
        self._moment = moments[0]
        if all(moment.phase is Phase.DONE for moment in moments):
            self._end()

    def heard(self, event: InputEvent) -> bool:
        """Take in a touch: somebody asks for this pad or key, or taps on it."""
        source = event.source
        if not source.port and source.key in KEPT_KEYS:
            return False
        if self._moment is None:
            self.seats = self.seats.touched(source)
            return True
        seat = self.seats.seat_of(source)
        song_s = self._context.tapped_s(event.host_ns)
        if seat is None or song_s is None or not self.in_time:
            return True
        tap = Tap(song_s=song_s, velocity=event.velocity, uncertainty_s=event.uncertainty_s)
        drill, preferences = self._drills[seat], self._context.preferences
        drill.tap(tap)
        if preferences.settings.tap_sound:
            play(drill, tap, preferences.volume_db, self._context.playback.speaker)
        return True

    def covered(self) -> None:
        """End: pads given out are not kept under another scene."""
        self._context.navigation.drop(self)

    def leave(self) -> None:
        """Fall silent, and let go of the other ports."""
        self._context.playback.stop()
        self._context.inputs.listen_to_one()

    # The drill

    def _start(self, host_ns: int) -> None:
        context, request = self._context, self._request
        preferences = context.preferences
        settings = DrillSettings(
            pattern=request.pattern,
            bpm=request.bpm,
            passes=request.passes,
            feel=preferences.feel,
            pocket=preferences.pocket,
        )
        self._drills = tuple(Drill(settings) for _ in self.seats.sources)
        first = self._drills[0]
        context.playback.start(
            host_ns,
            request.pattern,
            first.timeline,
            passes=request.passes,
            settings=context.sound_settings(),
            feel=preferences.feel,
        )
        self._results = ()
        self._moment = first.advance(first.start_s)

    def _end(self) -> None:
        context, request = self._context, self._request
        context.playback.stop()
        played = tuple(
            (name, drill.judgement()) for name, drill in zip(self.seats.names, self._drills, strict=False)
        )
        turns = [turn_of(take, pattern=request.pattern.name, bpm=request.bpm) for _, take in played]
        self._results = tuple(turn.in_words for turn in turns)
        if context.playback.is_lost:
            context.say(context.playback.sentence("this time does not count"))
        else:
            self._finished(played, request)

    def _drill_view(self, window: Window) -> DrillView | None:
        moment = self._moment
        if moment is None:
            return None
        song_s = self._context.playback.song_s
        sheet = sheet_of(self._drills[0], moment, song_s, window)
        return replace(
            sheet,
            outcomes=(),
            strays=(),
            taps=(),
            sound=self._context.sound_words,
            others=tuple(
                _row(name, recent_of(drill, song_s))
                for name, drill in zip(self.seats.names, self._drills, strict=False)
            ),
        )


def _row(name: str, recent: Recent) -> PlayerRow:
    return PlayerRow(name=name, outcomes=recent.outcomes, strays=recent.strays, taps=recent.taps)
