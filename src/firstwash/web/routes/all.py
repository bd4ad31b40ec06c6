"""All routes that need the numerical packages, over one studio."""

from fastapi import APIRouter

from firstwash.web.memory import give_back
from firstwash.web.routes import (
    board,
    drawing,
    finished,
    glazes,
    handout,
    paints,
    prints,
    seeing,
    spots,
    work,
)
from firstwash.web.services import Services
from firstwash.worksheet.own_list import OwnList
from firstwash.worksheet.studio import Studio

__all__ = ["heavy_routers"]


def heavy_routers(services: Services) -> tuple[APIRouter, ...]:
    """The routers, in the order in which they are asked."""
    studio = Studio(services.store, OwnList(services.folder / "paints"))
    store = services.store
    services.when_idle += [studio.forget, store.empty_bin, store.sweep, give_back]
    modules = (
        work, prints, seeing, spots, drawing, board, paints, glazes, handout, finished,
    )  # fmt: skip
    return tuple(module.router(services, studio) for module in modules)
