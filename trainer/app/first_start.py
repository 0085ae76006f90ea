"""Ask at the first start, and never again: what is tapped on, where the picture is seen, who plays.

Each question can be left open and all of them skipped; the cautions stand under them.
"""

from __future__ import annotations

import enum

from trainer.app.corner import Corner
from trainer.app.hearing import KEYS_NAME
from trainer.app.naming import written
from trainer.app.places import CAUTIONS
from trainer.app.stage import Stage
from trainer.devices.midi import VIRTUAL_NAME, MidiTap
from trainer.screen.scenes.asking import AskingView
from trainer.screen.theme import ThemeName
from trainer.screen.views import Act, Action, Window


class Question(enum.Enum):
    """What is asked."""

    INPUT = "What do you tap on?"
    PLACE = "Where do you see the picture?"
    PLAYER = "Who plays? No name is needed."


# What a place sets: the words, the theme and the size of the text.
PLACES = (
    ("On a desk", ThemeName.ROOM.value, "usual"),
    ("On a desk, with larger text", ThemeName.ROOM.value, "largest"),
    ("On a wall, in a lit room", ThemeName.PROJECTOR.value, "large"),
    ("On a wall, in a dark room", ThemeName.ROOM.value, "large"),
)


class FirstStart(Corner):
    """The questions of the first start."""

    def __init__(self, stage: Stage) -> None:
        self._stage = stage
        stage.notes, stage.caution = (), False  # they are shown here instead
        # A port for other programs is nothing that a beginner taps on; it is in the settings.
        self._inputs = tuple(name for name, _present in stage.hearing.inputs() if name != VIRTUAL_NAME)
        asked = list(Question)
        if len(self._inputs) < 2:
            asked.remove(Question.INPUT)
        self._asked = tuple(asked)
        self._at = 0
        self._focus = 0
        self._typed = ""

    @property
    def wants_text(self) -> bool:  # type: ignore[override]
        """Whether the name is asked for."""
        return self._question is Question.PLAYER

    @property
    def _question(self) -> Question:
        return self._asked[min(self._at, len(self._asked) - 1)]

    def view(self, window: Window) -> AskingView:
        """Return the question that is open."""
        teaching = self._stage.hearing.teaching
        title = f"Thumbfall, question {min(self._at, len(self._asked) - 1) + 1} of {len(self._asked)}"
        prompt = teaching.prompt if teaching is not None else ""
        return AskingView(
            window=window,
            title=title,
            question=self._question.value,
            options=self._options(),
            focus=self._focus,
            in_use=self._in_use(),
            typed=self._typed if self._question is Question.PLAYER else None,
            prompt=prompt[:1].upper() + prompt[1:],
            remarks=CAUTIONS,
            leave_words="end this" if prompt else "skip all",
            can_go_back=(teaching.before is not None) if teaching is not None else self._at > 0,
        )

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - the corner's signature
        """Move the focus, take an answer, go back a question, or skip."""
        hearing = self._stage.hearing
        teaching = hearing.teaching is not None
        if action.act is Act.SELECT and not teaching:
            self._focus = min(max(action.value, 0), max(len(self._options()) - 1 + self.wants_text, 0))
        elif action.act is Act.START and not teaching:
            self._answer()
        elif action.act is Act.UNDO and teaching:
            hearing.unteach()
        elif action.act is Act.UNDO:
            self._go(self._at - 1)
        elif action.act is Act.SKIP_PROMPT and teaching:
            hearing.skip_prompt()
            self._after_teaching()
        elif action.act is Act.BACK and teaching:
            hearing.teach()  # keeps what was taught so far
            self._after_teaching()
        else:
            return False
        return True

    def key_down(self, key: str, *, host_ns: int, looked_ns: int) -> bool:  # noqa: ARG002 - as above
        """Take the last letter of the name away with backspace."""
        if key != "backspace" or not self.wants_text:
            return False
        self._typed, self._focus = self._typed[:-1], 0
        return True

    def midi_taps(self, taps: tuple[MidiTap, ...]) -> None:
        """Take touched pads for those that are being taught."""
        if self._stage.hearing.teaching is None:
            return
        for tap in taps:
            self._stage.hearing.pad_touch(tap)
        self._after_teaching()

    def typed(self, text: str) -> None:
        """Write the name."""
        if self.wants_text:
            self._typed, self._focus = written(self._typed, text), 0

    def leave(self) -> None:
        """Never ask again, whatever was answered."""
        self._stage.hearing.leave()
        self._stage.keep(lambda: self._stage.chosen.change(cautions_seen=True))

    def _options(self) -> tuple[str, ...]:
        if self._question is Question.INPUT:
            return self._inputs
        if self._question is Question.PLACE:
            return tuple(words for words, _theme, _size in PLACES)
        return ("Nobody named",)

    def _in_use(self) -> int | None:
        settings = self._stage.chosen.settings
        if self._question is Question.INPUT:
            name = settings.input_name or KEYS_NAME
            return self._inputs.index(name) if name in self._inputs else None
        if self._question is Question.PLACE:
            now = (settings.theme, settings.text_size)
            return next((at for at, (_words, *sets) in enumerate(PLACES) if tuple(sets) == now), None)
        return None if settings.player else 0

    def _answer(self) -> None:
        stage, question = self._stage, self._question
        if question is Question.INPUT:
            if not stage.hearing.use(self._inputs[self._focus]) or stage.hearing.teaching is not None:
                return
        elif question is Question.PLACE:
            _words, theme, size = PLACES[self._focus]
            stage.keep(lambda: stage.chosen.change(theme=theme, text_size=size))
        else:
            name = self._typed.strip() if self._focus == 0 else ""
            stage.keep(lambda: stage.chosen.change(player=name))
        self._go(self._at + 1)

    def _after_teaching(self) -> None:
        if self._stage.hearing.teaching is None:
            self._go(self._at + 1)

    def _go(self, at: int) -> None:
        if at >= len(self._asked):
            self._stage.back()
            return
        self._at = max(at, 0)
        self._focus = 0 if self.wants_text else (self._in_use() or 0)
