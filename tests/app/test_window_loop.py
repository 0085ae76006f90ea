"""The window's own part in keys, on SDL's dummy display: keys of one's own, and control and Z."""

import gc
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from tests.app.bench import Bench, keys_for
from tests.devices.fake_midi import FakeSystem
from trainer.app.application import Application
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.recording import Recorder
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker
from trainer.opening import Opening
from trainer.practice.demo import DEMO_BPM, DEMO_PASSES, DEMO_PATTERN
from trainer.practice.settings import Settings
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.asking import AskingView
from trainer.screen.window import Window

pygame = pytest.importorskip("pygame", reason="pygame has no wheel for this Python")
from trainer.app.loop import WindowLoop, can_open_window, open_window  # noqa: E402 - only where there is pygame
from trainer.app.scenes.library import LibraryController  # noqa: E402 - as above


@pytest.fixture(autouse=True)
def dummy_display(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.quit()
    yield
    pygame.display.quit()


def pressed(key: int, mod: int = 0) -> None:
    pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key, mod=mod, unicode=""))


def run(app: Application) -> None:
    """Run the window until the events that are waiting, or come while it runs, have closed it."""
    loop = WindowLoop(app, Opening(), None)
    if not isinstance(app.context.navigation.top, Pressing):
        pressed(pygame.K_F7)
        pygame.event.post(pygame.event.Event(pygame.QUIT))
    assert loop.run() == 0


class Pressing(Controller):
    """Presses control and Z once its scene is shown, and then closes the window."""

    def __init__(self, *, can_go_back: bool) -> None:
        self._can_go_back = can_go_back
        self.asked: list[Act] = []
        self._ticks = 0

    def view(self, window: Window) -> AskingView:
        return AskingView(window=window, title="x", question="y?", can_go_back=self._can_go_back)

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - the controller's signature
        self.asked.append(action.act)
        return True

    def tick(self) -> None:
        self._ticks += 1
        if self._ticks == 2:
            pressed(pygame.K_z, pygame.KMOD_LCTRL)
        elif self._ticks == 3:
            pygame.event.post(pygame.event.Event(pygame.QUIT))


def test_a_key_of_ones_own_does_what_the_usual_one_does() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, own_keys={"next": "f7"}))
    run(bench.app)
    assert bench.preferences.selected == 1


class Hurrying(LibraryController):
    """A library in which somebody presses an arrow, again with shift and with alt, and closes the window."""

    ticks = 0

    def tick(self) -> None:
        super().tick()
        self.ticks += 1
        if self.ticks == 2:
            pressed(pygame.K_RIGHT)
            pygame.event.post(pygame.event.Event(pygame.KEYUP, key=pygame.K_RIGHT))
            pressed(pygame.K_RIGHT, pygame.KMOD_LSHIFT)
            pygame.event.post(pygame.event.Event(pygame.KEYUP, key=pygame.K_RIGHT))
            pressed(pygame.K_RIGHT, pygame.KMOD_LALT)
        elif self.ticks == 3:
            pygame.event.post(pygame.event.Event(pygame.QUIT))


def test_an_arrow_goes_by_five_with_shift_by_one_and_with_alt_by_two() -> None:
    bench = Bench()
    base = bench.preferences.bpm
    bench.open(lambda: Hurrying(bench.context))
    assert WindowLoop(bench.app, Opening(), None).run() == 0
    assert bench.preferences.bpm == base + 5 + 1 + 2


def test_a_file_dropped_on_the_window_is_handed_on(monkeypatch: pytest.MonkeyPatch) -> None:
    bench, dropped = Bench(), list[Path]()
    monkeypatch.setattr(bench.app, "dropped", dropped.append)
    loop = WindowLoop(bench.app, Opening(), None)
    pygame.event.post(pygame.event.Event(pygame.DROPFILE, file="/music/porch.ogg"))
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    assert loop.run() == 0
    assert dropped == [Path("/music/porch.ogg")]


@pytest.mark.parametrize("can_journal", [True, False])
def test_closing_the_window_in_a_drill_asks_nothing_and_loses_nothing(
    tmp_path: Path, can_journal: bool
) -> None:
    if not can_journal:
        (tmp_path / "running").write_text("a file where the journals' folder should be")
    recorder, _ = Recorder.open(tmp_path / "takes.sqlite")
    bench = Bench(recorder=recorder)
    bench.act(Act.START)
    bench.until(2.5, keys_for(bench))
    played = bench.running.drill.taps
    assert len(played) >= 3
    loop = WindowLoop(bench.app, Opening(), None)
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    assert loop.run() == 0
    assert bench.app.end() == ""
    again, note = Recorder.open(tmp_path / "takes.sqlite")
    assert again.store is not None
    [row] = again.store.takes()
    kept = again.store.take(row.id).taps
    assert [tap.hand for tap in kept] == [tap.hand for tap in played]
    assert [tap.song_s for tap in kept] == pytest.approx([tap.song_s for tap in played], abs=1e-5)
    assert "broken off" not in note, "it was in the records before the program had ended"
    again.close()


def test_closing_the_window_while_a_drill_is_paused_keeps_one_take(tmp_path: Path) -> None:
    recorder, _ = Recorder.open(tmp_path / "takes.sqlite")
    bench = Bench(recorder=recorder)
    bench.act(Act.START)
    bench.until(2.5, keys_for(bench))
    bench.top.hidden()
    loop = WindowLoop(bench.app, Opening(), None)
    pygame.event.post(pygame.event.Event(pygame.QUIT))
    assert loop.run() == 0
    assert bench.app.end() == ""
    again, _note = Recorder.open(tmp_path / "takes.sqlite")
    assert again.store is not None
    assert again.store.count() == 1
    again.close()


def test_a_key_that_is_nobodys_does_nothing() -> None:
    bench = Bench()
    run(bench.app)
    assert bench.preferences.selected == 0


@pytest.mark.parametrize(("can_go_back", "asked"), [(True, [Act.UNDO]), (False, [])])
def test_control_and_z_takes_back_where_something_can_be_taken_back(
    can_go_back: bool, asked: list[Act]
) -> None:
    bench, corner = Bench(), Pressing(can_go_back=can_go_back)
    bench.open(lambda: corner)
    run(bench.app)
    assert corner.asked == asked


@pytest.mark.parametrize(("size", "scale"), [("usual", 1.0), ("largest", 1.5)])
def test_the_text_is_as_large_as_it_was_chosen(size: str, scale: float) -> None:
    bench = Bench(settings=Settings(cautions_seen=True, text_size=size))
    seen: list[float] = []

    class Looking(Pressing):
        def view(self, window: Window) -> AskingView:
            seen.append(window.text_scale)
            return super().view(window)

    bench.open(lambda: Looking(can_go_back=False))
    run(bench.app)
    assert set(seen) == {scale}


def test_a_key_held_down_asks_nothing_of_the_scene_that_it_has_opened() -> None:
    """A drill is begun and stopped by the same key; on a busy machine the key repeats before it is up."""
    bench = Bench()
    loop = WindowLoop(bench.app, Opening(), None)

    loop._scene = loop._scene_now()
    for _ in range(3):
        pressed(pygame.K_RETURN)
    loop._pump()
    assert bench.scene == "drill"
    pygame.event.post(pygame.event.Event(pygame.KEYUP, key=pygame.K_RETURN, mod=0))
    pressed(pygame.K_RETURN)
    loop._pump()
    assert bench.scene == "review"


def test_the_question_mark_shows_the_keys_again_and_again_whichever_key_it_is_on() -> None:
    bench = Bench()
    loop = WindowLoop(bench.app, Opening(), None)
    loop._scene = loop._scene_now()
    seen = []
    for key in (pygame.K_SLASH, pygame.K_SLASH, pygame.K_7, pygame.K_7):
        pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=key, mod=pygame.KMOD_LSHIFT, unicode="?"))
        pygame.event.post(pygame.event.Event(pygame.KEYUP, key=key, mod=pygame.KMOD_LSHIFT))
        loop._pump()
        seen.append(bench.scene)
    assert seen == ["help", "library", "help", "library"]


def test_a_note_takes_no_key_of_the_window() -> None:
    bench = Bench()
    loop = WindowLoop(bench.app, Opening(), None)
    bench.context.say("The pad was unplugged.")
    loop._scene = loop._scene_now()
    before = bench.preferences.bpm
    pressed(pygame.K_RIGHT)
    loop._pump()
    assert bench.preferences.bpm == before + 5
    assert bench.notes == ("The pad was unplugged.",), "it could not be read yet"


def test_escape_pressed_many_times_keeps_the_window_open() -> None:
    bench = Bench()
    loop = WindowLoop(bench.app, Opening(), None)
    loop._scene = loop._scene_now()
    for _ in range(7):
        pressed(pygame.K_ESCAPE)
        pygame.event.post(pygame.event.Event(pygame.KEYUP, key=pygame.K_ESCAPE, mod=0))
        loop._pump()
        assert loop._open
    assert bench.scene == "leaving"
    for key in (pygame.K_DOWN, pygame.K_RETURN):
        pressed(key)
        loop._pump()
    assert not loop._open


class Living(Controller):
    """A scene that does something at each of its first frames, and closes the window after the last."""

    def __init__(self, *steps: Callable[[], object]) -> None:
        self._steps = steps
        self.wanted = False
        self.ticks = 0
        self.seen: list[object] = []
        self.plays = False

    @property
    def in_time(self) -> bool:
        return self.plays

    @property
    def wants_text(self) -> bool:
        return self.wanted

    def view(self, window: Window) -> AskingView:
        return AskingView(window=window, title="x", question="y?")

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - the controller's signature
        return False

    def typed(self, text: str) -> None:
        self.seen.append(text)

    def unfocused(self) -> None:
        self.seen.append("unfocused")

    def tick(self) -> None:
        if self.ticks == len(self._steps):
            pygame.event.post(pygame.event.Event(pygame.QUIT))
        else:
            self._steps[self.ticks]()
        self.ticks += 1


def lived(scene: Living) -> Living:
    """Show a scene in a window until it closes it."""
    bench = Bench()
    bench.open(lambda: scene)
    assert WindowLoop(bench.app, Opening(), None).run() == 0
    return scene


def test_while_somebody_plays_no_garbage_is_collected_and_no_key_repeats_itself() -> None:
    seen: list[tuple[bool, bool]] = []

    def plays(yes: bool) -> Callable[[], None]:
        def step() -> None:
            seen.append((gc.isenabled(), pygame.key.get_repeat() != (0, 0)))
            scene.plays = yes

        return step

    scene = Living(*map(plays, (False, True, True, False, False)))
    lived(scene)
    assert seen == [(True, True), (True, True), (False, False), (False, False), (True, True)]
    assert gc.isenabled()


def test_a_text_goes_to_the_scene_that_wants_one_and_to_no_other(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("trainer.app.loop.pasted_text", lambda: "pasted")

    def wants(yes: bool) -> Callable[[], None]:
        return lambda: setattr(scene, "wanted", yes)

    def writes(text: str) -> Callable[[], None]:
        def step() -> None:
            pygame.event.post(pygame.event.Event(pygame.TEXTINPUT, text=text))
            pressed(pygame.K_v, pygame.KMOD_LCTRL)

        return step

    def rests() -> None:
        pass

    scene = Living(writes("a"), rests, wants(True), writes("b"), rests, wants(False), writes("c"), rests)
    lived(scene)
    assert scene.seen == ["b", "pasted"]


@pytest.mark.parametrize(("is_back", "seen"), [(False, ["unfocused"]), (True, [])])
def test_a_scene_is_told_once_that_the_keys_go_elsewhere_unless_they_are_back_in_a_moment(
    is_back: bool, seen: list[object], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The clock is the test's own: a fifth of a second goes by at every look."""
    now = iter(range(0, 10**12, 200_000_000))
    monkeypatch.setattr("trainer.app.loop.now_ns", lambda: next(now))
    monkeypatch.setattr(pygame.key, "get_focused", lambda: is_back)
    lost = pygame.event.Event(pygame.WINDOWFOCUSLOST)
    scene = Living(lambda: pygame.event.post(lost), *[lambda: None] * 6)
    assert lived(scene).seen == seen


def test_without_a_display_that_answers_no_window_can_be_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    assert not can_open_window(), "what SDL falls back to shows nothing"
    monkeypatch.setattr(pygame.display, "get_driver", lambda: "x11")
    assert can_open_window()

    def fails() -> None:
        raise pygame.error("no display")

    monkeypatch.setattr(pygame.display, "init", fails)
    assert not can_open_window()


@pytest.mark.usefixtures("own_folders")
class TestWhatTheWindowIsOpenedFor:
    @pytest.fixture(autouse=True)
    def no_devices(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.speaker = SilentSpeaker()
        self.opened: list[tuple[Application, DrillRequest | None]] = []
        monkeypatch.setattr("trainer.app.loop.can_open_window", lambda: True)
        monkeypatch.setattr("trainer.app.loop.open_speaker", lambda: self.speaker)
        monkeypatch.setattr("trainer.app.loop.MidiInputs", lambda: MidiInputs([FakeSystem("Pad").make]))
        monkeypatch.setattr("trainer.app.loop.MidiOut", lambda: None)
        monkeypatch.setattr(WindowLoop, "__init__", self.note)
        monkeypatch.setattr(WindowLoop, "run", lambda _loop: 0)

    def note(self, app: Application, _opening: Opening, request: DrillRequest | None) -> None:
        self.opened.append((app, request))

    def request(self, opening: Opening) -> DrillRequest:
        assert open_window(opening) == 0
        ((_app, request),) = self.opened
        assert request is not None
        return request

    def test_a_demo_is_played_by_hands_with_faults(self) -> None:
        request = self.request(Opening(demo=True))
        assert request.hands is not None
        assert (request.pattern.name, request.bpm, request.passes) == (DEMO_PATTERN, DEMO_BPM, DEMO_PASSES)

    def test_a_demo_can_be_of_any_pattern_at_any_tempo(self) -> None:
        request = self.request(Opening(demo=True, pattern="basic-figure", bpm=97.5, passes=3))
        assert request.hands is not None
        assert (request.pattern.name, request.bpm, request.passes) == ("basic-figure", Fraction("97.5"), 3)

    def test_a_pattern_is_drilled_at_what_is_remembered_unless_it_is_said(self) -> None:
        request = self.request(Opening(pattern="basic-figure", bpm=97.5, passes=0))
        assert (request.pattern.name, request.bpm, request.passes) == ("basic-figure", Fraction("97.5"), 0)
        assert request.hands is None
        self.opened.clear()
        request = self.request(Opening(pattern="basic-figure"))
        assert (request.bpm, request.passes) == (request.pattern.slow_bpm, 4)

    def test_the_first_time_it_leads_through_a_bar(self) -> None:
        assert open_window(Opening()) == 0
        ((app, request),) = self.opened
        assert request is None
        assert type(app.context.navigation.top).__name__ == "FirstStartController"

    def test_a_port_is_tapped_on_when_it_is_asked_for(self) -> None:
        assert open_window(Opening(input_name="Pad", pattern="basic-figure")) == 0
        ((app, _request),) = self.opened
        assert app.context.preferences.settings.input_name == "Pad"
