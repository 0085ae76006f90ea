"""Ask at the first start, and never again: what is tapped on, where the picture is seen, who plays.

Each question can be left open and all of them skipped; the cautions stand under them.
"""

from __future__ import annotations

import enum

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.key_input import KEYS_NAME
from trainer.app.notes import CAUTIONS
from trainer.app.scenes.naming import written
from trainer.devices.midi import VIRTUAL_NAME
from trainer.practice.input_event import InputEvent
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.asking import AskingView
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window


class Question(enum.Enum):
    """What is asked."""

    INPUT = "What do you tap on?"
    PICTURE = "Where do you see the picture?"
    PLAYER = "Who plays? No name is needed."


# What a place sets: the words, the theme and the size of the text.
PLACES = (
    ("On a desk", ThemeName.ROOM.value, "usual"),
    ("On a desk, with larger text", ThemeName.ROOM.value, "largest"),
    ("On a wall, in a lit room", ThemeName.PROJECTOR.value, "large"),
    ("On a wall, in a dark room", ThemeName.ROOM.value, "large"),
)


class FirstStartController(Controller):
    """The questions of the first start."""

    def __init__(self, context: Context) -> None:
        self._context = context
        context.notes.leave_cautions()  # they are shown here instead
        # A port for other programs is nothing that a beginner taps on; it is in the settings.
        self._inputs = tuple(name for name, _present in context.inputs.inputs() if name != VIRTUAL_NAME)
        asked = list(Question)
        if len(self._inputs) < 2:
            asked.remove(Question.INPUT)
        self._asked = tuple(asked)
        self._at = 0
        self._focus = 0
        self._typed = ""

    @property
    def wants_text(self) -> bool:
        """Whether the name is asked for."""
        return self._question is Question.PLAYER

    @property
    def _question(self) -> Question:
        return self._asked[min(self._at, len(self._asked) - 1)]

    def view(self, window: Window) -> AskingView:
        """Return the question that is open."""
        teaching = self._context.inputs.teaching
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
            leave_words="end this" if prompt else "no questions",
            can_go_back=(teaching.before is not None) if teaching is not None else self._at > 0,
        )

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - nothing here has a time
        """Move the focus, take an answer, go back a question, or leave it out."""
        inputs = self._context.inputs
        teaching = inputs.teaching is not None
        if action.act is Act.SELECT and not teaching:
            self._focus = min(max(action.value, 0), max(len(self._options()) - 1 + self.wants_text, 0))
        elif action.act is Act.START and not teaching:
            self._answer()
        elif action.act is Act.UNDO and teaching:
            inputs.unteach()
        elif action.act is Act.UNDO:
            self._go(self._at - 1)
        elif action.act is Act.SKIP_PROMPT and teaching:
            inputs.skip_prompt()
            self._after_teaching()
        elif action.act is Act.BACK and teaching:
            inputs.teach()  # keeps what was taught so far
            self._after_teaching()
        else:
            return False
        return True

    def heard(self, event: InputEvent) -> bool:
        """Take a touched pad for the one that is asked for, and the last letter away with backspace."""
        if self._context.inputs.taught_by(event):
            self._after_teaching()
            return True
        if event.source.key != "backspace" or not self.wants_text:
            return False
        self._typed, self._focus = self._typed[:-1], 0
        return True

    def typed(self, text: str) -> None:
        """Write the name."""
        if self.wants_text:
            self._typed, self._focus = written(self._typed, text), 0

    def leave(self) -> None:
        """Never ask again, whatever was answered."""
        self._context.inputs.leave()
        self._context.keep(lambda: self._context.preferences.change(cautions_seen=True))

    def _options(self) -> tuple[str, ...]:
        if self._question is Question.INPUT:
            return self._inputs
        if self._question is Question.PICTURE:
            return tuple(words for words, _theme, _size in PLACES)
        return ("Nobody named",)

    def _in_use(self) -> int | None:
        settings = self._context.preferences.settings
        if self._question is Question.INPUT:
            name = settings.input_name or KEYS_NAME
            return self._inputs.index(name) if name in self._inputs else None
        if self._question is Question.PICTURE:
            now = (settings.theme, settings.text_size)
            return next((at for at, (_words, *sets) in enumerate(PLACES) if tuple(sets) == now), None)
        return None if settings.player else 0

    def _answer(self) -> None:
        context, question = self._context, self._question
        if question is Question.INPUT:
            if not context.inputs.use(self._inputs[self._focus]) or context.inputs.teaching is not None:
                return
        elif question is Question.PICTURE:
            _words, theme, size = PLACES[self._focus]
            context.keep(lambda: context.preferences.change(theme=theme, text_size=size))
        else:
            name = self._typed.strip() if self._focus == 0 else ""
            context.keep(lambda: context.preferences.change(player=name))
        self._go(self._at + 1)

    def _after_teaching(self) -> None:
        if self._context.inputs.teaching is None:
            self._go(self._at + 1)

    def _go(self, at: int) -> None:
        if at >= len(self._asked):
            self._context.navigation.back()
            return
        self._at = max(at, 0)
        self._focus = 0 if self.wants_text else (self._in_use() or 0)
