"""A plan read back from `plan.json` and the map of its cells, to go on working with it.

What the document does not hold, because it follows from the photo, has to be given: how soft
the edges are at every pixel. Numbers come back with the nine digits they were written with.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstwash.arrays import IntArray
from firstwash.errors import FirstwashError, RequestError
from firstwash.optics.difference import delta_e_2000
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Handling, Paint
from firstwash.paints.spread import N_CURVES
from firstwash.picture.edges import EDGE_KINDS, Edges, core_colours
from firstwash.picture.reference import Reference
from firstwash.picture.shapes import Cells
from firstwash.picture.stroke_render import Stroke
from firstwash.plan import board
from firstwash.plan.board.amounts import Consistency, Counted, PuddleAmount
from firstwash.plan.board.drying import Room
from firstwash.plan.board.order import Reason, Step, Wait
from firstwash.plan.document import FORMAT, VERSION
from firstwash.plan.local_first import LocalFirst, TintChange
from firstwash.plan.locks import Locks
from firstwash.plan.outlook import Expected, Outlook, WashOutlook
from firstwash.plan.problem import Limits
from firstwash.plan.result import Agreement, Errors, PaletteWorth, Plan, Report, Rung
from firstwash.plan.schedule import schedule_of, with_touches
from firstwash.plan.tone import ToneMap
from firstwash.plan.touches import Touch
from firstwash.plan.wash import Puddle, Wash

__all__ = ["read_cells", "read_locks", "read_paper", "read_plan"]

Document = Mapping[str, Any]

MOST = 1e3  # times a full coat that nobody lays: a damaged number
ONE_COAT = 1e-6  # by how much nine digits of a recipe may miss one full coat
DAMAGES = (KeyError, TypeError, ValueError, IndexError, OverflowError, AttributeError, MemoryError)
SAME_PHOTO = 0.5  # CIEDE2000, mean over the sheet, that the same photo read again may differ


def _checked(told: Document) -> None:
    if not isinstance(told, Mapping) or told.get("format") != FORMAT:
        raise RequestError("That is not a plan written by firstwash.")
    if told.get("version") != VERSION:
        raise RequestError(
            f"The plan was written in version {told.get('version')!r} of the format, this program "
            f"reads version {VERSION}; make the plan again."
        )


def read_cells(told: Document, index: IntArray, ppmm: float) -> Cells:
    """The cells of a document; index: (rows, cols) their numbers, as `masks/cells.png` has them.

    Raises RequestError if the map does not fit the document.
    """
    _checked(told)
    try:
        shapes = np.array([c["shape"] for c in told["cells"]], dtype=np.int32)
        levels = np.array([c["level"] for c in told["cells"]], dtype=np.int32)
        _fit(bool(((shapes >= 0) & (shapes < max(len(shapes), 1))).all()), "shapes")
        rough = np.zeros(int(shapes.max(initial=-1)) + 1)
        rough[shapes] = [float(c["roughness"]) for c in told["cells"]]
    except DAMAGES as error:
        raise _damaged(error) from None
    found = np.asarray(index)
    if found.ndim != 2 or not np.array_equal(np.unique(found), np.arange(len(shapes))):
        raise RequestError("The map of the cells does not belong to this plan.")
    return Cells(found.astype(np.int32), shapes, levels, ppmm, rough)


def read_locks(told: Document) -> Locks:
    """What the painter had locked in the plan before this one. Raises RequestError as above."""
    _checked(told)
    try:
        found = [(lock["kind"], lock["name"]) for lock in told["locks"]]
        return Locks(
            washes=frozenset(tuple(n) for kind, n in found if kind == "wash"),
            puddles=frozenset(n for kind, n in found if kind == "puddle"),
            paints=frozenset(n for kind, n in found if kind == "paint"),
            layers=frozenset(n for kind, n in found if kind == "layer"),
        )
    except DAMAGES as error:
        raise _damaged(error) from None


def read_paper(told: Document) -> Paper:
    """The paper a plan was made for. Raises RequestError as above."""
    _checked(told)
    try:
        return _paper(told["paper"])
    except (FirstwashError, *DAMAGES) as error:
        raise _damaged(error) from None


def read_plan(
    told: Document,
    cells: Cells,
    edges: Edges,
    reference: Reference,
    within: float = SAME_PHOTO,
) -> Plan:
    """The plan of a document.

    cells: from `read_cells`; edges: of these cells in the reference (`find_edges`). within: mean
    CIEDE2000 over the sheet by which the reference may differ from the one that was planned.
    Raises RequestError for a document that is damaged or of another picture.
    """
    _checked(told)
    try:
        return _Reader(told, cells, within).plan(edges, reference)
    except RequestError:
        raise
    except (FirstwashError, *DAMAGES) as error:
        raise _damaged(error) from None


def _damaged(error: Exception) -> RequestError:
    what = f"{error.args[0]!r} is missing" if isinstance(error, KeyError) else str(error)
    what = " ".join(what.split())[:200]
    return RequestError(f"The plan cannot be read ({what}); make it again from the photo.")


def _fit(good: bool, what: str) -> None:
    if not good:
        raise ValueError(f"{what} do not fit together")


class _Reader:
    def __init__(self, told: Document, cells: Cells, within: float) -> None:
        self.told, self.cells, self.within = told, cells, within
        self.paints = tuple(_paint(p) for p in told["paints"])
        self.paint_of = {p.key: i for i, p in enumerate(self.paints)}
        self.puddle_of = {p["name"]: i for i, p in enumerate(told["puddles"])}
        _fit(len(self.paint_of) == len(self.paints), "paints")
        _fit(len(self.puddle_of) == len(told["puddles"]), "puddles")

    def plan(self, edges: Edges, reference: Reference) -> Plan:
        """The plan as it was before it was written."""
        told, sheet = self.told, reference.sheet
        size = told["sheet"]
        if (size["width_mm"], size["height_mm"]) != (
            float(f"{sheet.width_mm:.9g}"),
            float(f"{sheet.height_mm:.9g}"),
        ):
            raise RequestError(
                f"The plan is for a sheet of {size['width_mm']:g} × {size['height_mm']:g} mm; "
                "ask for that size again."
            )
        washes = tuple(self._wash(w, n["number"]) for n in told["layers"] for w in n["washes"])
        touches = tuple(self._touch(t) for t in told["touches"])
        coats = tuple(self._coats(c["coats"]) for c in told["cells"])
        self._check_coats(coats, washes)
        background = told["background"]["treatment"]
        if background != reference.background:
            raise RequestError(f"The plan's background is {background}; ask for that again.")
        self._check_photo(edges, reference)
        room = Room(**told["schedule"]["room"])
        steps = [
            tuple(_step(s, {w.number for w in washes if w.layer == n}) for s in own)
            for n, own in enumerate(told["schedule"]["steps"], 1)
        ]
        layers = [(tuple(w for w in washes if w.layer == n), s) for n, s in enumerate(steps, 1)]
        _fit(sum(len(w) for w, _ in layers) == len(washes), "washes and layers")
        hurried = told["schedule"]["hurried"] is True
        schedule = schedule_of(layers, room, sheet.weight_gsm, hurried)
        return Plan(
            sheet=sheet,
            paper=_paper(told["paper"]),
            paints=self.paints,
            limits=_limits(told["limits"]),
            tone=_tone(told["tone"]),
            background=background,
            cells=self.cells,
            edges=edges,
            puddles=tuple(self._puddle(p) for p in told["puddles"]),
            washes=washes,
            schedule=with_touches(schedule, touches, washes, sheet.weight_gsm),
            coats=coats,
            targets=self._labs("photo_lab"),
            aims=self._labs("target_lab"),
            stage_labs=self._stages(len(steps)),
            doubts=_numbers([c["doubt"] for c in told["cells"]], (self.cells.count,)),
            report=_report(told["report"]),
            photo_px=reference.photo_px,
            touches=touches,
            notes=tuple(str(n) for n in told["notes"]),
        )

    def _check_photo(self, edges: Edges, reference: Reference) -> None:
        found = core_colours(reference.lab, self.cells, edges, reference.weight)
        off = delta_e_2000(found, self._labs("photo_lab"))
        if float(off @ self.cells.areas_mm2() / self.cells.areas_mm2().sum()) > self.within:
            raise RequestError("The plan is of another photo, or of another part of it.")

    def _labs(self, name: str) -> NDArray[np.float64]:
        return _numbers([c[name] for c in self.told["cells"]], (self.cells.count, 3))

    def _stages(self, layers: int) -> NDArray[np.float64]:
        shape = (self.cells.count, layers + 1, 3)
        found = _numbers([c["stage_labs"] for c in self.told["cells"]], shape)
        return np.ascontiguousarray(found.transpose(1, 0, 2))

    def _coats(self, own: Sequence[Document]) -> tuple[tuple[int, int, float], ...]:
        found = tuple((int(c["layer"]), self.puddle_of[c["puddle"]], _amount(c)) for c in own)
        layers = [layer for layer, _, _ in found]
        _fit(layers == sorted(set(layers)) and layers[:1] >= [1] * len(layers[:1]), "coats")
        return found

    def _check_coats(
        self, coats: Sequence[Sequence[tuple[int, int, float]]], washes: Sequence[Wash]
    ) -> None:
        """Every coat belongs to just one wash, and no wash lies where no coat is."""
        laid = {(c, n): q for c, own in enumerate(coats) for n, q, _ in own}
        told = [((c, w.layer), w.puddle) for w in washes for c in w.cells]
        _fit(len(told) == len(laid) and dict(told) == laid, "washes and coats")

    def _wash(self, w: Document, layer: int) -> Wash:
        return Wash(
            layer=layer,
            number=w["number"],
            shapes=tuple(w["shapes"]),
            cells=tuple(int(c) for c in w["cells"]),
            puddle=self.puddle_of[w["puddle"]],
            strength=_amount(w),
            end_strength=w["end_strength"],
            area_mm2=w["area_mm2"],
            areas=w["areas"],
            before=_triple(w["lab_before"]),
            after=_triple(w["lab_after"]),
            stroke=_triple(w["stroke_lab"]),
            value_step=w["value_step"],
            kind=w["kind"],
            technique=w["technique"],
            edges_mm=_triple([w["edges_mm"][kind] for kind in EDGE_KINDS]),
            into=w["into"],
        )

    def _puddle(self, p: Document) -> Puddle:
        amount = dict(p["amount"])
        parts = tuple((self.paint_of[q["paint"]], float(q["amount"])) for q in p["parts"])
        loads = [a / self.paints[i].full_coat for i, a in parts]
        _fit(all(0.0 < x < np.inf for x in loads) and abs(sum(loads) - 1.0) < ONE_COAT, "recipes")
        amount["consistency"] = Consistency(**amount["consistency"])
        for way in ("tubes", "pans"):
            counted = amount[way]
            amount[way] = Counted(**{**counted, "counts": tuple(counted["counts"])})
        return Puddle(
            name=p["name"],
            parts=parts,
            strength_range=_strengths(p["strength_range"]),
            area_mm2=p["area_mm2"],
            value_steps=tuple(p["value_steps"]),
            swatch=_numbers(p["swatch_lab"], (2, 3)),
            wet=_triple(p["wet_lab"]),
            amount=PuddleAmount(**amount),
        )

    def _touch(self, t: Document) -> Touch:
        points = _numbers(t["points_mm"], (len(t["points_mm"]), 2))
        lab = _triple(t["lab"])
        light = t["after"] is not None
        stroke = Stroke(
            points, _numbers(t["half_widths_mm"], (len(points),)),
            "light" if light else "dark", lab, t["gain"], 0.0, t["form"],
        )  # fmt: skip
        puddle = None if t["puddle"] is None else self.puddle_of[t["puddle"]]
        return Touch(stroke, t["way"], t["after"], puddle, t["strength"], lab, t["gain"])


def _numbers(values: Any, shape: tuple[int, ...]) -> NDArray[np.float64]:
    found = np.array(values, dtype=np.float64)
    _fit(found.shape == shape and bool(np.isfinite(found).all()), "numbers")
    return found


def _triple(values: Any) -> tuple[float, float, float]:
    a, b, c = _numbers(values, (3,)).tolist()
    return a, b, c


def _strengths(values: Any) -> tuple[float, float]:
    """Weakest and strongest use of a puddle."""
    weakest, strongest = _numbers(values, (2,)).tolist()
    _fit(0.0 < weakest <= strongest < MOST, "strengths")
    return weakest, strongest


def _amount(told: Document) -> float:
    strength = float(told["strength"])
    _fit(0.0 < strength < MOST, "strengths")
    return strength


def _paint(p: Document) -> Paint:
    known = ("key", "name", "provenance", "source", "note", "full_coat", "sigma")
    return Paint(
        pigments=tuple(p["pigments"]),
        k=_numbers(p["k"], (len(p["k"]),)),
        s=_numbers(p["s"], (len(p["k"]),)),
        spread=_spread(p.get("spread")),
        handling=Handling(**p["handling"]),
        **{name: p[name] for name in known},
    )


def _spread(rows: Any) -> NDArray[np.float64] | None:
    return None if rows is None else _numbers(rows, (len(rows), N_CURVES))


def _paper(p: Document) -> Paper:
    known = {n: p[n] for n in ("name", "k1", "k2", "soak", "fibre_scattering", "provenance")}
    return Paper(reflectance=_numbers(p["reflectance"], (len(p["reflectance"]),)), **known)


def _tone(told: Document) -> ToneMap:
    floor, ceiling = _numbers([told["floor"], told["ceiling"]], (2,)).tolist()
    _fit(0.0 <= floor <= ceiling <= 100.0, "tones")
    return ToneMap(floor, ceiling)


def _limits(told: Document) -> Limits:
    return Limits(**{**told, "caps": tuple(tuple(pair) for pair in told["caps"])})


def _step(told: Document, numbers: set[int]) -> Step:
    named = tuple(int(n) for n in told["washes"])
    _fit(set(named) <= numbers, "steps and washes")
    reason = Reason(told["reason"])
    if told["action"] == "wait":
        return Wait(float(told["minutes"]), named, tuple(told["before"]), reason)
    return board.order.Paint(named, reason)


def _report(r: Document) -> Report:
    hand, palette = r["by_hand"], r["palette"]
    plain = ("darkened_from", "lifted_share", "off_gamut_share", "doubt")
    return Report(
        rungs=tuple(
            Rung(
                g["name"], Errors(**g["against_photo"]), Errors(**g["against_target"]),
                g["puddles"], g["washes"],
            )
            for g in r["rungs"]
        ),
        agreement=Agreement(**r["agreement"]),
        washes_alone=Agreement(**r["washes_alone"]),
        by_hand=None if hand is None else _outlook(hand),
        palette=None if palette is None else PaletteWorth(**palette),
        local_first=_local_first(r.get("local_first")),
        **{name: float(r[name]) for name in plain},
    )  # fmt: skip


def _local_first(told: Document | None) -> LocalFirst | None:
    """What the split of light and local colour changed; plans of old know nothing of it."""
    if told is None:
        return None
    changes = []
    for c in told["changes"]:
        tints = {name: _triple(c[name]) for name in ("tint_with", "tint_without")}
        changes.append(TintChange(**{**c, **tints}))
    return LocalFirst(tuple(changes), float(told["share"]))


def _outlook(hand: Document) -> Outlook:
    washes = tuple(
        WashOutlook(Expected(**w["dried"]), Expected(**w["end"])) for w in hand["washes"]
    )
    return Outlook(hand["sigma"], hand["painters"], Expected(**hand["whole"]), washes)
