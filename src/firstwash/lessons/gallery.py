"""All lessons as one folder of pages: paints in, names and bytes of files out."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, Final

from firstwash.handout.pictures import cells_at, paint_stage
from firstwash.lessons import draw
from firstwash.lessons.blacks import blacks
from firstwash.lessons.complements import complements
from firstwash.lessons.granulation import granulation
from firstwash.lessons.layers import layers
from firstwash.lessons.page import Lesson, index_page, lesson_page
from firstwash.lessons.tutorial import palette_ramps, tutorial
from firstwash.lessons.underpainting import underpainting
from firstwash.lessons.wet_dry import wet_dry
from firstwash.lessons.words import joined
from firstwash.lessons.workshop import Workshop, open_workshop
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint
from firstwash.picture.profile import encode_png
from firstwash.plan.problem import Progress, no_progress

__all__ = ["FILES", "LESSONS", "MARK", "Gallery", "make_gallery"]

LESSONS: Final[tuple[tuple[str, Callable[[Workshop], Lesson]], ...]] = (
    ("From a photo to the first wash", tutorial),
    ("What an underpainting does", underpainting),
    ("One layer against four", layers),
    ("Complementary glazes", complements),
    ("Granulation, staining and lifting", granulation),
    ("Never black", blacks),
    ("Wet against dry", wet_dry),
)
FILES: Final = (
    "index.html",
    "from-photo-to-first-wash.html",
    "underpainting.html",
    "layers.html",
    "complements.html",
    "granulation.html",
    "blacks.html",
    "wet-dry.html",
)
PLANNING: Final = 0.5  # share of the work that planning the still life takes
MARK: Final = "<!-- firstwash lessons -->"  # ends every index page, to know it again


@dataclass(frozen=True, eq=False)
class Gallery:
    """The lessons, and the files that show them: name → bytes, "index.html" first."""

    lessons: tuple[Lesson, ...]
    files: Mapping[str, bytes]

    def summary(self) -> dict[str, Any]:
        """Sentences and numbers of every lesson, as plain data."""
        return {
            one.key: {
                "title": one.title,
                "sentences": list(one.sentences),
                "numbers": one.numbers,
            }
            for one in self.lessons
        }


def make_gallery(
    paints: Sequence[Paint], paper: Paper, listed_as: str, progress: Progress = no_progress
) -> Gallery:
    """Every lesson with these paints on this paper; the same input gives the same bytes.

    listed_as: what the list of paints is called. progress: called between steps; what it raises
    stops the work. Raises PaintError for paints that cannot make a plan.
    """
    shop = open_workshop(paints, paper, lambda s, d: progress(s, PLANNING * d))
    made = []
    for number, (title, lesson) in enumerate(LESSONS):
        progress(title, PLANNING + (1.0 - PLANNING) * number / len(LESSONS))
        made.append(lesson(shop))
    progress("Writing the pages", 0.99)
    lessons = tuple(made)
    files = {
        "index.html": index_page(lessons, _opening(shop, listed_as), _palette(shop)) + MARK.encode()
    }
    files |= {f"{one.key}.html": lesson_page(lessons, i) for i, one in enumerate(lessons)}
    return Gallery(lessons, files)


def _opening(shop: Workshop, listed_as: str) -> str:
    count = len(shop.owned)
    palette = joined([p.name for p in shop.palette])
    of = (
        f"From the {count} paints of “{escape(listed_as)}” the still life is planned with "
        f"{escape(palette)}."
        if count > 1
        else f"“{escape(listed_as)}” holds one paint, {escape(palette)}. The lessons show what it "
        "can do alone, and where they need a second one they say so."
    )
    return (
        "<p>Made by firstwash from its own prediction, with your paints and one still life: an "
        "enamel jug, two lemons, a plum and a folded linen towel by a window. Every number and "
        f"every sentence follows from the prediction. {of}</p><p>Read them on a screen or print "
        "them; each ends with questions for a class, an exercise and a sheet to paint on. Colours "
        "of glazes are model, not measured: paint a strip before you believe them.</p>"
        + draw.pictures([_planned(shop)], few=True)
    )


def _planned(shop: Workshop) -> str:
    """The finished still life, twice as fine as it is worked on, so that edges are smooth."""
    plan = shop.plan
    rows, cols = plan.cells.index.shape
    index = cells_at(plan.cells, cols * 2, rows * 2)
    alt = "The still life as planned: a white jug, two lemons, a plum and a folded linen towel"
    png = encode_png(paint_stage(plan, None, index, 1))
    return draw.picture(png, alt, "The still life, as predicted in four layers")


def _palette(shop: Workshop) -> str:
    return f"<h2>The palette</h2>{palette_ramps(shop)}"
