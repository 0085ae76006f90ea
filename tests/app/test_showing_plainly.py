"""How the app has its window shown."""

import os

import pytest

pygame = pytest.importorskip("pygame", reason="pygame has no wheel for this Python")

from trainer.app import display  # noqa: E402 - only where there is pygame

HINT = "SDL_FRAMEBUFFER_ACCELERATION"


@pytest.mark.parametrize(
    ("driver", "wish", "found"),
    [("x11", None, "0"), ("x11", "1", "1"), ("windows", None, None), ("cocoa", None, None)],
)
def test_under_x_a_frame_is_copied_as_it_is_unless_the_user_wishes_otherwise(
    driver: str, wish: str | None, found: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a Mac SDL knows no other way than the texture, so there the wish would leave no window."""
    environment = {} if wish is None else {HINT: wish}
    monkeypatch.setattr(os, "environ", environment)
    monkeypatch.setattr(pygame.display, "get_driver", lambda: driver)
    display.show_plainly()
    assert environment.get(HINT) == found
