"""Write a drill down while it runs and keep its take when it is over; a failure is a sentence, never a stop.

A take is safe when it is in a file of records that exists under its name; until then its journal stays. When
the records cannot be used (another program holds them, the disk is full, the file is gone), takes wait in
their journals, and where there is no room even for these in memory; after every drill it is tried again, and
it is said for as long as it holds. Simulated hands are not kept: they are nobody's practice.
"""

from __future__ import annotations

import tempfile
import uuid
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import DamagedRecords, StoreProblem, TrainerError
from trainer.judging.spared import Span
from trainer.judging.take import Tap
from trainer.music.timeline import Timeline
from trainer.practice.stored_take import MOST_SLOTS, StoredTake, summarised
from trainer.records.export import write_json
from trainer.records.journal import Journal, journal_folder, recover
from trainer.records.mending import count_words, mend, mended_words
from trainer.records.store import Store
from trainer.records.take_text import utc_text

if TYPE_CHECKING:
    from trainer.app.drill_request import DrillRequest
    from trainer.app.drill_result import DrillResult
    from trainer.practice.drill import Drill

SAVED_LATER = "This take is written down beside the records and will be taken in as soon as that can be done."
IN_MEMORY = "This take is in memory only until that can be done: leave the program open."
PATIENCE_S = 0.25  # for another program, while somebody waits in front of the window
CALM_NS = 10_000_000_000  # between two tries while nothing is played
MOST_TRIES = 3


def local_now() -> datetime:
    """Return the present moment with the time zone of the player."""
    return datetime.now().astimezone()


@dataclass(frozen=True, slots=True)
class _Running:
    """A drill that is being written down: what was known when it began, and its journal if there is one."""

    header: StoredTake
    journal: Journal | None


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A take that is not yet in the records, and its journal, if that could be written."""

    take: StoredTake
    journal: Journal | None

    @property
    def is_written(self) -> bool:
        return self.journal is not None and not self.journal.problem and self.journal.path.exists()


class Recorder:
    """The records as a window sees them; every method is called from the app's thread.

    Attributes:
        store: the records; None while they cannot be used.
        problem: why takes cannot be kept now, one sentence; empty when all is well.
        last_id: number of the take kept last; None before.
        last_uid: uid of the take of the drill that ended last; empty when nothing of it was kept.
    """

    def __init__(self, records: Path, clock: Callable[[], datetime]) -> None:
        self.store: Store | None = None
        self.problem = ""
        self.last_id: int | None = None
        self.last_uid = ""
        self._records = records
        self._folder = journal_folder(records)
        self._clock = clock
        self._running: list[_Running | None] = []
        self._waiting: list[_Waiting] = []
        self._tried_ns: int | None = None

    @classmethod
    def open(cls, records: Path, clock: Callable[[], datetime] = local_now) -> tuple[Recorder, str]:
        """Open the records in a file and take in what an earlier run has left unfinished.

        Returns:
            The recorder, and what to tell the player: some sentences, or an empty text.
        """
        recorder = cls(records, clock)
        return recorder, recorder.try_again()

    def calm(self, host_ns: int) -> str:
        """Be told now and then that nothing is played; what did not work is tried again every ten seconds.

        Returns:
            What to tell the player, or an empty text.
        """
        if not self.problem:
            return ""
        if self._tried_ns is None or host_ns - self._tried_ns >= CALM_NS:
            self._tried_ns = host_ns
            before = self.problem
            note = self.try_again()
            return "" if self.problem == before else note
        return ""

    def try_again(self) -> str:
        """Open the records if they are not open or no longer in place, and keep what waits for them.

        Costs some milliseconds, and at most a quarter of a second where another program is writing; damaged
        records are mended, which takes as long as their takes are many.

        Returns:
            What to tell the player, or an empty text.
        """
        notes: list[str] = []
        had_problem, waiting = bool(self.problem), len(self._waiting)
        try:
            self._keep_waiting(notes)
            if had_problem:
                kept = f": {count_words(waiting)} kept" if waiting else ""
                notes.append(f"The records can be used again{kept}.")
            self.problem = ""
        except TrainerError as problem:
            self.problem = f"{problem} Until then no take is in the records."
            notes.append(self.problem)
        return " ".join(note for note in notes if note)

    def close(self) -> str:
        """Let go of the files; a drill that still runs is taken in at the next start.

        Returns:
            Where takes are that could be kept nowhere else, or an empty text.
        """
        if self._waiting:
            self.try_again()
        for running in self._running:
            if running is not None and running.journal is not None:
                running.journal.leave()
        self._running = []
        for each in self._waiting:
            if each.journal is not None:
                each.journal.leave()
        unwritten = [each.take for each in self._waiting if not each.is_written]
        self._waiting = []
        self._let_go()
        return _rescued(unwritten) if unwritten else ""

    def begins(
        self,
        request: DrillRequest,
        drill: Drill,
        *,
        player: str,
        input_name: str,
        sound: str,
        delay_ms: int,
        beside: bool = False,
    ) -> str:
        """Begin to write a drill down; return a sentence when takes cannot be kept as they should.

        Args:
            beside: whether it runs beside those begun before, as several players do at once; their seats
                count from 0 in the order in which they begin.
        """
        if not beside:
            for running in self._running:
                if running is not None and running.journal is not None:
                    running.journal.done()  # begun and left before anything was asked
            self._running = []
        if request.hands is not None:
            return ""
        now = self._clock()
        header = StoredTake(
            uid=uuid.uuid4().hex,
            player=player,
            begun=utc_text(now),
            day=now.date().toordinal(),
            pattern=request.pattern,
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
            self._running.append(_Running(header, Journal.begin(self._folder, header)))
        except StoreProblem as problem:
            self._running.append(_Running(header, None))
            return self.problem or str(problem)
        return self.problem

    def tap(self, tap: Tap, seat: int = 0) -> None:
        """Write down a tap of the drill at a seat; costs some microseconds."""
        running = self._running[seat] if seat < len(self._running) else None
        if running is not None and running.journal is not None:
            running.journal.tap(tap)

    def retempo(self, timeline: Timeline) -> None:
        """Write down that the tempo changes."""
        for journal in self._journals():
            journal.tempo(timeline)

    def spared(self, spans: Sequence[Span]) -> None:
        """Write down where the sound has stalled until now."""
        for journal in self._journals():
            journal.spared(spans)

    def ends(self, result: DrillResult, seat: int = 0) -> str:
        """Keep the take of the drill that has ended; return a sentence when it could not be kept.

        A take without a tap, or that was left before the first stroke, is nothing to keep.
        """
        self.last_uid = ""
        running = self._running[seat] if seat < len(self._running) else None
        if running is None:
            return ""
        self._running[seat] = None
        header, journal = running.header, running.journal
        if not result.drill.taps or not result.judgement.outcomes:
            if journal is not None:
                journal.done()
            return ""
        take = stored_take(header, result)
        self.last_uid = take.uid
        if journal is not None:
            journal.ends(take)
        waits = _Waiting(take, journal)
        self._waiting.append(waits)
        note = self.try_again()
        if not self._waiting:
            return note
        return f"{note} {SAVED_LATER if waits.is_written else IN_MEMORY}"

    def count_by_word(self, uid: str, why: str) -> str:
        """Mark a disturbed take as counted by the teacher's word; return a sentence when that cannot be kept.

        Args:
            why: what disturbed it; empty takes the word back.
        """
        for at, each in enumerate(self._waiting):
            if each.take.uid == uid:
                self._waiting[at] = replace(each, take=replace(each.take, by_word=why))
                return ""
        try:
            if self.store is not None:
                self.store.count_by_word(uid, why)
        except TrainerError as problem:
            return str(problem)
        return ""

    def _journals(self) -> Iterator[Journal]:
        return (each.journal for each in self._running if each is not None and each.journal is not None)

    def _keep_waiting(self, notes: list[str]) -> None:
        """Keep all takes that wait, and let their journals go once they are in a file under its name.

        Raises:
            TrainerError: it cannot be done now; nothing is lost.
        """
        for _ in range(MOST_TRIES):
            try:
                store = self._opened(notes)
                for each in self._waiting:
                    self.last_id = store.keep(each.take)
            except DamagedRecords:
                self._let_go()
                notes.append(mended_words(mend(self._records, patience_s=PATIENCE_S)))
                continue
            if store.is_in_place:
                for each in self._waiting:
                    if each.journal is not None:
                        each.journal.done()
                self._waiting = []
                return
        raise StoreProblem(
            f"the file of the records, {self._records}, is removed or damaged again and again",
            "choose another folder with: thumbfall records --move",
        )

    def _opened(self, notes: list[str]) -> Store:
        """Return the records, in place and open, with what earlier runs have left taken in."""
        if self.store is not None and not self.store.is_in_place:
            notes.append(
                f"The file of the records, {self._records}, was removed or moved; new ones are begun."
            )
            self._let_go()
        if self.store is None:
            store = Store.open(self._records, PATIENCE_S)
            self.store = store
            notes.append(store.note)
            notes.append(recover(self._folder, store).note)
        return self.store

    def _let_go(self) -> None:
        if self.store is not None:
            self.store.close()
            self.store = None


def stored_take(header: StoredTake, result: DrillResult) -> StoredTake:
    """Return the take of a finished drill, summarised, from what was known when it began.

    Where skips were to be marked it is judged anew, without the marks, as it will be whenever it is read.
    """
    drill, judgement = result.drill, result.judgement
    slots_asked = min(max((o.target.index for o in judgement.outcomes), default=-1) + 1, MOST_SLOTS)
    return summarised(
        replace(
            header,
            timeline=drill.timeline,
            passes=-(-slots_asked // len(drill.settings.pattern.strokes)),
            slots_asked=slots_asked,
            click_off=result.click_off,
            placed_by=result.placed_by,
            not_graded=result.not_graded,
            taps=drill.taps,
            spared=drill.spans,
        ),
        None if drill.settings.marks_skips else judgement,
    )


def _rescued(takes: list[StoredTake]) -> str:
    """Write takes that no place was found for into the system's folder for passing files; say where."""
    path = Path(tempfile.gettempdir()) / f"thumbfall-{takes[0].uid}.json"
    with suppress(TrainerError):
        write_json(path, takes)
        return f"{count_words(len(takes))} could not be kept. Take them in with: thumbfall import {path}"
    return f"{count_words(len(takes))} could not be kept anywhere."
