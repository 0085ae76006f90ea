"""Write a drill down while it runs and keep its take when it is over; a failure is a sentence, never a stop.

Simulated hands are not kept: they are nobody's practice.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from trainer.app.played import Played, Run
from trainer.errors import StoreProblem, TrainerError
from trainer.judging.take import Tap
from trainer.music.timeline import Timeline
from trainer.practice.drill import Drill
from trainer.practice.stored_take import StoredTake, summarised
from trainer.records.journal import Journal, journal_folder, recover
from trainer.records.packing import utc_text
from trainer.records.store import Store

SAVED_LATER = "This take is written down beside the records and will be taken in at the next start."
NOT_SAVED = "This take is not kept."


def local_now() -> datetime:
    """Return the present moment with the time zone of the player."""
    return datetime.now().astimezone()


class Recorder:
    """The records as a window sees them; every method is called from the app's thread.

    Attributes:
        store: the records; None when they could not be opened, and then nothing is kept.
        last_id: number of the take kept last; None before.
    """

    def __init__(self, store: Store | None, folder: Path, clock: Callable[[], datetime]) -> None:
        self.store = store
        self.last_id: int | None = None
        self._folder = folder
        self._clock = clock
        self._header: StoredTake | None = None
        self._journal: Journal | None = None
        self._complained = False

    @classmethod
    def open(cls, records: Path, clock: Callable[[], datetime] = local_now) -> tuple[Recorder, str]:
        """Open the records in a file and take in what an earlier run has left unfinished.

        Returns:
            The recorder, and what to tell the player: one or two sentences, or an empty text.
        """
        folder = journal_folder(records)
        try:
            store = Store.open(records)
        except StoreProblem as problem:
            return cls(None, folder, clock), f"{problem} Until then no take is kept."
        found = recover(folder, store)
        return cls(store, folder, clock), " ".join(note for note in (store.note, found.note) if note)

    def close(self) -> None:
        """Let go of the files; a drill that still runs is taken in at the next start."""
        if self._journal is not None:
            self._journal.leave()
        self._header, self._journal = None, None
        if self.store is not None:
            self.store.close()
            self.store = None

    def begins(
        self, run: Run, drill: Drill, *, player: str, input_name: str, sound: str, delay_ms: int
    ) -> str:
        """Begin to write a drill down; return a sentence when that cannot be done."""
        if self._journal is not None:
            self._journal.done()  # begun and left before anything was asked
        self._header, self._journal = None, None
        if self.store is None or run.hands is not None:
            return ""
        now = self._clock()
        self._header = StoredTake(
            uid=uuid.uuid4().hex,
            player=player,
            begun=utc_text(now),
            day=now.date().toordinal(),
            pattern=run.pattern,
            timeline=drill.timeline,
            passes=0,
            slots_asked=0,
            feel=drill.settings.feel,
            pocket=drill.settings.pocket,
            input_name=input_name,
            sound=sound,
            delay_ms=delay_ms,
            knows_left=drill.settings.knows_left,
        )
        try:
            self._journal = Journal.begin(self._folder, self._header)
        except StoreProblem as problem:
            return self._once(str(problem))
        return ""

    def tap(self, tap: Tap) -> None:
        """Write down a tap; costs some microseconds."""
        if self._journal is not None:
            self._journal.tap(tap)

    def retempo(self, timeline: Timeline) -> None:
        """Write down that the tempo changes."""
        if self._journal is not None:
            self._journal.tempo(timeline)

    def ends(self, played: Played) -> str:
        """Keep the take of the drill that has ended; return a sentence when it could not be kept.

        A take without a tap, or that was left before the first stroke, is nothing to keep.
        """
        header, journal = self._header, self._journal
        self._header, self._journal = None, None
        if header is None or self.store is None:
            return ""
        if not played.drill.taps or not played.judgement.outcomes:
            if journal is not None:
                journal.done()
            return ""
        take = stored_take(header, played)
        if journal is not None:
            journal.ends(take)
        try:
            self.last_id = self.store.keep(take)
        except TrainerError as problem:
            is_written = journal is not None and not journal.problem
            if journal is not None:
                journal.leave()
            return f"{problem} {SAVED_LATER if is_written else NOT_SAVED}"
        if journal is not None:
            journal.done()
        return ""

    def _once(self, sentence: str) -> str:
        """Return a sentence the first time only: what is wrong with a folder stays wrong all evening."""
        said, self._complained = self._complained, True
        return "" if said else sentence


def stored_take(header: StoredTake, played: Played) -> StoredTake:
    """Return the take of a finished drill, summarised, from what was known when it began."""
    drill, judgement = played.drill, played.judgement
    slots_asked = max((o.target.index for o in judgement.outcomes), default=-1) + 1
    return summarised(
        replace(
            header,
            timeline=drill.timeline,
            passes=-(-slots_asked // len(drill.settings.pattern.strokes)),
            slots_asked=slots_asked,
            click_off=played.click_off,
            not_graded=played.not_graded,
            taps=drill.taps,
        ),
        judgement,
    )
