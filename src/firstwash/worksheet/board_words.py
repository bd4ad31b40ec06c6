"""What the painter reads at the board: where a wash goes, what stays bare, what goes wrong."""

from collections.abc import Iterator, Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import FloatArray
from firstwash.language import mark
from firstwash.paints.catalogue import Handling, Paint
from firstwash.plan.board.amounts import Counted, PuddleAmount, volume_words
from firstwash.plan.result import Plan
from firstwash.plan.schedule import hair_mm
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Wash
from firstwash.worksheet.words import (
    Units,
    area_told,
    cell_places,
    length_told,
    listed,
    place_words,
    width_told,
)

__all__ = [
    "Where",
    "chief_paints",
    "hair_told",
    "lay_words",
    "mistakes",
    "mix_told",
    "paper_words",
    "strokes_told",
]

# All of these: common practice, no source.
MOST_PLACES = 3  # named; beyond, a wash lies all over the sheet
NAMED = 0.8  # of its area that the places named must hold
MOST_OF_SHEET = 0.6
COUNTED_ML = 2.0  # less water than this is counted in drops, as in `handout.steps`
MEASURES: dict[Units, Literal["metric", "US"]] = {"cm": "metric", "in": "US"}
TOLD_PART = 0.15  # of a puddle, from which a paint's handling shows
SHORTEST_HAIR_MM = 10.0  # less is not worth a word

# What commonly goes wrong, by what a paint is like; common practice, no source.
STAINS = "stains: go round the lights with care, for it will not lift"
GRAINS = "grains: lay it once and leave it, for brushing again breaks the grain"
LIFTS = "lifts: go over it once with a soft full brush, for scrubbing stirs it up"
LIFT_ALL = "lift: go over them once with a soft full brush, for scrubbing stirs them up"
COVERS = "is not transparent: keep it thin, or it turns chalky and hides what is below"
# By how a wash is laid.
HABITS = {
    "wet-on-dry": mark(
        "Carry a full bead down and pick it up at the end; going back makes streaks."
    ),
    "graded": mark("Tilt the board and add water with every stroke; do not go back up."),
    "wet-in-wet": mark("Once the shine goes, stay out: a wet brush then makes blooms."),
    "glaze": mark("One light stroke each place; a second one lifts the paint below."),
    "dry-brush": mark("Wipe the brush first and hold it flat; a wet one fills the grain."),
    "touch": mark("Try the stroke on a strip first; it cannot be taken back."),
}


# --- where -----------------------------------------------------------------------


class Where:
    """Where things lie on a plan's sheet, worked out once for all its washes."""

    def __init__(self, plan: Plan, units: Units) -> None:
        """Find the middle of every cell and stroke."""
        self.plan, self.units = plan, units
        self.places = cell_places(plan.cells.index, plan.cells.count)
        self.areas = plan.cells.areas_mm2()
        self.bare = np.array([not own for own in plan.coats], dtype=np.bool_)
        self.touch_cells = [self._cell_of(t) for t in plan.touches]

    def _cell_of(self, touch: Touch) -> int:
        """The cell in which the middle of a stroke lies."""
        points = touch.stroke.points_mm
        x, y = (points[len(points) // 2] * self.plan.cells.ppmm).astype(np.int64)
        rows, cols = self.plan.cells.index.shape
        return int(self.plan.cells.index[np.clip(y, 0, rows - 1), np.clip(x, 0, cols - 1)])

    def words(self, wash: Wash) -> str:
        """Where a wash goes: "upper left and in the middle, in 3 areas"."""
        where = self._spread(np.array(wash.cells))
        return where if wash.areas == 1 else f"{where}, in {wash.areas} areas"

    def _spread(self, cells: NDArray[np.int64]) -> str:
        areas = self.areas[cells]
        if areas.sum() >= MOST_OF_SHEET * self.areas.sum():
            return "over most of the sheet"
        found: dict[str, float] = {}
        for (x, y), area in zip(self.places[cells].tolist(), areas.tolist(), strict=True):
            word = place_words(x, y)
            found[word] = found.get(word, 0.0) + area
        named = sorted(found, key=lambda w: -found[w])[:MOST_PLACES]
        if sum(found[w] for w in named) < NAMED * float(areas.sum()):
            return f"all over the sheet, most of it {named[0]}"
        least = 0.1 * float(areas.sum())
        return listed([w for w in named if found[w] >= least or w == named[0]])

    def bare_beside(self, wash: Wash) -> tuple[int, ...]:
        """Cells along a wash that never get paint."""
        mine = np.zeros(self.plan.cells.count, dtype=np.bool_)
        mine[list(wash.cells)] = True
        a, b = self.plan.edges.cells[:, 0], self.plan.edges.cells[:, 1]
        beside = np.concatenate([b[mine[a] & self.bare[b]], a[mine[b] & self.bare[a]]])
        return tuple(int(c) for c in np.unique(beside))

    def kept(self, wash: Wash) -> tuple[int, ...]:
        """Fine strokes inside a wash that are kept free of it."""
        own = set(wash.cells)
        return tuple(
            i
            for i, t in enumerate(self.plan.touches)
            if t.after is not None and t.after < wash.layer and self.touch_cells[i] in own
        )

    def keep_words(self, wash: Wash) -> str:
        """What stays bare: "Keep bare what lies beside it upper left (3 cm²)."; "" for nothing."""
        told = []
        if bare := self.bare_beside(wash):
            cells = np.array(bare)
            area = area_told(float(self.areas[cells].sum()), self.units)
            told.append(f"Keep the bare paper beside it, {self._spread(cells)} ({area})")
        masked, round_ = self._kept_by_way(wash)
        if round_:
            told.append(f"go round {count_words(round_, 'fine light')}")
        if masked:
            told.append(f"{count_words(masked, 'fine light')} may be gone over, under the mask")
        return _sentence("; ".join(told))

    def _kept_by_way(self, wash: Wash) -> tuple[int, int]:
        ways = [self.plan.touches[i].way for i in self.kept(wash)]
        masked = sum(way == "masked" for way in ways)
        return masked, len(ways) - masked


def count_words(count: int, what: str) -> str:
    """So many of a thing: "1 fine light", "3 fine lights"."""
    return f"{count} {what}{'s' * (count != 1)}"


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}." if text else ""


# --- how -------------------------------------------------------------------------


def lay_words(wash: Wash, letters: Sequence[str]) -> str:
    """How to lay a wash, as an order; letters: of the plan's puddles."""
    letter = letters[wash.puddle]
    if wash.into is not None:
        return f"Drop {letter} into wash {wash.into} while that still shines, and let it run."
    return {
        "wet-on-dry": f"Lay {letter} flat on dry paper.",
        "wet-in-wet": f"Wet the place with clear water; lay {letter} while it shines.",
        "graded": f"Lay {letter} from its strong end, with more water towards the other.",
        "glaze": f"Glaze {letter} over the dry paint.",
        "dry-brush": f"Skim {letter} over the grain; twice where it should close.",
        "touch": f"Touch {letter} in with the tip.",
    }[wash.technique]


def paper_words(wash: Wash) -> str:
    """Whether the paper is to be "wet" or "dry"."""
    return "wet" if wash.into is not None or wash.technique == "wet-in-wet" else "dry"


def chief_paints(plan: Plan, q: int) -> tuple[Paint, ...]:
    """Paints that make up a good part of a puddle."""
    parts = [(plan.paints[p], a / plan.paints[p].full_coat) for p, a in plan.puddles[q].parts]
    whole = sum(share for _, share in parts)
    return tuple(paint for paint, share in parts if share >= TOLD_PART * whole)


def mistakes(plan: Plan, wash: Wash) -> tuple[str, ...]:
    """What commonly goes wrong with such a wash of such paints; common practice, no source."""
    told = [f"{p.name} {fault}" for p in chief_paints(plan, wash.puddle) for fault in _faults(p)]
    lifting = [p.name for p in _under(plan, wash) if _lifts(p.handling)]
    if lifting:
        verb = LIFTS if len(lifting) == 1 else LIFT_ALL
        told.append(f"{listed(lifting)} below {verb}")
    return (HABITS[wash.technique], *(_sentence(t) for t in told))


def _faults(paint: Paint) -> Iterator[str]:
    h = paint.handling
    if h.staining is not None and h.staining >= 3:
        yield STAINS
    if h.granulation is not None and h.granulation >= 2:
        yield GRAINS
    if h.transparency is not None and h.transparency <= 1:
        yield COVERS


def _lifts(h: Handling) -> bool:
    return h.staining is not None and h.staining <= 1


def _under(plan: Plan, wash: Wash) -> list[Paint]:
    """Chief paints of what a wash is laid over, each once."""
    puddles = {q for c in wash.cells for layer, q, _ in plan.coats[c] if layer < wash.layer}
    found = {p.key: p for q in sorted(puddles) for p in chief_paints(plan, q)}
    return list(found.values())


# --- how much --------------------------------------------------------------------


def mix_told(
    amount: PuddleAmount, names: Sequence[str], units: Units = "cm", pans: bool = False
) -> str:
    """How to mix a puddle: "2 peas of burnt sienna, …, 40 drops of water"; inches mean spoons."""
    counted = amount.pans if pans else amount.tubes
    measure = f"{counted.measure}-load" if pans else counted.measure
    paints = [
        f"{count_words(n, measure)} of {name}"
        for n, name in zip(counted.counts, names, strict=True)
    ]
    return ", ".join([*paints, _water(counted, units)]) + _let_down(counted, units)


def _water(counted: Counted, units: Units) -> str:
    if not counted.drops:
        return "no water"
    if units == "cm" and counted.water_ml < COUNTED_ML:
        return f"{count_words(counted.drops, 'drop')} of water"
    return f"{volume_words(counted.water_ml, MEASURES[units])} of water"


def _let_down(counted: Counted, units: Units) -> str:
    if not counted.taken:
        return ""
    fresh = volume_words(counted.let_down_ml, MEASURES[units])
    return f"; of that {count_words(counted.taken, 'drop')} in {fresh} of fresh water"


def hair_told(plan: Plan, layer: int, units: Units = "cm") -> str:
    """What to do where two washes of a layer meet along a hard edge; "" where none do."""
    washes = plan.washes_of(layer)
    length = hair_mm(washes, plan.edges, plan.cells, plan.schedule.hurried)
    if length < SHORTEST_HAIR_MM:
        return ""
    return (
        f"Where washes of this layer meet along a hard edge ({length_told(length, units)} in all), "
        "leave a hair of dry paper between them."
    )


def strokes_told(touches: Sequence[Touch], units: Units = "cm") -> str:
    """Fine strokes counted: "2 fine lines (2 cm in all, up to 1.9 mm wide) and 1 dot"."""
    lines = [t for t in touches if t.stroke.kind == "line"]
    told = []
    if lines:
        length = length_told(sum(t.stroke.length_mm for t in lines), units)
        widest = width_told(max(t.stroke.width_mm for t in lines), units)
        told.append(
            f"{count_words(len(lines), 'fine line')} ({length} in all, up to {widest} wide)"
        )
    if dots := len(touches) - len(lines):
        told.append(count_words(dots, "dot"))
    return " and ".join(told)


def loads_of(plan: Plan, coats: Sequence[float]) -> FloatArray:
    """(puddles,) load of each puddle at strength 1 in coats as strong as a hand lays them."""
    return np.array([sum(a / coats[p] for p, a in puddle.parts) for puddle in plan.puddles])
