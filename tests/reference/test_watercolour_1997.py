"""The watercolour model of [Curtis1997]: its pigments, its relations, the looks it describes.

K and S of its twelve pigments per unit of thickness for red, green and blue light. The figures
are those of the paper's table, as several public retypings of it have them (one of them differs in
S of the bright orange); the formulas of its sections 5.1 and 5.2 are from memory, and these tests
confirm them by derivation. The looks are paraphrased from the paper and the page its authors put
beside it.
"""

import numpy as np
import pytest

from firstwash.optics.kubelka import invert_over_white_black, over, slab, stack_pair

PIGMENTS: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    # [Curtis1997], pigments a-l of its table: K (red, green, blue), S (red, green, blue)
    "quinacridone rose": ((0.22, 1.47, 0.57), (0.05, 0.003, 0.03)),
    "Indian red": ((0.46, 1.07, 1.50), (1.28, 0.38, 0.21)),
    "cadmium yellow": ((0.10, 0.36, 3.45), (0.97, 0.65, 0.007)),
    "dark mixed green": ((1.62, 0.61, 1.64), (0.01, 0.012, 0.003)),
    "cerulean blue": ((1.52, 0.32, 0.25), (0.06, 0.26, 0.40)),
    "burnt umber": ((0.74, 1.54, 2.10), (0.09, 0.09, 0.004)),
    "cadmium red": ((0.14, 1.08, 1.68), (0.77, 0.015, 0.018)),
    "bright orange": ((0.13, 0.81, 3.45), (0.005, 0.009, 0.007)),
    "azo yellow": ((0.06, 0.21, 1.78), (0.50, 0.88, 0.009)),
    "phthalo green": ((1.55, 0.47, 0.63), (0.01, 0.05, 0.035)),
    "French ultramarine": ((0.86, 0.86, 0.06), (0.005, 0.005, 0.09)),
    "interference lilac": ((0.08, 0.11, 0.07), (1.25, 0.42, 1.43)),
}


def over_white_and_black(name: str, thickness: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    """Reflectance (3,) over white and over black."""
    k, s = (thickness * np.array(v) for v in PIGMENTS[name])
    r, t = slab(k, s)
    return over(r, t, 1.0), over(r, t, 0.0)


@pytest.mark.parametrize("name", PIGMENTS)
def test_layer_formulas_of_the_paper(name: str) -> None:
    k, s = (np.array(v) for v in PIGMENTS[name])
    for x in (0.1, 1.0, 3.0):
        # Section 5.2: R = sinh(bSx)/c, T = b/c, c = a·sinh(bSx) + b·cosh(bSx).
        a = (s + k) / s
        b = np.sqrt(a * a - 1)
        c = a * np.sinh(b * s * x) + b * np.cosh(b * s * x)
        r, t = slab(k * x, s * x)
        # a reaches 550 where S is small: two or three digits of sixteen.
        np.testing.assert_allclose(r, np.sinh(b * s * x) / c, rtol=1e-11)
        np.testing.assert_allclose(t, b / c, rtol=1e-11)


@pytest.mark.parametrize("name", PIGMENTS)
def test_pigments_from_their_looks_over_white_and_black(name: str) -> None:
    rw, rb = over_white_and_black(name)
    # Section 5.1 needs 0 < Rb < Rw < 1, and gives
    # a = ½(Rw + (Rb − Rw + 1)/Rb), b = √(a² − 1),
    # S = (1/b)·arcoth((b² − (a − Rw)(a − 1)) / (b(1 − Rw))), K = S(a − 1).
    assert (rb > 0).all()
    assert (rb < rw).all()
    assert (rw < 1).all()
    a = 0.5 * (rw + (rb - rw + 1) / rb)
    b = np.sqrt(a * a - 1)
    s = np.arctanh(b * (1 - rw) / (b * b - (a - rw) * (a - 1))) / b
    printed_k, printed_s = PIGMENTS[name]
    # The paper's form subtracts a² from a²; with a up to 550 some eight digits remain.
    np.testing.assert_allclose(s, printed_s, rtol=1e-7)
    np.testing.assert_allclose(s * (a - 1), printed_k, rtol=1e-7)
    ours = invert_over_white_black(rw, rb)
    np.testing.assert_allclose(ours[0], printed_k, rtol=1e-11)
    np.testing.assert_allclose(ours[1], printed_s, rtol=1e-11)


@pytest.mark.parametrize("upper", PIGMENTS)
def test_glazes_of_the_paper(upper: str) -> None:
    # Section 5.2: R = R1 + T1²·R2/(1 − R1·R2), T = T1·T2/(1 − R1·R2), then paper of R below.
    paper = 0.9
    r1, t1 = slab(*PIGMENTS[upper])
    for lower in PIGMENTS.values():
        r2, t2 = slab(*lower)
        above, below, through = stack_pair((r1, r1, t1), (r2, r2, t2))
        np.testing.assert_allclose(above, r1 + t1 * t1 * r2 / (1 - r1 * r2), rtol=1e-14)
        np.testing.assert_allclose(through, t1 * t2 / (1 - r1 * r2), rtol=1e-14)
        # The whole stack over paper, seen as one pair or coat by coat.
        pair = above + through**2 * paper / (1 - below * paper)
        np.testing.assert_allclose(over(r1, t1, over(r2, t2, paper)), pair, rtol=1e-13)


def test_opaque_paints_look_alike_over_white_and_black() -> None:
    # Opaque paints, such as Indian red, show a similar colour on both.
    rw, rb = over_white_and_black("Indian red")
    assert np.abs(rw - rb).max() < 0.2
    assert rb.argmax() == rw.argmax() == 0  # red on both
    # ... and a little thicker hides the ground altogether.
    rw, rb = over_white_and_black("Indian red", 3.0)
    assert np.abs(rw - rb).max() < 0.01


def test_transparent_paints_are_coloured_over_white_and_nearly_black_over_black() -> None:
    # Transparent paints, such as quinacridone rose, are coloured on white, nearly black on black.
    for name in ("quinacridone rose", "dark mixed green", "bright orange", "French ultramarine"):
        rw, rb = over_white_and_black(name)
        assert np.ptp(rw) > 0.25, name
        assert rb.max() < 0.1, name
    assert over_white_and_black("quinacridone rose")[0].argmin() == 1  # takes green light
    assert over_white_and_black("French ultramarine")[0].argmax() == 2  # leaves blue
    assert over_white_and_black("bright orange")[0].argmin() == 2  # takes blue


def test_interference_paints_are_pale_over_white_and_coloured_over_black() -> None:
    # Interference paints, such as interference lilac, look white on white and coloured on black.
    rw, rb = over_white_and_black("interference lilac")
    assert rw.min() > 0.75
    assert np.ptp(rw) < 0.1
    assert np.ptp(rb) > 0.2
    assert rb.argmin() == 1  # lilac: least of green


def test_each_pigment_has_its_own_colour_over_white() -> None:
    strongest = {
        "quinacridone rose": "red",
        "Indian red": "red",
        "cadmium yellow": "red",
        "dark mixed green": "green",
        "cerulean blue": "blue",
        "burnt umber": "red",
        "cadmium red": "red",
        "bright orange": "red",
        "azo yellow": "red",
        "phthalo green": "green",
        "French ultramarine": "blue",
    }
    for name, light in strongest.items():
        rw, _ = over_white_and_black(name)
        assert ["red", "green", "blue"][rw.argmax()] == light, name
    for name in ("cadmium yellow", "azo yellow"):  # yellow: hardly less green than red, no blue
        red, green, blue = over_white_and_black(name)[0]
        assert red - green < 0.3
        assert blue < 0.1


def test_yellow_glazed_with_blue_is_green() -> None:
    # Section 5.2 composes glazes; a yellow under a clear blue leaves green light most.
    blue = slab(*PIGMENTS["cerulean blue"])
    seen = over(*blue, over_white_and_black("azo yellow")[0])
    assert seen.argmax() == 1
