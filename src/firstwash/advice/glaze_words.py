"""A glaze explained in a painter's words: light, opposites, leanings, puddle, order, doubt.

Every sentence is made of what `glaze_reasons` predicted and says nothing that is not there.
Sentences hold no figures; those are in `why_numbers`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from firstwash.advice.glaze_light import AMOUNTS, THIRDS, Amount, Third, Thirds, amount_of
from firstwash.advice.glaze_order import Order, Where
from firstwash.advice.glaze_path import Path
from firstwash.advice.glaze_reasons import Leans, WhyGlaze
from firstwash.advice.glaze_shift import HARDLY, Shift, Way
from firstwash.advice.glaze_sure import Claim, Sure
from firstwash.handout.reasons import mixture_words
from firstwash.handout.words import colour_words
from firstwash.paints.catalogue import Provenance
from firstwash.picture.values import steps_words

__all__ = ["WhyWords", "coat_words", "shift_words", "why_words"]

# Own judgement: where one word gives way to the next.
SOMETHING: Final = AMOUNTS[0][0]  # share of the light below which there is hardly any
MOSTLY: Final = 1.5  # times the mean of the thirds from which light is mostly of one
FEW: Final = 1.0  # L* below which a change of value is not told
SUNK: Final = 0.5  # L* lighter from which paint that sinks in is told to work less strongly
SURE, LIKELY = 0.9, 0.7  # share of draws of the paints in which a thing would be said
ELSE: Final = " and hardly anything else"
COUNTS: Final = (
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
)
TIMES: Final = (
    (0.12, "about a tenth of"),
    (0.29, "about a quarter of"),
    (0.42, "about a third of"),
    (0.58, "about half"),
    (0.71, "about two thirds of"),
    (0.9, "about three quarters of"),
    (1.12, "about"),
    (1.75, "about one and a half times"),
    (2.5, "about twice"),
    (3.5, "about three times"),
    (float("inf"), "many times"),
)  # strength of a glaze against the one it is laid at
MORE_SO: Final[dict[Way, str]] = {
    "grey": "greyer",
    "brown": "browner",
    "olive": "more olive",
    "rose": "rosier",
    "red": "redder",
    "orange": "more orange",
    "yellow": "yellower",
    "green": "greener",
    "blue green": "more blue green",
    "blue": "bluer",
    "violet": "more violet",
    "pale": "paler",
}
KNOWN: Final[dict[Provenance, str]] = {
    "measured": "known from somebody’s measured swatches",
    "estimated": "known only by an estimate",
    "calibrated": "learnt from your own swatches",
}
CLAIMS: Final[dict[Claim, str]] = {
    "value": "how it changes the value",
    "lean": "which way a little more leans",
    "greys": "whether the two make a grey",
    "puddle": "whether one puddle comes lighter or darker",
    "order": "whether the order matters",
}


@dataclass(frozen=True)
class WhyWords:
    """A glaze explained, a sentence or two each; "" where there is nothing to say.

    gist: what is laid over what. light: what becomes of the light. opposed: whether the two are
    opposites. leans: where a little more and less go. puddle: the same paints in one puddle.
    order: the other way round. sure: how sure all that is.
    """

    gist: str
    light: str
    opposed: str
    leans: str
    puddle: str
    order: str
    sure: str

    @property
    def sentences(self) -> tuple[str, ...]:
        """All that is said, in order."""
        told = (self.light, self.opposed, self.leans, self.puddle, self.order, self.sure)
        return tuple(words for words in told if words)


def why_words(why: WhyGlaze) -> WhyWords:
    """A glaze explained in words."""
    return WhyWords(
        gist=_gist(why),
        light=_light(why),
        opposed=_opposed(why.path, why.change) if why.path else "",
        leans=_leanings(why),
        puddle=_puddle(why.puddle, len(why.amounts)) if why.puddle else "",
        order=_order(why.order, why) if why.order else "",
        sure=_sure(why),
    )


def _gist(why: WhyGlaze) -> str:
    """ "Burnt sienna over ultramarine blue: dark grey." """
    last = len(why.amounts) - 1
    on = "on bare paper" if why.on_paper else f"over {coat_words(why, last - 1)}"
    if last > 1:
        on += f" and {COUNTS[min(last - 2, len(COUNTS) - 1)]} coat{'s' * (last > 2)} more"
    return _sentence(f"{coat_words(why, last)} {on}: {colour_words(why.labs[2])}")


def coat_words(why: WhyGlaze, coat: int) -> str:
    """The paints of one coat: "burnt sienna", "raw sienna with a touch of sap green"."""
    parts = [(paint, share * paint.full_coat) for paint, share in why.parts(coat)]
    return parts[0][0].name if len(parts) == 1 else mixture_words(parts)


def _sentence(told: str) -> str:
    return f"{told[0].upper()}{told[1:]}."


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


# --- light -----------------------------------------------------------------------


def _light(why: WhyGlaze) -> str:
    """ "The blue below sends back …; the orange on top takes …; what both leave is …." """
    if why.on_paper:
        under, glaze = "bare paper sends back all the light", f"the {colour_words(why.stroke)}"
        leave = "what is left"
    else:
        under = f"{_below(why)} sends back {_sent(why.light.under)}"
        glaze, leave = f"the {colour_words(why.stroke)} on top", "what both leave"
    told = [under, f"{glaze} {_takes(why.light.taken, why.light.under)}"]
    if (own := _own(why.light.own)) != "":
        told[-1] += f" and sends back {own} of its own"
        leave = "what is seen"
    told.append(f"{leave} is {_sent(why.light.after)}: {_article(colour_words(why.labs[2]))}")
    return _sentence("; ".join(told))


def _below(why: WhyGlaze) -> str:
    """What the light meets under the glaze: one coat, or what several make together."""
    colour = colour_words(why.labs[1])
    if len(why.amounts) == 2:
        return f"the {colour} below"
    return f"what lies below, {_article(colour)},"


def _article(colour: str) -> str:
    if colour in ("near white", "near black"):
        return colour
    return f"{'an' if colour[0] in 'aeiou' else 'a'} {colour}"


def _sent(shares: Thirds) -> str:
    """Light of several colours: "most of the blue and a little green"."""
    groups = _groups(shares, [t for t in THIRDS if _share(shares, t) >= SOMETHING])
    if not groups:
        most = max(THIRDS, key=lambda t: _share(shares, t))
        mostly = _share(shares, most) * 3.0 >= MOSTLY * sum(shares)
        return "hardly any light" + (f", and that mostly {most}" if mostly else "")
    if len(groups) == 1 and len(groups[0][1]) == 3:
        return f"{_of(groups[0][0])}light of every colour"
    told = _listed([f"{_of(amount)}{_listed(thirds)}" for amount, thirds in groups])
    count = sum(len(thirds) for _, thirds in groups)
    return f"{told}{ELSE}" if count == 1 else told


def _share(shares: Thirds, third: Third) -> float:
    return shares[THIRDS.index(third)]


def _groups(shares: Thirds, thirds: Sequence[Third]) -> list[tuple[Amount, list[Third]]]:
    """Thirds gathered by how much there is of them, most first."""
    order = sorted(thirds, key=lambda t: -_share(shares, t))
    found: dict[Amount, list[Third]] = {}
    for third in order:
        found.setdefault(amount_of(_share(shares, third)), []).append(third)
    return list(found.items())


def _of(amount: Amount) -> str:
    """Before a colour: "nearly all the ", "most of the ", "some "."""
    return {"nearly all": "nearly all the ", "most": "most of the "}.get(amount, f"{amount} ")


def _takes(taken: Thirds, under: Thirds) -> str:
    """What a glaze takes of the light that there is to take."""
    there = [t for t in THIRDS if _share(under, t) >= SOMETHING]
    if not there:
        return "has hardly any to take"
    groups = _groups(taken, [t for t in there if _share(taken, t) >= SOMETHING])
    strong = [(a, thirds) for a, thirds in groups if a != "a little"] or groups
    if not strong:
        return "takes hardly any of it"
    if len(strong) == 1 and len(strong[0][1]) == len(there) > 1:
        return f"takes {strong[0][0]} of it"
    words = {"nearly all": "nearly all the", "most": "most of the", "some": "some of the"}
    told = _listed([f"{words.get(a, 'a little of the')} {_listed(t)}" for a, t in strong])
    return f"takes {told}"


def _own(own: Thirds) -> str:
    """Light that has only met the grains of the glaze, or ""."""
    return _sent(own).removesuffix(ELSE) if max(own) >= SOMETHING else ""


# --- opposites and leanings ------------------------------------------------------


def _opposed(path: Path, change: Shift) -> str:
    if path.opposed == "same":
        does = "deepens" if change.lightness < 0.0 else "strengthens"
        return f"It is the same mixture as beneath, which it {does}."
    if path.opposed == "no hue beneath":
        return "What lies beneath has hardly a hue that could be greyed."
    if path.opposed == "too dark":
        return "What lies beneath is too dark already for any hue to tell."
    if path.opposed == "no hue above":
        greys = f": it greys by {'veiling' if change.lightness > 0.0 else 'darkening'}"
        return f"The glaze has hardly a hue of its own{greys if change.chroma < 0.0 else ''}."
    at = f"at {next(words for top, words in TIMES if path.times < top)} this strength"
    there = _article(colour_words(path.lab))
    if path.opposed == "complementary":
        return f"The two are opposites and meet in grey: {at} the glaze would leave {there}."
    if path.opposed == "nearly":
        return f"The two are nearly opposites: greyest, {at}, would be {there}."
    if path.opposed == "in part":
        return (
            "The two take much of each other’s colour but do not meet in grey: greyest, "
            f"{at}, would be {there}."
        )
    return (
        "The two are no opposites: at no strength do they grey each other, short of merely going "
        "dark."
    )


def shift_words(moved: Shift, leaning: bool = False) -> str:
    """How a colour stands to another: "half a value step darker and greener".

    leaning: as the way it goes, "half a value step darker and towards green".
    """
    if moved.seen < HARDLY:
        return "hardly any different"
    told = []
    if abs(moved.lightness) >= FEW:
        side = "lighter" if moved.lightness > 0 else "darker"
        told.append(f"{steps_words(abs(moved.lightness))} {side}")
    if moved.towards is not None:
        plain = not leaning or moved.towards == "pale"
        told.append(MORE_SO[moved.towards] if plain else f"towards {moved.towards}")
    elif not told:
        told.append("stronger in colour" if moved.chroma > 0 else "weaker in colour")
    return " and ".join(told)


def _leanings(why: WhyGlaze) -> str:
    told = [_lean("it" if why.on_paper else "the glaze", why.glaze)]
    if why.under is not None:
        told.append(_lean("what lies beneath", why.under))
    return " ".join(told)


def _lean(what: str, leans: Leans) -> str:
    more, less = (_goes(shift_words(s, leaning=True)) for s in (leans.more, leans.less))
    if more == less:
        return f"A little more or less of {what} and it {more}."
    return f"A little more of {what} and it {more}; a little less and it {less}."


def _goes(way: str) -> str:
    return "stays as it is" if way == "hardly any different" else f"goes {way}"


# --- puddle and order ------------------------------------------------------------


def _puddle(puddle: Shift, coats: int) -> str:
    laid = "one over the other" if coats == 2 else "one over another"
    if puddle.seen < HARDLY:
        return f"Mixed in one puddle the same paints would come out as they do laid {laid}."
    return f"Mixed in one puddle, the same paints would come out {shift_words(puddle)}."


def _order(order: Order, why: WhyGlaze) -> str:
    if not order.matters:
        return "Laid the other way round it would look the same: the order does not matter here."
    first = "with the glaze laid first" if len(why.amounts) > 2 else "laid the other way round"
    told = _sentence(f"The order matters: {first} it would be {shift_words(order.other)}")
    return " ".join([told, *_causes(order, why)])


def _causes(order: Order, why: WhyGlaze) -> list[str]:
    told = []
    if order.scatters:
        who, does = order.scatters[0], ""
        if order.veils:
            who, does = order.veils, ": laid last it veils what lies under it"
        elif order.covers:
            who, does = order.covers, ": laid last it shows more of its own colour"
        told.append(_sentence(f"{_who(who, why)} scatters light{does}"))
    if order.sinks and order.sunk >= SUNK:
        told.append(
            "The first coat sinks into the paper and works less strongly there than on top."
        )
    return told


def _who(where: Where, why: WhyGlaze) -> str:
    if where == "glaze":
        return coat_words(why, len(why.amounts) - 1)
    return coat_words(why, 0) if len(why.amounts) == 2 else "what lies beneath"


# --- doubt -----------------------------------------------------------------------


def _sure(why: WhyGlaze) -> str:
    sure = why.sure
    off = (sure.lighter[0] - sure.darker[0]) / 2.0
    told = [f"All this could come out {steps_words(off)} lighter or darker."]
    told += _of_claims(sure)
    told += _of_paints(why)
    if not why.on_paper:
        told.append("Nobody has published one wash over another: try it on a scrap.")
    return " ".join(told)


def _of_claims(sure: Sure) -> list[str]:
    """What is likely, and what the doubt about the paints leaves open."""
    likely = [CLAIMS[claim] for claim, share in sure.holds if LIKELY <= share < SURE]
    open_ = [CLAIMS[claim] for claim, share in sure.holds if share < LIKELY]
    told = []
    if likely:
        told.append(_sentence(f"likely rather than sure: {_listed(likely)}"))
    if open_:
        told.append(_sentence(f"the paints are not known well enough to say {_listed(open_)}"))
    return told


def _of_paints(why: WhyGlaze) -> list[str]:
    """Where the paints' colours come from: "burnt sienna is only an estimate"."""
    by: dict[tuple[Provenance, bool], list[str]] = {}
    for paint in why.paints:
        by.setdefault((paint.provenance, paint.key in why.sure.beyond), []).append(paint.name)
    told = []
    for (provenance, beyond), names in by.items():
        are = "are" if len(names) > 1 else "is"
        paler = ", but only from stronger coats than these" if beyond else ""
        told.append(_sentence(f"{_listed(names)} {are} {KNOWN[provenance]}{paler}"))
    return told
