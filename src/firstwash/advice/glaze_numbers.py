"""The figures behind a glaze explained, for those who ask."""

from collections.abc import Sequence

from firstwash.advice.glaze_light import ENDS_NM, THIRDS, Thirds
from firstwash.advice.glaze_reasons import Leans, WhyGlaze
from firstwash.advice.glaze_shift import Shift

__all__ = ["why_numbers"]

Numbers = tuple[tuple[str, str], ...]


def why_numbers(why: WhyGlaze) -> Numbers:
    """(what it is, its value) pairs behind `glaze_words.why_words`."""
    told = [
        ("paper, beneath, with the glaze, CIELAB", "; ".join(_lab(lab) for lab in why.labs)),
        ("glaze alone on the paper, CIELAB", _lab(why.stroke)),
        *_light(why),
        *_leans("the glaze", why.glaze),
    ]
    if why.under is not None:
        told += _leans("what lies beneath", why.under)
    if why.path is not None:
        told.append(
            (
                "nearest to grey",
                f"C* {why.path.chroma:.1f} at {why.path.strength:.3f} of a full coat, "
                f"{why.path.times:.2f} times as laid; C* {why.path.now:.1f} as laid",
            )
        )
    if why.puddle is not None:
        told.append(("in one puddle", _shift(why.puddle)))
    if why.order is not None:
        told.append(("the other order", _shift(why.order.other)))
        told.append(
            (
                "between the orders, CIEDE2000",
                f"{why.order.unscattered:.1f} if nothing scattered, "
                f"{why.order.unsoaked:.1f} if nothing sank in",
            )
        )
    return (*told, *_sure(why))


def _lab(lab: Sequence[float]) -> str:
    return ", ".join(f"{v:.0f}" for v in lab)


def _light(why: WhyGlaze) -> list[tuple[str, str]]:
    names = ", ".join(
        f"{t} {low}-{high} nm" for t, (low, high) in zip(THIRDS, ENDS_NM, strict=True)
    )
    light = why.light
    return [
        (f"sent back from beneath, of the paper’s light: {names}", _thirds(light.under)),
        ("kept from coming up by the glaze, of that", _thirds(light.taken)),
        ("sent back by the glaze itself, of the paper’s light", _thirds(light.own)),
        ("seen, of the paper’s light", _thirds(light.after)),
    ]


def _thirds(shares: Thirds) -> str:
    return ", ".join(f"{share:.0%}" for share in shares)


def _leans(what: str, leans: Leans) -> list[tuple[str, str]]:
    return [
        (f"{what}, a quarter less", _shift(leans.less)),
        (f"{what}, a quarter more", _shift(leans.more)),
    ]


def _shift(moved: Shift) -> str:
    return (
        f"{_lab(moved.lab)}: L* {moved.lightness:+.1f}, C* {moved.chroma:+.1f}, towards hue "
        f"{moved.turn:.0f}°, CIEDE2000 {moved.seen:.1f}"
    )


def _sure(why: WhyGlaze) -> list[tuple[str, str]]:
    sure = why.sure
    held = ", ".join(f"{claim} {share:.0%}" for claim, share in sure.holds)
    return [
        ("doubt, CIEDE2000 that nine of ten stay within", f"{sure.doubt:.1f}"),
        ("L* of nine in ten", f"{sure.darker[0]:.0f} to {sure.lighter[0]:.0f}"),
        ("draws of the paints in which the same is said", held),
        ("paints", ", ".join(f"{key} {known}" for key, known in sure.known)),
    ]
