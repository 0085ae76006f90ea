"""A class on banjos: in turns, never at once."""

from __future__ import annotations

import pytest

from tests.app.bench import Bench
from trainer.app.scenes.classroom import ONE_BANJO
from trainer.practice.settings import Settings
from trainer.records.class_file import keep_class, load_class
from trainer.screen.actions import Act


@pytest.mark.usefixtures("own_folders")
def test_several_banjos_at_once_are_refused_with_the_reason() -> None:
    empty, _ = load_class()
    keep_class(empty, empty.with_names(("Wilma", "Ondo")))
    bench = Bench(settings=Settings(cautions_seen=True, input_name="Microphone: Lid"))
    bench.act(Act.OPEN_CLASS)
    bench.act(Act.TOGETHER)
    assert bench.scene == "class"
    assert ONE_BANJO in " ".join(bench.notes)
