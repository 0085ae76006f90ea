"""No key of a presenter's remote ends the program, in any scene, however often, and none is a pupil's.

What remotes send (common practice, no source): page up and page down, b or a full stop to blank the screen,
F5 and shift with F5 to begin, escape to end.
"""

import random

import pytest

from tests.app.bench import Bench
from tests.screen.views import all_views
from trainer.app.scene_table import SCENES, show_first_start
from trainer.screen.actions import Act, Action
from trainer.screen.keymap import KEYMAP
from trainer.screen.theme import ThemeName

VIEWS = all_views(1280, 720, ThemeName.ROOM)
REMOTE = ("page up", "page down", "b", ".", "f5", "shift f5", "escape")


class Desk(Bench):
    """A bench with a remote; its window closes when the scenes say that the program is ended."""

    @property
    def closed(self) -> bool:
        return self.context.is_ended

    def remote(self, key: str) -> None:
        """Press a key of the remote as the window's loop does."""
        name = key.removeprefix("shift ")
        if self.press(name):
            return
        if name == "f5":
            self.app.act(Action(act=Act.OPEN_DEMONSTRATION), self.system.ns)
            return
        if self.top.wants_text and len(name) == 1:
            self.top.typed(name)
            return
        for action in self.view().scene().actions_for_key(name):
            self.app.act(action, self.system.ns)


def test_what_takes_an_answer_of_a_question_is_on_no_remote() -> None:
    """The one way to the end is the answer "End it", which stands ready nowhere."""
    for scene in ("question", "question, teaching pads"):
        asked = {
            key: cap.asks
            for entry in KEYMAP[scene]
            for cap in entry.caps
            for key in cap.keys
            if key in REMOTE
        }
        assert set(asked) <= {"escape"}
        assert Action(act=Act.START) not in asked.values()


@pytest.mark.parametrize("name", VIEWS)
def test_a_remote_asks_at_most_whether_to_end_and_with_escape_alone(name: str) -> None:
    scene = VIEWS[name].scene()
    assert {key for key in REMOTE for a in scene.actions_for_key(key) if a.act is Act.QUIT} <= {"escape"}


@pytest.mark.parametrize("key", REMOTE)
@pytest.mark.parametrize("act", [None, *SCENES])
def test_one_key_pressed_again_and_again_ends_nothing(act: Act | None, key: str) -> None:
    desk = Desk()
    if act is not None:
        desk.act(act)
    for _ in range(12):
        desk.remote(key)
        desk.go(0.05)
    assert not desk.closed
    assert desk.view().scene().keys


@pytest.mark.parametrize("key", REMOTE)
def test_the_questions_of_the_first_start_do_not_end_the_program(key: str) -> None:
    desk = Desk()
    show_first_start(desk.context)
    for _ in range(12):
        desk.remote(key)
        desk.go(0.05)
    assert not desk.closed


@pytest.mark.parametrize("seed", range(6))
def test_a_remote_in_a_pocket_ends_nothing_in_any_scene(seed: int) -> None:
    """Every scene is opened in turn; in between the remote is pressed at random."""
    rng, desk = random.Random(seed), Desk()
    acts = list(SCENES)
    rng.shuffle(acts)
    for act in acts:
        desk.act(act)
        for _ in range(15):
            desk.remote(rng.choice(REMOTE))
            desk.go(rng.choice((0.01, 0.05, 0.6)))
    assert not desk.closed
    for _ in range(30):
        desk.remote("escape")
        desk.go(0.02)
    assert not desk.closed
    assert desk.scene in ("library", "leaving")
