"""Let two to eight players tap at once, each on a pad or two of their own, or a key, over one sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from trainer.app.class_turns import turn_from
from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import result_of
from trainer.app.playback import LOST
from trainer.app.recording import local_now
from trainer.app.sheet_of import recent_of, sheet_of
from trainer.app.tap_sound import play
from trainer.devices.midi import MidiInputs
from trainer.judging.take import Judgement, Tap
from trainer.practice.classroom import player_of
from trainer.practice.drill import Drill, DrillMoment, DrillSettings, Phase, Recent
from trainer.practice.input_event import InputEvent
from trainer.practice.reading_so_far import figures_beside
from trainer.practice.seats import Seats, TouchSource
from trainer.practice.turns import Turn
from trainer.screen.actions import Act, Action
from trainer.screen.key_help import keys_of
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.other_rows import PlayerRow
from trainer.screen.scenes.together import TogetherView
from trainer.screen.window import Window
from trainer.sound.thinning import EVERY_BEAT

STEERING = keys_of("together")
SHOWN_NS = 900_000_000  # for which a touched pad is pointed out

Finished = Callable[[tuple[tuple[str, Turn], ...]], None]
"""Takes each player's name and turn."""


class TogetherController(Controller):
    """Pads given out by touch, then one drill for all.

    Args:
        request: pattern, tempo and passes.
        names: the players, eight of whom play; none for "Player 1" and so on, whose takes are not kept.
        finished: told when a drill is over.
        counted: told what was disturbed and counts by the teacher's word.
        listen: makes another set of inputs, for the ports besides the one in use.
        clock: the present moment.
    """

    def __init__(
        self,
        context: Context,
        request: DrillRequest,
        names: tuple[str, ...],
        finished: Finished,
        counted: Finished,
        *,
        listen: Callable[[], MidiInputs] = MidiInputs,
        clock: Callable[[], datetime] = local_now,
    ) -> None:
        self._context = context
        self._request = request
        self._finished = finished
        self._counted = counted
        self._listen = listen
        self._clock = clock
        self._is_class = bool(names)
        self.seats = Seats.of(names)
        self._touched: tuple[int, int] | None = None  # whose pad was touched last, and when
        self._drills: tuple[Drill, ...] = ()
        self._moment: DrillMoment | None = None
        self._messages: list[int] = []
        self._click_off = False
        self._unplugged: set[int] = set()
        self._over = False
        self._turns: tuple[tuple[str, Turn], ...] = ()
        context.inputs.listen_to_all(listen)

    @property
    def in_time(self) -> bool:
        """Whether the drill runs."""
        return self._moment is not None and not self._over

    @property
    def _waiting(self) -> tuple[tuple[str, Turn], ...]:
        """Those that do not count by themselves."""
        return tuple((name, turn) for name, turn in self._turns if not turn.counts)

    def view(self, window: Window) -> TogetherView:
        """Return the seats, or the sheet with a row for each player."""
        touched = self._touched
        recent = touched is not None and self._context.now_ns - touched[1] < SHOWN_NS
        return TogetherView(
            window=window,
            seats=self.seats,
            touched=touched[0] if touched is not None and recent else None,
            title=self._request.pattern.title,
            bpm=self._request.bpm,
            drill=self._drill_view(window) if self.in_time else None,
            is_over=self._over,
            turns=tuple(turn for _, turn in self._turns),
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Begin, begin again, leave somebody out, take a pad back, stop, or count what was disturbed."""
        act = action.act
        if act is Act.START and not self.in_time:
            if self.seats.can_begin:
                self._start(host_ns)
        elif act is Act.UNDO and self._moment is None:
            self.seats = self.seats.undone()
        elif act is Act.LEAVE_OUT and self._moment is None:
            self.seats = self.seats.left_out()
        elif act in (Act.STOP, Act.BACK) and self.in_time:
            self._stop()
        elif act is Act.COUNT and self._waiting:
            self._count()
        else:
            return False
        return True

    def tick(self) -> None:
        """Move all drills on; when they are over, conclude one with each call, for it takes some time."""
        if self._over and len(self._turns) < len(self._drills):
            self._conclude(len(self._turns))
            return
        if not self.in_time:
            return
        playback = self._context.playback
        self._look_for_pads()
        if playback.is_lost:
            self._stop()
            return
        self._click_off = self._click_off and not self._context.preferences.clicks
        spans = playback.fresh_spans()
        for first_s, last_s in spans:
            for drill in self._drills:
                drill.spare(first_s, last_s)
        if spans and self._context.recorder is not None:
            self._context.recorder.spared(self._drills[0].spans)
        moments = [drill.advance(playback.song_s) for drill in self._drills]
        self._moment = moments[0]
        if all(moment.phase is Phase.DONE for moment in moments):
            self._end()

    def heard(self, event: InputEvent) -> bool:
        """Take in a touch: somebody asks for this pad or key, or taps on it."""
        source = event.source
        if not source.port and source.key in STEERING:
            return False
        seat = self.seats.seat_of(source)
        if self.in_time:
            if seat is not None:
                self._tap(seat, event)
            return True
        if self._moment is None and seat is None:
            if not can_be_given(source):
                self._context.say("That key steers the program: give out pads, letters and digits.")
                return True
            self.seats = self.seats.touched(source, event.host_ns / 1e9)
            seat = self.seats.seat_of(source)
        if seat is not None:
            self._touched = (seat, event.host_ns)
        return True

    def covered(self) -> None:
        """Stop what runs; the pads that were given out stay theirs."""
        if self.in_time:
            self._stop()
        self._conclude_all()
        self.leave()

    def uncovered(self) -> None:
        """Hear all ports again."""
        self._context.inputs.listen_to_all(self._listen)

    def leave(self) -> None:
        """Fall silent, keep what is over, and let go of the other ports."""
        if self.in_time:
            self._stop()
        self._conclude_all()
        self._context.playback.stop()
        self._context.inputs.listen_to_one()

    # The drill

    def _start(self, host_ns: int) -> None:
        context, request = self._context, self._request
        self._conclude_all()
        preferences = context.preferences
        settings = DrillSettings(
            pattern=request.pattern,
            bpm=request.bpm,
            passes=request.passes,
            feel=preferences.feel,
            pocket=preferences.pocket,
            others=figures_beside(request.pattern, preferences.library.patterns),
        )
        self._drills = tuple(Drill(settings) for _ in self.seats.taken)
        self._messages = [0] * len(self._drills)
        self._unplugged = set()
        self._click_off = not preferences.clicks
        first = self._drills[0]
        context.playback.start(
            host_ns,
            request.pattern,
            first.timeline,
            passes=request.passes,
            settings=context.sound_settings(),
            feel=preferences.feel,
        )
        self._write_down()
        self._turns, self._over = (), False
        self._moment = first.advance(first.start_s)

    def _write_down(self) -> None:
        """Begin to write each player's drill down."""
        context = self._context
        if context.recorder is None or not self._is_class:
            return
        notes: list[str] = []
        for at, (seat, drill) in enumerate(zip(self.seats.taken, self._drills, strict=True)):
            notes.append(
                context.recorder.begins(
                    replace(self._request, player=player_of(seat.name)),
                    drill,
                    player=player_of(seat.name),
                    input_name=seat.in_words,
                    sound=context.playback.speaker.name,
                    delay_ms=context.preferences.delay_ms,
                    beside=at > 0,
                )
            )
        said = next((note for note in notes if note), "")
        if said:
            context.say(said)

    def _tap(self, seat: int, event: InputEvent) -> None:
        context = self._context
        song_s = context.tapped_s(event.host_ns)
        if song_s is None:
            return
        tap = Tap(
            song_s=song_s,
            hand=self.seats.hand_of(event.source),
            velocity=event.velocity,
            uncertainty_s=event.uncertainty_s,
        )
        drill = self._drills[seat]
        self._messages[seat] += 1
        drill.tap(tap)
        if context.recorder is not None and self._is_class:
            context.recorder.tap(tap, seat)
        if context.preferences.settings.tap_sound:
            play(drill, tap, context.preferences.volume_db, context.playback.speaker)

    def _look_for_pads(self) -> None:
        """Note whose pad has gone; it may come back, but taps were lost."""
        present = {name for name, is_there in self._context.inputs.inputs() if is_there}
        for at, seat in enumerate(self.seats.taken):
            ports = {pad.port for pad in (seat.nail, seat.thumb) if pad is not None and pad.port}
            if ports - present and at not in self._unplugged:
                self._unplugged.add(at)
                self._context.say(f"{seat.name}'s pad was unplugged: {', '.join(sorted(ports - present))}.")

    def _stop(self) -> None:
        """End with what was played so far."""
        song_s = self._context.playback.song_s
        for drill in self._drills:
            drill.stop(song_s)
        self._end()

    def _end(self) -> None:
        """Fall silent; what became of it is worked out with the next ticks."""
        self._context.playback.stop()
        self._over, self._turns = True, ()

    def _conclude_all(self) -> None:
        while self._over and len(self._turns) < len(self._drills):
            self._conclude(len(self._turns))

    def _conclude(self, at: int) -> None:
        """Judge one player's drill, and keep its take; after the last, hand the turns on."""
        context, seat, drill = self._context, self.seats.taken[at], self._drills[at]
        judgement = drill.judgement()
        result = result_of(
            replace(self._request, player=player_of(seat.name)),
            drill,
            judgement,
            bpm=self._request.bpm,
            not_graded=self._why_not_graded(at),
            remarks=context.playback.speaker.notes,
            messages=self._messages[at],
            click_off=self._click_off,
            thinning=EVERY_BEAT,
        )
        uid = ""
        if context.recorder is not None and self._is_class:
            note = context.recorder.ends(result, at)
            uid = context.recorder.last_uid
            if note:
                context.say(note)
        turn = turn_from(result, now=self._clock(), uid=uid, together=True)
        self._turns = (*self._turns, (seat.name, turn))
        if len(self._turns) == len(self._drills):
            self._hand_on(judgement)

    def _hand_on(self, judgement: Judgement) -> None:
        if not judgement.outcomes:  # left in the count-in
            self._moment, self._over, self._turns, self._drills = None, False, (), ()
            return
        self._finished(self._turns)

    def _why_not_graded(self, at: int) -> str:
        if self._context.playback.is_lost:
            return LOST
        return "the pad was unplugged" if at in self._unplugged else ""

    def _count(self) -> None:
        waiting = self._waiting
        self._turns = tuple(
            (name, turn if turn.counts else replace(turn, by_word=True)) for name, turn in self._turns
        )
        self._counted(waiting)

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
                _row(seat.name, recent_of(drill, song_s))
                for seat, drill in zip(self.seats.taken, self._drills, strict=True)
            ),
        )


def can_be_given(source: TouchSource) -> bool:
    """Return whether a touch can become somebody's: any pad, and keys that write one character."""
    return bool(source.port) or len(source.key.strip("[]")) == 1


def _row(name: str, recent: Recent) -> PlayerRow:
    return PlayerRow(name=name, outcomes=recent.outcomes, strays=recent.strays, taps=recent.taps)
