"""The painter's own say about paints: which never, which for certain, how much at most."""

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstwash.errors import RequestError
from firstwash.optics.surface import Paper
from firstwash.paints.catalogue import Paint, all_paints
from firstwash.picture.values import value_step
from firstwash.plan.bench import Bench
from firstwash.plan.problem import Limits, is_black_or_white, usable_paints

__all__ = ["Say", "allowed", "full_coat_step", "heard", "largest_shares"]


@dataclass(frozen=True, eq=False)
class Say:
    """What a plan may paint with.

    paints: those that may be used. must: indices of those that go on the palette. shares:
    (paints,) the largest share (0-1] of a puddle. notes: what was left out and why.
    """

    paints: tuple[Paint, ...]
    must: tuple[int, ...]
    shares: NDArray[np.float64]
    notes: tuple[str, ...]


def heard(owned: Sequence[Paint], limits: Limits, paper: Paper) -> Say:
    """The painter's paints after all that `limits` says about single paints.

    Raises PaintError for paints that cannot make a plan, RequestError for words that name
    no paint, that contradict each other, or that leave nothing to paint with.
    """
    names = _Names(owned)
    ban = names.keys(limits.ban, "ban")
    prefer = names.keys(limits.prefer, "prefer")
    caps = dict(zip(names.keys([k for k, _ in limits.caps], "cap"), limits.caps, strict=True))
    both = sorted(set(ban) & set(prefer))
    if both:
        raise RequestError(f"{both[0]} is both banned and preferred; choose one.")
    kept, notes = _sifted(owned, limits, paper, set(ban), set(prefer))
    shares = np.array([caps[p.key][1] if p.key in caps else 1.0 for p in kept])
    kept, shares, alone = _mixable(kept, shares, limits)
    must = tuple(i for i, p in enumerate(kept) if p.key in prefer)
    if len(must) > limits.paints:
        raise RequestError(
            f"You prefer {len(must)} paints but allow {limits.paints} on the palette; prefer "
            "fewer or allow more."
        )
    if len(must) == limits.paints and not (shares[list(must)] >= 1.0).any():
        raise RequestError(
            "Every paint you prefer is limited to a share of a puddle; leave one without a limit "
            "or allow one paint more on the palette."
        )
    missing = [k for k in prefer if k not in {p.key for p in owned}]
    notes += [f"You prefer {', '.join(missing)}, not among your paints."] if missing else []
    limited = [f"{p.name} ({s:.0%})" for p, s in zip(kept, shares, strict=True) if s < 1.0]
    notes += [f"Limited in every puddle, as you asked: {', '.join(limited)}."] if limited else []
    return Say(kept, must, shares, (*notes, *alone))


def allowed(paints: Sequence[Paint], limits: Limits, paper: Paper) -> tuple[Paint, ...]:
    """Those of the paints that the limits do not rule out; may be none.

    Raises RequestError for words that name no paint.
    """
    names = _Names(paints)
    ban, prefer = names.keys(limits.ban, "ban"), names.keys(limits.prefer, "prefer")
    return tuple(
        p
        for p in paints
        if p.key not in ban
        and (limits.black_and_white or p.key in prefer or not is_black_or_white(p))
        and (limits.darkest_step is None or full_coat_step(p, paper) >= limits.darkest_step)
    )


def largest_shares(paints: Sequence[Paint], limits: Limits) -> NDArray[np.float64]:
    """Largest share (paints,) of a puddle that each paint may make up, 1 for no limit."""
    names = _Names(paints)
    keys = names.keys([word for word, _ in limits.caps], "cap")
    caps = dict(zip(keys, (share for _, share in limits.caps), strict=True))
    return np.array([caps.get(p.key, 1.0) for p in paints], dtype=np.float64)


def full_coat_step(paint: Paint, paper: Paper) -> int:
    """Value step 1-10 that a full coat of one paint alone dries to on this paper."""
    coat = np.array([[paint.full_coat]])
    return int(value_step(Bench.of([paint], paper).labs(coat)[1, 0]))


class _Names:
    """Finds the paint that a word means, among those owned and all that are known."""

    def __init__(self, owned: Sequence[Paint]) -> None:
        self._keys: dict[str, str] = {}
        for one in (*owned, *all_paints()):
            for word in (one.key, one.name):
                self._keys.setdefault(word.strip().casefold(), one.key)

    def keys(self, words: Iterable[str], what: str) -> list[str]:
        """Keys of the words, in order; what: the verb an unknown one is told with."""
        found = [self._key(w, what) for w in words]
        double = next((k for k in found if found.count(k) > 1), None)
        if double is not None:
            raise RequestError(f"You {what} {double} twice; say it once.")
        return found

    def _key(self, word: str, what: str) -> str:
        wanted = word.strip().casefold()
        if wanted in self._keys:
            return self._keys[wanted]
        near = difflib.get_close_matches(wanted, self._keys, 3, 0.5)
        nearest = ", ".join(dict.fromkeys(self._keys[n] for n in near))
        hint = f"near: {nearest}" if nearest else "list them with firstwash paints"
        raise RequestError(f"There is no paint “{word}” to {what}; {hint}.")


def _sifted(
    owned: Sequence[Paint], limits: Limits, paper: Paper, ban: set[str], prefer: set[str]
) -> tuple[tuple[Paint, ...], list[str]]:
    """The paints left after the ban, black and white and what is too dark; notes on the rest."""
    plain = usable_paints(tuple(owned), limits, prefer)
    notes = _told("Left out, for darks are mixed and whites are paper", owned, plain)
    unbanned = tuple(p for p in plain if p.key not in ban)
    notes += _told("Left out, as you asked", plain, unbanned)
    if limits.darkest_step is None:
        kept = unbanned
    else:
        least = limits.darkest_step
        kept = tuple(p for p in unbanned if full_coat_step(p, paper) >= least)
        loved = [p.key for p in unbanned if p not in kept and p.key in prefer]
        if loved:
            raise RequestError(
                f"You prefer {loved[0]}, but a full coat of it dries darker than value step "
                f"{least}; allow a darker step or do not prefer it."
            )
        why = f"Left out, for alone they dry darker than value step {least}"
        notes += _told(why, unbanned, kept)
    if not kept:
        raise RequestError(
            "Nothing is left to paint with; ban fewer paints"
            + (" or allow a darker value step." if limits.darkest_step is not None else ".")
        )
    return kept, notes


def _mixable(
    paints: tuple[Paint, ...], shares: NDArray[np.float64], limits: Limits
) -> tuple[tuple[Paint, ...], NDArray[np.float64], list[str]]:
    """Without limited paints where a puddle holds only one; at least one paint must be free."""
    if not (shares >= 1.0).any():
        raise RequestError(
            "Every paint is limited to a share of a puddle; leave at least one without a limit."
        )
    if limits.paints_per_puddle > 1:
        return paints, shares, []
    free = shares >= 1.0
    kept = tuple(p for p, ok in zip(paints, free, strict=True) if ok)
    why = "Left out, for a puddle of one paint cannot limit it"
    return kept, shares[free], _told(why, paints, kept)


def _told(why: str, before: Sequence[Paint], after: Sequence[Paint]) -> list[str]:
    names = ", ".join(p.name for p in before if p not in after)
    return [f"{why}: {names}."] if names else []
