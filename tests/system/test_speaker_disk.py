"""The real speaker, pygame's mixer and SDL's disk driver: what was recorded, and when it was said to sound.

Run with -s to see the figures.
"""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.sound.helpers import CLICKS_ONLY, plan_of
from tests.system.apparatus import ApparatusFailed, measured, watched
from trainer.devices.clock import now_ns
from trainer.devices.feeder import BUFFER_FRAMES
from trainer.devices.speaker import Speaker, SpeakerState
from trainer.sound.clicks import Click, click_samples
from trainer.sound.plan import RATE, StreamPlan
from trainer.sound.render import render
from trainer.sound.stream_onsets import click_onsets

pygame = pytest.importorskip("pygame")
pytestmark = [pytest.mark.system, pytest.mark.usefixtures("quick_switches")]

NS = 1_000_000_000
CARD = Path(__file__).with_name("pipe_card.py")
Load = Callable[[], None]
SECONDS = 8  # of each measurement of the second said to be heard


def say(line: str) -> None:
    sys.stdout.write(f"\n{line}\n")


def rest() -> None:
    time.sleep(0.002)


def python_frame() -> None:
    """A frame of 10 ms in Python, and 6 ms of waiting."""
    until = time.perf_counter() + 0.010
    while time.perf_counter() < until:
        pass
    time.sleep(0.006)


def drawing_frame() -> None:
    """A frame of 10 ms drawn in one call that keeps the interpreter to itself, and 6 ms of waiting."""
    pygame.time.delay(10)  # spins with the lock held, as a large blit does
    time.sleep(0.006)


def sliced_frame() -> None:
    """Ten ms drawn in slices of 2, with a look for events between them."""
    for _ in range(5):
        pygame.time.delay(2)
        time.sleep(0.0002)
    time.sleep(0.005)


@pytest.fixture
def quick_switches() -> Iterator[None]:
    """The switch interval that a drill runs with."""
    kept = sys.getswitchinterval()
    sys.setswitchinterval(0.0005)
    yield
    sys.setswitchinterval(kept)


def recorded(path: Path) -> NDArray[np.int16]:
    return np.fromfile(path, dtype=np.int16).reshape(-1, 2)


def from_first_sound(stream: NDArray[np.int16]) -> NDArray[np.int16]:
    return stream[int(np.flatnonzero(stream.any(axis=1))[0]) :]


def onsets_of(stream: NDArray[np.int16]) -> NDArray[np.int64]:
    """First frames of sound after 20 ms of silence."""
    sounding = np.flatnonzero(stream.any(axis=1))
    firsts: NDArray[np.int64] = sounding[np.concatenate([[True], np.diff(sounding) > RATE // 50])]
    return firsts


@pytest.mark.parametrize("seconds", [12, pytest.param(25, marks=pytest.mark.slow)])
@pytest.mark.parametrize("frame", [python_frame, drawing_frame])
def test_clicks_are_recorded_exactly_while_frames_are_drawn(
    frame: Load, seconds: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """97.3 to 133 beats a minute on a bar line, and a softer click later: error 0 frames, no gap."""
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")

    def record(attempt: int) -> tuple[StreamPlan, Path]:
        path = tmp_path / f"sound-{attempt}.raw"
        monkeypatch.setenv("SDL_DISKAUDIOFILE", str(path))
        played, stalls = played_with_changes(frame, seconds)
        if stalls:
            raise ApparatusFailed(f"the speaker was fed too late {stalls} times, and said so")
        return played, path

    played, path = measured(record)
    heard = from_first_sound(recorded(path))
    first = click_onsets(played, 0, RATE)[0].frame
    # The last block may have been cut by the stop.
    sure = len(heard) - 5 * BUFFER_FRAMES
    wanted = [o.frame - first for o in click_onsets(played, first, first + sure)]
    found = onsets_of(heard[:sure]).tolist()
    off = np.abs(np.array(found[: len(wanted)]) - np.array(wanted[: len(found)]))
    say(
        f"{frame.__name__}: {sure / RATE:.1f} s recorded, {len(found)} clicks found of {len(wanted)}, "
        f"largest error {off.max()} frames"
    )
    assert found == wanted
    np.testing.assert_array_equal(heard[:sure], render(played, first, sure))
    assert sure > 0.8 * seconds * RATE


def played_with_changes(frame: Load, seconds: int) -> tuple[StreamPlan, int]:
    """Play with another tempo from beat 12 on and softer clicks later; return the plan and the stalls."""
    speaker = Speaker()
    plan = plan_of("97.3")
    speaker.start(plan, now_ns())
    softer = replace(CLICKS_ONLY, click_db=-20.0)
    began = time.perf_counter()
    while (ran := time.perf_counter() - began) < seconds:
        frame()
        speaker.pump(now_ns())
        if ran > 4 and speaker.plan == plan:
            speaker.set_timeline(plan.timeline.with_tempo("133", from_beat=Fraction(12)))
        if ran > 9 and speaker.plan is not None and len(speaker.plan.spans) == 1:
            speaker.set_sound(softer)
    played, stalls = speaker.plan, speaker.xruns
    speaker.close()
    assert played is not None
    assert played.timeline != plan.timeline
    assert played.settings == softer
    return played, stalls


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """How the second said to be heard agrees with an outside observer, after the first two seconds."""

    offset_ms: float
    median_ms: float
    p99_ms: float
    worst_ms: float
    dry: int
    xruns: int
    looks: int


@contextmanager
def second_process(*words: str) -> Iterator[None]:
    process = subprocess.Popen([sys.executable, *words])
    yield
    assert process.wait(timeout=10) == 0


def samples_of(speaker: Speaker, plan: StreamPlan, frame: Load, seconds: float) -> NDArray[np.float64]:
    """Play for a while; return rows of host nanosecond and stream frame said to be heard."""
    begin_ns = now_ns()
    speaker.start(plan, begin_ns)
    rows = []
    while now_ns() - begin_ns < seconds * NS:
        frame()
        asked_ns = now_ns()
        song_s = speaker.song_s(asked_ns)
        assert song_s is not None
        rows.append((asked_ns, plan.frame_at(song_s)))
    return np.array(rows)


def agreement(
    rows: NDArray[np.float64], seen: NDArray[np.float64], first_frame: int, *, dry: int, xruns: int
) -> Agreement:
    """Compare with (frame of the recording, host ns) rows of an observer."""
    rows = rows[rows[:, 0] > rows[0, 0] + 2 * NS]
    rows = rows[rows[:, 0] < seen[-1, 1]]
    observed = np.interp(rows[:, 0], seen[:, 1], seen[:, 0]) - first_frame
    off_ms = (rows[:, 1] - observed) / RATE * 1000
    middle = float(np.median(off_ms))
    return Agreement(
        offset_ms=middle,
        median_ms=float(np.median(np.abs(off_ms - middle))),
        p99_ms=float(np.percentile(np.abs(off_ms - middle), 99)),
        worst_ms=float(np.abs(off_ms - middle).max()),
        dry=dry,
        xruns=xruns,
        looks=len(rows),
    )


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="the card of exact speed is a Linux pipe")
@pytest.mark.parametrize(
    ("frame", "limit_ms"),
    [
        (rest, 1.0),
        pytest.param(python_frame, 2.0, marks=pytest.mark.slow),
        pytest.param(sliced_frame, 2.0, marks=pytest.mark.slow),
        (drawing_frame, 2.0),
    ],
)
def test_the_second_said_to_be_heard_is_the_one_that_a_card_of_exact_speed_plays(
    frame: Load, limit_ms: float, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The offset is the card's buffer, a constant; what varies is the error."""
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIODELAY", "0")

    def measure(attempt: int) -> Agreement:
        pipe, log, sound = (tmp_path / f"{name}-{attempt}" for name in ("pipe", "log", "sound"))
        os.mkfifo(pipe)
        monkeypatch.setenv("SDL_DISKAUDIOFILE", str(pipe))
        with watched() as machine, second_process(str(CARD), str(pipe), str(log), str(sound)):
            speaker = Speaker()
            plan = plan_of("97.3")
            rows = samples_of(speaker, plan, frame, SECONDS)
            xruns = speaker.xruns
            speaker.close()
        lines = log.read_text().splitlines()
        dry = sum(line.startswith("dry") for line in lines)
        seen = np.array([line.split() for line in lines if not line.startswith("dry")], dtype=np.float64)
        heard = recorded(sound)
        begin = int(np.flatnonzero(heard.any(axis=1))[0]) - click_onsets(plan, 0, RATE)[0].frame
        result = agreement(rows, seen, begin, dry=dry, xruns=xruns)
        say(f"{frame.__name__}: {result}, {machine}")
        if dry:
            raise ApparatusFailed(f"the card ran dry {dry} times")
        machine.must_have_kept_time()
        return result

    result = measured(measure)
    assert result.p99_ms <= limit_ms
    assert result.xruns == 0, "a stall is reported only where the card ran dry"


@pytest.mark.slow
def test_the_second_said_to_be_heard_agrees_with_the_growth_of_the_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second process watches the file of the plain disk driver grow.

    The driver sleeps a whole number of milliseconds between buffers, so it runs 5 % fast and every late
    wake-up of it stays in: it wanders by milliseconds a second, which no line can foresee.
    """
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    watcher = (
        "import os, sys, time\n"
        "path, log, until = sys.argv[1], open(sys.argv[2], 'w'), time.perf_counter() + 11\n"
        "size = 0\n"
        "while time.perf_counter() < until:\n"
        "    now = os.stat(path).st_size\n"
        "    if now != size:\n"
        "        print(now // 4, time.perf_counter_ns(), file=log)\n"
        "        size = now\n"
        "    time.sleep(0.0002)\n"
    )

    def measure(attempt: int) -> Agreement:
        path, log = tmp_path / f"sound-{attempt}.raw", tmp_path / f"log-{attempt}"
        monkeypatch.setenv("SDL_DISKAUDIOFILE", str(path))
        speaker = Speaker()
        with watched() as machine, second_process("-c", watcher, str(path), str(log)):
            plan = plan_of("97.3")
            rows = samples_of(speaker, plan, rest, 10)
            xruns, rate_error = speaker.xruns, speaker.rate_error
            time.sleep(1.5)
        speaker.close()
        seen = np.loadtxt(log)
        begin = int(np.flatnonzero(recorded(path).any(axis=1))[0]) - click_onsets(plan, 0, RATE)[0].frame
        result = agreement(rows, seen, begin, dry=0, xruns=xruns)
        say(f"plain disk driver, speed off by {rate_error:.2%}: {result}, {machine}")
        machine.must_have_kept_time()
        return result

    assert measured(measure).median_ms <= 3.0


def test_a_tap_sounds_within_two_buffers_beside_the_stream(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")

    def measure(attempt: int) -> NDArray[np.float64]:
        path = tmp_path / f"sound-{attempt}.raw"
        monkeypatch.setenv("SDL_DISKAUDIOFILE", str(path))
        with watched() as machine:
            plan, said, stalls = tapped_beside()
        heard = from_first_sound(recorded(path))
        count_in = click_onsets(plan, 0, 10 * RATE)
        found = onsets_of(heard) + count_in[0].frame
        if stalls:
            raise ApparatusFailed(f"the speaker was fed too late {stalls} times, and said so")
        machine.must_have_kept_time()
        delays = found[len(count_in) :] - np.array(said)
        say(f"tap to sound in frames: median {np.median(delays):.0f}, {min(delays):.0f} to {max(delays):.0f}")
        return delays

    delays = measured(measure)
    # Single taps carry the wander of the plain disk driver, a few milliseconds either way.
    assert 0 < np.median(delays) <= BUFFER_FRAMES
    assert np.percentile(delays, 90) <= 2 * BUFFER_FRAMES


def tapped_beside() -> tuple[StreamPlan, list[float], int]:
    """Tap forty times beside a silent stream; return the plan, the frames heard then, the stalls."""
    speaker = Speaker()
    plan = plan_of("133", settings=replace(CLICKS_ONLY, click=False))
    speaker.start(plan, now_ns())
    samples = click_samples(Click.BEAT, -12.0, RATE)
    rng = np.random.default_rng(1)
    said = []
    while (speaker.song_s(now_ns()) or 0.0) < 0.5:
        time.sleep(0.005)
    for _ in range(40):
        time.sleep(float(rng.uniform(0.10, 0.12)))
        song_s = speaker.song_s(now_ns())
        assert song_s is not None
        said.append(plan.frame_at(song_s))
        speaker.sound_tap(samples)
    time.sleep(0.2)
    stalls = speaker.xruns
    speaker.close()
    return plan, said, stalls


def test_starting_and_stopping_while_frames_are_drawn_never_hangs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIOFILE", str(tmp_path / "sound.raw"))
    plan = plan_of("400")
    samples = click_samples(Click.BEAT, -12.0, RATE)
    for _ in range(4):
        speaker = Speaker()
        for _ in range(25):
            speaker.start(plan, now_ns())
            speaker.sound_tap(samples, 0.5)
            pygame.time.delay(4)
            speaker.pump(now_ns())
            speaker.stop()
        assert speaker.state is SpeakerState.STOPPED
        pygame.time.delay(4)
        speaker.close()


def test_a_device_that_is_taken_away_is_said_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The event that SDL sends for an open device; a device that was not open concerns nobody."""
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIOFILE", str(tmp_path / "sound.raw"))
    speaker = Speaker()
    speaker.start(plan_of("97.3"), now_ns())
    removed = pygame.AUDIODEVICEREMOVED
    speaker.pump(now_ns(), [pygame.event.Event(removed, which=0, iscapture=0)])
    speaker.pump(now_ns(), [pygame.event.Event(removed, which=2, iscapture=1)])
    assert speaker.state is SpeakerState.PLAYING
    speaker.pump(now_ns(), [pygame.event.Event(removed, which=2, iscapture=0)])
    assert str(speaker.state) == str(SpeakerState.LOST)
    assert speaker.notes[0].startswith("the sound device went away: this take is kept but not graded")
    speaker.start(plan_of("97.3"), now_ns())
    assert speaker.state is SpeakerState.PLAYING
    speaker.close()


def test_plans_that_cannot_be_joined_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIOFILE", str(tmp_path / "sound.raw"))
    speaker = Speaker()
    plan = plan_of("400")
    with pytest.raises(ValueError, match="44100 frames a second for a device of 48000"):
        speaker.start(replace(plan, rate=44_100), now_ns())
    speaker.start(plan, now_ns())
    time.sleep(0.8)
    with pytest.raises(ValueError, match="is rendered already"):
        speaker.set_plan(plan_of("399"))
    assert speaker.plan == plan
    speaker.close()
