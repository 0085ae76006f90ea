"""A track that is read without a file."""

from pathlib import Path

import numpy as np

from trainer.app.own_track import ReadTrack
from trainer.devices.backing import Track
from trainer.errors import StoreProblem

MARK = "ab" * 32


class Read:
    """A file that is there after as many looks as its name or its folder's says, or at once."""

    def __init__(self, path: Path, rate: int, seconds: float, speed: int = 100) -> None:
        self.path, self.rate, self.seconds, self.speed, self.share = path, rate, seconds, speed, 0.25
        self.looks = next((int(each) for each in (path.stem, path.parent.name) if each.isdigit()), 0)
        self.given_up = False

    def poll(self) -> Track | None:
        self.looks -= 1
        if self.looks >= 0:
            return None
        if self.path.name == "none.wav":
            raise StoreProblem("none.wav cannot be read", "look at its name")
        samples = np.ones((round(self.seconds * self.rate * 100 / self.speed), 2), dtype=np.int16)
        return Track(path=self.path, mark=MARK, samples=samples, rate=self.rate, speed=self.speed)

    def cancel(self) -> None:
        self.given_up = True


def reader(seconds: float = 60.0) -> ReadTrack:
    return lambda path, rate, speed: Read(path, rate, seconds, speed)
