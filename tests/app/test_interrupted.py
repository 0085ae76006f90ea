"""A stall costs the strokes beside it and not the take; an output that stalls gets deeper buffers."""

from pathlib import Path

import pytest

from tests.app.bench import Bench, keys_for
from trainer.app.playback import AFTER_S, BEFORE_S
from trainer.app.recording import Recorder
from trainer.app.result_words import besides_words
from trainer.devices.speaker import SilentSpeaker
from trainer.judging.spared import Span, is_spared
from trainer.judging.take import Verdict
from trainer.practice.settings import TABLE, Settings
from trainer.practice.stored_take import judgement_of
from trainer.screen.actions import Act


class StallingSpeaker(SilentSpeaker):
    """Keeps the host clock, and stalls where it is told to."""

    def __init__(self) -> None:
        super().__init__()
        self.name = "porch speaker"
        self.will_stall: tuple[tuple[float, Span], ...] = ()
        self.can_deepen = True
        self.heard_s = 0.0

    def song_s(self, host_ns: int) -> float | None:
        found = super().song_s(host_ns)
        self.heard_s = 0.0 if found is None else found
        self.stalls = tuple(span for known_s, span in self.will_stall if self.heard_s >= known_s)
        self.xruns = len(self.stalls)
        return found

    def deepen(self) -> bool:
        self.depth += self.can_deepen
        return self.can_deepen


def played_over(speaker: StallingSpeaker, *stalls: tuple[float, Span], bench: Bench | None = None) -> Bench:
    bench = bench or Bench(speaker=speaker)
    speaker.will_stall = stalls
    bench.act(Act.START)
    bench.until(99.0, keys_for(bench))
    assert bench.scene == "review"
    return bench


def test_a_stall_costs_the_strokes_beside_it_and_the_rest_is_graded() -> None:
    bench = played_over(StallingSpeaker(), (1.2, (1.0, 1.2)))
    result = bench.result
    assert result.not_graded == ""
    beside = (1.0 - BEFORE_S, 1.2 + AFTER_S)
    assert result.drill.spans == (beside,)
    inside = [o for o in result.judgement.outcomes if is_spared((beside,), o.target.song_s)]
    outside = [o for o in result.judgement.outcomes if o not in inside]
    assert inside
    assert {o.verdict for o in inside} == {Verdict.NOT_JUDGED}
    assert Verdict.NOT_JUDGED not in {o.verdict for o in outside}
    assert Verdict.IN_TIME in {o.verdict for o in outside}
    [words, *_] = besides_words(result)
    assert words == "The sound stalled at second 1: 1 stroke of 14 beside it not judged."


def test_without_a_stall_nothing_is_said_or_left_out() -> None:
    bench = played_over(StallingSpeaker())
    assert bench.result.drill.spans == ()
    assert not any("stalled" in words for words in besides_words(bench.result))


def test_after_two_stalls_the_buffers_are_deepened_and_that_is_remembered_for_the_output() -> None:
    speaker = StallingSpeaker()
    bench = played_over(speaker, (1.2, (1.0, 1.2)))
    assert (speaker.depth, bench.preferences.sound_depth) == (0, 0)
    played_over(speaker, (0.7, (0.5, 0.7)), bench=bench)
    assert (speaker.depth, bench.preferences.sound_depth) == (1, 1)
    assert bench.kept[-1].sound_depths == {"porch speaker": "1"}
    assert any("deeper buffers" in line for line in bench.notes)


def test_an_output_that_can_get_no_deeper_is_left_as_it_is() -> None:
    speaker = StallingSpeaker()
    speaker.can_deepen = False
    bench = played_over(speaker, (1.2, (1.0, 1.2)), (2.2, (2.0, 2.2)))
    assert speaker.depth == 0
    assert not any("deeper" in line for line in bench.notes)


def test_an_output_known_to_stall_is_given_its_depth_at_the_start() -> None:
    speaker = StallingSpeaker()
    Bench(speaker=speaker, settings=Settings(cautions_seen=True, sound_depths={"porch speaker": "2"}))
    assert speaker.depth == 2


@pytest.mark.parametrize("depth", ["3", "-1", "deep", 1])
def test_a_depth_that_cannot_be_is_not_taken_from_the_settings(depth: object) -> None:
    assert not TABLE["sound_depths"].kind.read({"porch speaker": depth}, {}).fits


def test_a_stored_take_knows_where_the_sound_stalled_and_is_judged_so_again(tmp_path: Path) -> None:
    recorder, _note = Recorder.open(tmp_path / "takes.sqlite")
    speaker = StallingSpeaker()
    bench = played_over(speaker, (1.2, (1.0, 1.2)), bench=Bench(speaker=speaker, recorder=recorder))
    assert recorder.store is not None
    assert recorder.last_id is not None
    take = recorder.store.take(recorder.last_id)
    recorder.close()
    assert take.spared == bench.result.drill.spans
    again, then = judgement_of(take).outcomes, bench.result.judgement.outcomes
    assert [o.verdict for o in again] == [o.verdict for o in then]
    assert Verdict.NOT_JUDGED in {o.verdict for o in again}
