"""The background cut away from the subject, from a few strokes or none.

Colours of both sides are learnt as mixtures of Gaussians and the border is laid where it is
cheapest, short and along edges ([Rother2004], as OpenCV carries it). That is done small; at
full size the border then follows the picture's own edges ([He2013]). What a stroke says holds
where it was drawn, whatever the colours say.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.graph import MCP_Geometric

from firstwash.arrays import BoolArray, FloatArray, check_last_axis
from firstwash.errors import RequestError
from firstwash.picture.values import even_space

__all__ = ["Stroke", "StrokeKind", "cut_out"]

StrokeKind = Literal["background", "subject"]

# Own choice, by eye on photos; no source.
SMALL_PIXELS = 30_000  # where the border is first looked for
ROUNDS = 3  # of learning colours and moving the border; later ones hardly move it
SEED = 7  # of the first guess at the mixtures
RIM = 0.03  # of the shorter side: taken for background where no stroke says otherwise
UNLIKE = 2.0  # standard deviations from the rim's nearest colour that make a place stand out
PLAIN = 1.5  # L*, a*, b*: a picture that varies less has nothing to learn colours from
SPECK = 0.001  # of the sheet: smaller pieces of either side are filled up
SCANT = 0.06  # of the sheet: a smaller subject found without strokes is none
ALIKE = 9.0  # even colour distance that a correcting stroke spreads over
SURE = 0.35  # of that: colours so alike that they need no second thought
RIM_SLOW = 2.0  # times as far that the rim counts for, where strokes say what is background
FLAT = 0.4  # even colour units a pixel of a way costs where the picture is flat
NEAR = 0.06  # of the sheet's diagonal that a correction reaches round a dab in any colour
FAR = 0.20  # of the diagonal at which a colour must be a quarter as far off to count as alike
GUIDE_NOISE = 4.0  # even colour units: fainter edges do not bend the border
AREA = cv2.INTER_AREA
# OpenCV's labels: certain background and subject, likely background and subject.
BGD, FGD, MAYBE_BGD, MAYBE_FGD = (
    np.uint8(cv2.GC_BGD),
    np.uint8(cv2.GC_FGD),
    np.uint8(cv2.GC_PR_BGD),
    np.uint8(cv2.GC_PR_FGD),
)


@dataclass(frozen=True)
class Stroke:
    """What the painter drew to say what is background and what is subject.

    points: fractions (across, down) of the sheet; one point is a dab. width: of the brush,
    as a fraction of the sheet's width, above 0 to 0.5. Later strokes lie over earlier ones.
    Raises RequestError for a stroke that cannot be drawn.
    """

    points: tuple[tuple[float, float], ...]
    width: float
    kind: StrokeKind

    def __post_init__(self) -> None:
        """Check what was drawn."""
        if self.kind not in get_args(StrokeKind):
            raise RequestError("A stroke marks either the background or the subject.")
        if not self.points or not all(abs(v) <= 10.0 for point in self.points for v in point):
            raise RequestError("A stroke needs points on the sheet; draw it again.")
        if not 0.0 < self.width <= 0.5:
            raise RequestError("A stroke is at most half as wide as the sheet.")


def cut_out(
    lab: FloatArray, strokes: Sequence[Stroke] = (), start: FloatArray | None = None
) -> NDArray[np.float32]:
    """Mask (rows, cols), 1 background and 0 subject, soft over about a pixel at the border.

    lab: CIELAB (rows, cols, 3) of the sheet. Without strokes the colours along the rim are
    taken for the background; if nothing differs from them, all is background. start: a mask
    (rows, cols) to be corrected: only pieces that a stroke touches change.
    The same arguments give the same mask. Raises RequestError for a start of another shape.
    """
    picture = np.asarray(even_space(lab), dtype=np.float32)
    check_last_axis(picture, 3, "lab")
    if start is not None and start.shape != picture.shape[:2]:
        raise RequestError("The cut-out belongs to another picture; start it again.")
    if start is not None and not strokes:
        return np.clip(np.asarray(start, dtype=np.float32), 0.0, 1.0)
    marks = _marks(strokes, picture.shape[:2])
    small = _smaller(picture)
    few = _marks(strokes, small.shape[:2])
    if start is None:
        found = _found(small, few)
    else:
        old = cv2.resize(np.asarray(start, np.float32), small.shape[1::-1], interpolation=AREA)
        found = _corrected(small, few, old > 0.5)
    return _held(_fitted(picture, found, start), marks)


def _smaller(picture: NDArray[np.float32]) -> NDArray[np.float32]:
    rows, cols = picture.shape[:2]
    scale = min(1.0, math.sqrt(SMALL_PIXELS / (rows * cols)))
    size = (max(2, round(cols * scale)), max(2, round(rows * scale)))
    return np.asarray(cv2.resize(picture, size, interpolation=AREA), dtype=np.float32)


def _marks(strokes: Sequence[Stroke], shape: tuple[int, int]) -> NDArray[np.uint8]:
    """(rows, cols) of `BGD` and `FGD` where strokes lie, `MAYBE_BGD` elsewhere."""
    rows, cols = shape
    out = np.full(shape, MAYBE_BGD, dtype=np.uint8)
    for stroke in strokes:
        # Sixteenths of a pixel, from pixel middles.
        places = np.rint((np.array(stroke.points) * [cols, rows] - 0.5) * 16).astype(np.int32)
        label = int(BGD if stroke.kind == "background" else FGD)
        wide = max(1, round(stroke.width * cols))
        cv2.polylines(out, [places], False, label, wide, cv2.LINE_8, shift=4)
        radius = max(8, round(stroke.width * cols * 8))
        for x, y in places[[0, -1]]:  # round ends; and a dab has no length
            cv2.circle(out, (int(x), int(y)), radius, label, cv2.FILLED, cv2.LINE_8, shift=4)
    return out


# --- where the border lies ---------------------------------------------------------


def _found(small: NDArray[np.float32], marks: NDArray[np.uint8]) -> BoolArray:
    """True where background, from the strokes and the rim alone."""
    if float(np.abs(small - np.median(small, axis=(0, 1))).max()) < PLAIN:
        return _nearest(marks)
    behind = _without_specks(_cut(small, _labels(_guess(small, marks), marks)), marks)
    if not (marks == FGD).any() and float((~behind).mean()) < SCANT:
        # Nothing to speak of differs from the rim: look again for what fills the middle.
        middle = ~_ellipse(behind.shape)
        behind = _without_specks(_cut(small, _labels(middle, marks)), marks)
    return behind


def _labels(behind: BoolArray, marks: NDArray[np.uint8]) -> NDArray[np.uint8]:
    drawn = (marks == BGD) | (marks == FGD)
    return np.where(drawn, marks, np.where(behind, MAYBE_BGD, MAYBE_FGD))


def _guess(small: NDArray[np.float32], marks: NDArray[np.uint8]) -> BoolArray:
    """A first background: what is reached from its strokes, or from the rim, over fewer edges.

    The rim counts where it is unlike the subject's strokes. Where the subject has none, what
    differs from the rim stands for it.
    """
    behind, subject = marks == BGD, marks == FGD
    if not (behind.any() or subject.any()):
        return np.asarray(~_stands_out(small))
    if not subject.any():
        subject = _stands_out(small) & ~_like(small, behind)
    rim = _rim(marks.shape) & ~subject & ~_like(small, marks == FGD)
    from_rim = _way(small, rim)
    from_background = np.minimum(_way(small, behind), RIM_SLOW * from_rim)
    return np.asarray((from_background if behind.any() else from_rim) <= _way(small, subject))


def _way(small: NDArray[np.float32], start: BoolArray) -> FloatArray:
    """Length (rows, cols) of the shortest way from `start`, edges counted as climbs. [Bai2009]."""
    if not start.any():
        return np.full(start.shape, np.inf)
    across, down = (np.abs(np.gradient(small, axis=axis)).sum(axis=2) for axis in (1, 0))
    climb = FLAT + np.hypot(across, down)
    found, _ = MCP_Geometric(climb).find_costs(np.argwhere(start))
    return np.asarray(found)


def _ellipse(shape: tuple[int, int]) -> BoolArray:
    rows, cols = shape
    down, across = np.ogrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j]
    return np.asarray(down**2 + across**2 < 0.75**2)


def _nearest(marks: NDArray[np.uint8]) -> BoolArray:
    """Background where its strokes are nearer than the subject's; all where none is drawn."""
    away = [
        cv2.distanceTransform((marks != kind).astype(np.uint8), cv2.DIST_L2, 5)
        if (marks == kind).any()
        else np.full(marks.shape, np.inf)
        for kind in (BGD, FGD)
    ]
    if np.isinf(away[0]).all():  # only the subject is drawn, or nothing: just that is subject
        return np.asarray(marks != FGD)
    return np.asarray(away[0] <= away[1])


def _rim(shape: tuple[int, int]) -> BoolArray:
    width = max(1, round(RIM * min(shape)))
    out = np.ones(shape, dtype=np.bool_)
    out[width:-width, width:-width] = False
    return out


def _stands_out(small: NDArray[np.float32]) -> BoolArray:
    """Places whose colour is not among those along the rim."""
    rim = _rim(small.shape[:2])
    away = _away(small, _colours(small[rim]))
    return np.asarray((away > UNLIKE) & ~rim)


def _colours(pixels: NDArray[np.float32]) -> tuple[FloatArray, FloatArray]:
    """Up to five colours (n, 3) that make up some pixels (m, 3), and their spreads (n,)."""
    count = min(5, len(pixels))
    cv2.setRNGSeed(SEED)
    stop = (cv2.TERM_CRITERIA_MAX_ITER, 12, 0.0)
    _, found, means = cv2.kmeans(
        np.ascontiguousarray(pixels),
        count,
        np.zeros((len(pixels), 1), dtype=np.int32),
        stop,
        1,
        cv2.KMEANS_PP_CENTERS,
    )
    labels, centres = np.asarray(found, dtype=np.int64).ravel(), np.asarray(means, dtype=float)
    error = ((pixels - centres[labels]) ** 2).sum(axis=1)
    size = np.bincount(labels, minlength=count)
    spread = np.sqrt(np.bincount(labels, error, count) / np.maximum(size, 1))
    keep = size >= 0.04 * len(pixels)  # what fills less of the rim may be the subject's foot
    return centres[keep], np.maximum(spread[keep], 2.0)


def _away(picture: NDArray[np.float32], colours: tuple[FloatArray, FloatArray]) -> FloatArray:
    """Distance (rows, cols) from the nearest colour, in that colour's spreads."""
    apart = [
        np.linalg.norm(picture - centre, axis=-1) / spread
        for centre, spread in zip(*colours, strict=True)
    ]
    return np.asarray(np.min(apart, axis=0))


def _like(small: NDArray[np.float32], drawn: BoolArray, part: float = 1.0) -> BoolArray:
    """Places joined to a stroke through colours like those under it, the liker the further.

    part: of the tolerance `ALIKE` that is used.
    """
    if not drawn.any():
        return drawn
    centres, _ = _colours(small[drawn])
    away = cv2.distanceTransform((~drawn).astype(np.uint8), cv2.DIST_L2, 5)
    far = np.asarray(away, dtype=np.float64) / (FAR * math.hypot(*drawn.shape))
    apart = _away(small, (centres, np.full(len(centres), ALIKE)))
    alike = (apart < part * np.clip(1.25 - far, 0.0, 1.0)) | drawn
    _, pieces = cv2.connectedComponents(alike.astype(np.uint8), connectivity=4)
    touched = np.unique(pieces[drawn])
    return np.asarray(np.isin(pieces, touched[touched > 0]))


def _cut(small: NDArray[np.float32], labels: NDArray[np.uint8]) -> BoolArray:
    """True where background after the colours of both sides were learnt and parted."""
    behind = (labels == BGD) | (labels == MAYBE_BGD)
    if behind.all() or not behind.any():
        return np.asarray(behind)
    codes = np.clip(small * [2.55, 2.0, 2.0] + [0.0, 128.0, 128.0], 0, 255).astype(np.uint8)
    mask, models = labels.copy(), np.zeros((2, 65))
    cv2.setRNGSeed(SEED)  # its first guess at the mixtures draws lots
    cv2.grabCut(codes, mask, (0, 0, 1, 1), models[:1], models[1:], ROUNDS, cv2.GC_INIT_WITH_MASK)
    return np.asarray((mask == BGD) | (mask == MAYBE_BGD))


def _without_specks(behind: BoolArray, marks: NDArray[np.uint8]) -> BoolArray:
    """Small pieces go over to the other side, unless a stroke lies on them."""
    out = behind.copy()
    for side, label in ((False, FGD), (True, BGD)):
        _, pieces, stats, _ = cv2.connectedComponentsWithStats((out == side).astype(np.uint8))
        small = stats[:, cv2.CC_STAT_AREA] < max(2.0, SPECK * out.size)
        small[0] = False
        small[np.unique(pieces[marks == label])] = False
        out[small[pieces]] = not side
    return out


def _corrected(small: NDArray[np.float32], marks: NDArray[np.uint8], old: BoolArray) -> BoolArray:
    """The old background, changed only near strokes and in pieces that they touch."""
    out = old.copy()
    for kind, maybe in ((BGD, MAYBE_BGD), (FGD, MAYBE_FGD)):
        drawn = marks == kind
        if not drawn.any():
            continue
        wrong = drawn & (old == (kind == FGD))
        alike = _like(small, wrong)
        near = _near(drawn) | (cv2.dilate(alike.astype(np.uint8), np.ones((5, 5))) > 0)
        labels = np.where(near, np.where(old, MAYBE_BGD, MAYBE_FGD), np.where(old, BGD, FGD))
        labels[alike] = maybe
        labels[_like(small, wrong, SURE)] = kind
        labels = np.where((marks == BGD) | (marks == FGD), marks, labels)
        new = _cut(small, labels)
        turned = ((new != old) & (new == (kind == BGD))) | drawn
        _, pieces = cv2.connectedComponents(turned.astype(np.uint8), connectivity=4)
        touched = np.unique(pieces[drawn])
        out[np.isin(pieces, touched[touched > 0])] = kind == BGD
    out[marks == FGD] = False
    return _without_specks(out, marks)


def _near(drawn: BoolArray) -> BoolArray:
    """Where a correction may reach: further round a long stroke than round a dab."""
    _, pieces, stats, _ = cv2.connectedComponentsWithStats(drawn.astype(np.uint8))
    out = np.zeros(drawn.shape, dtype=np.bool_)
    for piece in range(1, len(stats)):
        wide, high = stats[piece, cv2.CC_STAT_WIDTH], stats[piece, cv2.CC_STAT_HEIGHT]
        reach = NEAR * math.hypot(*drawn.shape) + 0.35 * math.hypot(wide, high)
        away = cv2.distanceTransform((pieces != piece).astype(np.uint8), cv2.DIST_L2, 5)
        out |= away <= reach
    return out


# --- the border at full size -------------------------------------------------------


def _fitted(
    picture: NDArray[np.float32], found: BoolArray, start: FloatArray | None
) -> NDArray[np.float32]:
    """The small mask at full size, its border drawn along the picture's edges."""
    rows, cols = picture.shape[:2]
    scale = math.sqrt(rows * cols / found.size)
    size = (cols, rows)
    small = found.astype(np.float32)
    rough = np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_LINEAR), dtype=np.float32)
    reach = max(2, round(2.0 * scale))
    soft = _guided(picture, rough, reach)
    near = cv2.GaussianBlur(np.clip(4.0 * (soft - 0.5) + 0.5, 0.0, 1.0), (0, 0), 0.7)
    # Far from the border the small mask is sure of itself.
    inner = cv2.blur(rough, (2 * reach + 1, 2 * reach + 1))
    fitted = np.where(inner > 0.995, 1.0, np.where(inner < 0.005, 0.0, near))
    if start is None:
        return fitted.astype(np.float32)
    old = np.asarray(start, dtype=np.float32)
    same = cv2.resize(old, found.shape[::-1], interpolation=AREA) > 0.5
    moved = cv2.dilate((same != found).astype(np.uint8), np.ones((5, 5), np.uint8))
    here = cv2.resize(moved, size, interpolation=cv2.INTER_NEAREST) > 0
    return np.where(here, fitted, np.clip(old, 0.0, 1.0)).astype(np.float32)


def _guided(
    guide: NDArray[np.float32], plane: NDArray[np.float32], reach: int
) -> NDArray[np.float32]:
    """A plane (rows, cols) made linear in the guide's colours within every small box. [He2013]."""
    box = (2 * reach + 1, 2 * reach + 1)
    mean = cv2.blur(guide, box)
    level = cv2.blur(plane, box)
    with_plane = cv2.blur(guide * plane[..., None], box) - mean * level[..., None]
    # Where the plane is even in the box there is nothing to bend: most of the picture.
    bends = (level > 1e-4) & (level < 1.0 - 1e-4)
    spread = np.empty((int(bends.sum()), 3, 3), dtype=np.float32)
    for i in range(3):
        for j in range(i, 3):
            both = cv2.blur(guide[..., i] * guide[..., j], box) - mean[..., i] * mean[..., j]
            spread[..., i, j] = spread[..., j, i] = both[bends]
    spread += GUIDE_NOISE**2 * np.eye(3, dtype=np.float32)
    slope = np.zeros_like(mean)
    slope[bends] = np.linalg.solve(spread, with_plane[bends][..., None])[..., 0]
    offset = level - (slope * mean).sum(axis=-1)
    bent = (cv2.blur(slope, box) * guide).sum(axis=-1)
    return np.asarray(bent + cv2.blur(offset, box), dtype=np.float32)


def _held(mask: NDArray[np.float32], marks: NDArray[np.uint8]) -> NDArray[np.float32]:
    """The mask with what the strokes say."""
    out = np.where(marks == BGD, 1.0, np.where(marks == FGD, 0.0, mask))
    return np.clip(out, 0.0, 1.0).astype(np.float32)
