"""The set-up of a banjo in each of its steps, and what it can say in the end."""

from __future__ import annotations

import numpy as np

from trainer.music.tuning import Tuning
from trainer.screen.scenes.banjo_setup import BanjoSetupView
from trainer.screen.window import Window

CAN = "In this room: strokes to 3 ms, touches to −18 dB under a pluck, strings yes."
REMARKS = (
    "The loudspeaker is not heard, as with headphones: strokes are placed by the delay that is kept. After a "
    "figure that you know well, T in the review takes its mean for it.",
    "Not taught: string 4; it is told by its pitch alone.",
)
WHY_NOT = (
    "The sound is clipped: turn the microphone down, or take it farther away.",
    "A noise gate cuts the ends of strokes off: switch noise suppression off in the system's sound settings, "
    "or use another microphone.",
)
LONG_NAME = "Microphone: Built-in analogue stereo of a make with a long name"


def banjo_views(window: Window) -> dict[str, BanjoSetupView]:
    def view(**more: object) -> BanjoSetupView:
        usual: dict[str, object] = {
            "input_name": "Microphone: Lid, open", "uncertainty_s": 0.003, "sound": "sound on",
        }  # fmt: skip
        return BanjoSetupView(window=window, **{**usual, **more})  # type: ignore[arg-type]

    noise = tuple(float(db) for db in np.random.default_rng(3).normal(-62, 2.5, 280))
    return {
        "banjo": view(input_name="Microphone: Lid"),
        "banjo, known": view(input_name=LONG_NAME, known=CAN),
        "banjo, silence": view(running=0, share=0.6, levels_db=noise),
        "banjo, sweep": view(running=1, share=0.55, levels_db=noise),
        "banjo, strings": view(
            running=2, share=0.4, string=3, plucks=(3, 3, 1, 0, 0), tuning=Tuning(capo=2), has_sweep=False
        ),
        "banjo, touches": view(
            running=3, share=0.5, plucks=(3,) * 5, touches_db=(-14.0, -19.5, -17.0, -22.4)
        ),
        "banjo, found": view(
            can=CAN, remarks=REMARKS, is_found=True, touches_db=(-14.0, -19.5, -17.0, -22.4, -9.0, -18.0)
        ),
        "banjo, refused": view(why_not=WHY_NOT, remarks=REMARKS[:1], input_name=LONG_NAME),
    }
