"""What highlights and soft shadows tell of the lamp."""

import numpy as np
import pytest

from firstwash.light.gloss_cues import gloss_rises
from firstwash.light.lamp_words import angle_between, glow_rgb, log_colour
from firstwash.light.penumbra import lamp_over_shade

LAMP = np.array([1.6, 1.0, 0.4])
BODY = np.array([0.08, 0.3, 0.1])


def hill(top: float, sharp: bool = False) -> np.ndarray:
    """A plain green wall with one spot of the lamp's light in the middle, soft or with an edge."""
    y, x = np.mgrid[0:120, 0:160]
    away = np.hypot(x - 80, y - 60)
    spot = np.exp(-((away / 6.0) ** 2)) if not sharp else (away < 7).astype(float)
    return (BODY * LAMP + top * spot[..., None] * LAMP).astype(np.float32)


def test_a_highlight_rises_by_the_lamps_colour() -> None:
    picture = hill(0.4)
    found = gloss_rises(picture, np.ones((120, 160), bool), np.ones(3))
    assert len(found.foot) >= 1
    best = int(np.argmax(np.linalg.norm(found.rise, axis=1)))
    # the smoothing of 3 by 3 pixels changes heights, not colours
    assert angle_between(found.rise[best], LAMP) < 1.0
    assert np.hypot(*(found.place[best] - [60, 80])) < 10


def test_a_burnt_highlight_still_tells() -> None:
    picture = np.minimum(hill(0.6), 1.0)
    whole = (picture < 0.97).all(axis=2)
    assert (~whole).any()
    found = gloss_rises(picture, whole, np.ones(3))
    assert len(found.foot) >= 1
    assert min(angle_between(rise, LAMP) for rise in found.rise) < 2.0


def test_a_dab_of_white_is_no_hill() -> None:
    found = gloss_rises(hill(0.4, sharp=True), np.ones((120, 160), bool), np.ones(3))
    assert len(found.foot) == 0


def test_a_soft_shadow_tells_lamp_over_shade() -> None:
    sky = 0.3 * glow_rgb(9000.0)
    share = np.clip((np.arange(200) - 80) / 40.0, 0, 1)[None, :, None]  # a rim 40 px wide
    paint = np.where(np.arange(150)[:, None, None] < 75, [0.5, 0.2, 0.1], [0.1, 0.2, 0.4])
    picture = (paint * (share * LAMP + sky)).astype(np.float32)
    told = lamp_over_shade(picture, np.ones((150, 200), bool))
    wanted = log_colour(LAMP) - log_colour(sky)
    # the foot of a slope has some of the lamp in it, which makes the ratio smaller, never larger
    assert np.sign(told[-1]).tolist() == np.sign(wanted).tolist()
    assert (np.abs(told[-1]) <= np.abs(wanted) + 1e-3).all()
    assert (np.abs(told[-1]) > 0.4 * np.minimum(np.abs(wanted), 1.0)).all()


def test_sharp_patterns_are_not_taken_for_shadows() -> None:
    y, x = np.mgrid[0:150, 0:200]
    checks = ((x // 15 + y // 15) % 2)[..., None]
    picture = np.where(checks, [0.6, 0.5, 0.1], [0.1, 0.1, 0.3]).astype(np.float32)
    assert lamp_over_shade(picture, np.ones((150, 200), bool)) == pytest.approx(0.0)
