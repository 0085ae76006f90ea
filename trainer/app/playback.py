"""Play a plan: keep its time, hand out what is due, notice stalls and the loss of the device.

Everything that plays in the window plays through here, one thing at a time, so what became of the sound is
known in one place and said in one way.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator

from trainer.devices.speaker import SilentSpeaker, SpeakerLike, SpeakerState, open_speaker
from trainer.errors import NoSound
from trainer.judging.spared import Span
from trainer.judging.take import Tap
from trainer.music.layout import NO_FEEL, Feel
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.sound.backing import Backing
from trainer.sound.plan import LEAD_S, SoundSettings, StreamPlan, plan_for

LOST = "the sound device was lost"
INTERRUPTED = "the sound was interrupted"
# Beside a stall nobody plays in time: it is felt before it is known, and the beat is found again after it.
BEFORE_S, AFTER_S = 0.1, 0.5
STALLS_BORNE = 2  # so many, and the buffers become deeper
DEEPENED = (
    "The sound has stalled twice, so this output gets deeper buffers from now on. "
    "If taps now seem to come early or late, measure the delay again."
)


class Playback:
    """What is being played; from the app's thread only.

    Args:
        speaker: the one to begin with.
        reopen: opens another when the device was lost.
        reopened: told of another speaker, before anything is played on it.
        deepened: told that the buffers of the one in use have become deeper, for it had stalled.

    Attributes:
        speaker: the one in use.
        song_s: the second that was heard at the last tick; that of the end when nothing plays any more.
        is_playing: whether a plan is being played.
        is_lost: whether the device went away since the start.
        stalls: seconds of the song between which the sound stood still since the start, or seemed to; they
            are known until the next start.
    """

    def __init__(
        self,
        speaker: SpeakerLike,
        *,
        reopen: Callable[[], SpeakerLike] = open_speaker,
        reopened: Callable[[SpeakerLike], None] = lambda _speaker: None,
        deepened: Callable[[SpeakerLike], None] = lambda _speaker: None,
    ) -> None:
        self.speaker = speaker
        self.song_s = 0.0
        self.is_playing = False
        self.is_lost = False
        self.stalls: tuple[Span, ...] = ()
        self._is_interrupted = False
        self._reopen = reopen
        self._reopened = reopened
        self._deepened = deepened
        self._told = 0  # stalls given out by fresh_spans
        self._stalled = 0  # of all streams since the buffers have the depth they have
        self._is_stopgap = False  # the host clock keeps time until a lost device is found again
        self._due: deque[Tap] = deque()

    @property
    def problem(self) -> str:
        """Why what was played since the start does not count, in words; empty when it does."""
        if self.is_lost:
            return LOST
        return INTERRUPTED if self._is_interrupted else ""

    def sentence(self, what_follows: str) -> str:
        """Return the problem and what follows from it in a sentence; empty without a problem."""
        problem = self.problem
        return f"{problem[:1].upper()}{problem[1:]}; {what_follows}." if problem else ""

    def start(
        self,
        host_ns: int,
        pattern: Pattern,
        timeline: Timeline,
        *,
        passes: int,
        settings: SoundSettings,
        feel: Feel = NO_FEEL,
        lead_s: float = LEAD_S,
        backing: Backing | None = None,
        due: Iterable[Tap] = (),
    ) -> StreamPlan:
        """Play from the count-in on, in place of whatever is playing; return the plan.

        A device that was lost is looked for anew, so nothing is played to one that is not there.

        Args:
            passes: 0 goes on until stopped.
            due: taps that are to be handed out by :meth:`due` when their time has come, in order.

        Raises:
            BadSettings: the track does not fit; nothing has changed.
        """
        if self.is_lost or self._is_stopgap or self.speaker.state is SpeakerState.LOST:
            self._look_for_another()

        def plan() -> StreamPlan:
            return plan_for(
                pattern,
                timeline,
                passes=passes,
                settings=settings,
                feel=feel,
                rate=self.speaker.rate,
                lead_s=lead_s,
                backing=backing,
            )

        made = plan()
        try:
            self.speaker.start(made, host_ns)
        except NoSound:
            self._look_for_another()
            made = plan()
            self.speaker.start(made, host_ns)
        self.song_s = made.song_s(0)
        self.is_playing, self.is_lost = True, False
        self.stalls, self._is_interrupted = (), False
        self._told = 0
        self._due = deque(due)
        return made

    def tick(self, host_ns: int) -> None:
        """Move on to a moment of the host clock, and see what became of the sound until then."""
        if not self.is_playing:
            return
        song_s = self.speaker.song_s(host_ns)
        if song_s is None or self.speaker.state is SpeakerState.LOST:
            self.is_lost = True
            return
        # What looked like a stall may prove to be none: a busy machine, whose sound did not run dry.
        self.stalls, self._is_interrupted = self.speaker.stalls, bool(self.speaker.xruns)
        self.song_s = song_s

    def fresh_spans(self) -> tuple[Span, ...]:
        """Return where nothing can be judged because of stalls that were not known before, each once."""
        fresh = self.stalls[self._told :]
        self._told = len(self.stalls)
        return tuple((first_s - BEFORE_S, last_s + AFTER_S) for first_s, last_s in fresh)

    def due(self, until_s: float | None = None) -> Iterator[Tap]:
        """Return the taps whose time has come, or comes until a second of the song, each once."""
        until_s = self.song_s if until_s is None else until_s
        while self._due and self._due[0].song_s <= until_s:
            yield self._due.popleft()

    def add_due(self, taps: Iterable[Tap]) -> None:
        """Let more taps be due in their time."""
        self._due = deque(sorted((*self._due, *taps), key=lambda tap: tap.song_s))

    def forget_due(self) -> None:
        """Let no tap be due any more."""
        self._due.clear()

    def heard_s(self, host_ns: int) -> float | None:
        """Return the second that was heard at a host time; None while nothing plays."""
        return self.speaker.song_s(host_ns) if self.is_playing else None

    def set_timeline(self, timeline: Timeline) -> None:
        """Go on with a change of tempo that is far enough ahead."""
        if self.is_playing:
            self.speaker.set_timeline(timeline)

    def set_sound(self, settings: SoundSettings) -> None:
        """Let other volumes hold from now on."""
        if self.is_playing:
            self.speaker.set_sound(settings)

    def stop(self) -> None:
        """Fall silent; what became of the sound is known until the next start."""
        was_playing, self.is_playing = self.is_playing, False
        self.speaker.stop()
        if was_playing and not self.is_lost:
            self._stalled += len(self.stalls)
            if self._stalled >= STALLS_BORNE:
                self._deepen()

    def _deepen(self) -> None:
        self._stalled = 0
        try:
            if self.speaker.deepen():
                self._deepened(self.speaker)
        except NoSound:
            self.is_lost = True  # another is looked for at the next start

    def _look_for_another(self) -> None:
        self.speaker.close()
        self.speaker = self._reopen()
        self._is_stopgap = isinstance(self.speaker, SilentSpeaker)
        self._reopened(self.speaker)
