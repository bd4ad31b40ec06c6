"""The one page there is: a frame that loads the worksheet's elements."""

from functools import cache
from pathlib import Path
from typing import Final

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template

from firstwash.web.services import Services

__all__ = ["page_of"]

PAGES: Final = Path(__file__).parent / "pages"


@cache
def _template() -> Template:
    known = Environment(
        loader=FileSystemLoader(PAGES), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    return known.get_template("worksheet.html")


def page_of(request: Request, services: Services) -> HTMLResponse:
    """The page, with the secret that its requests must carry."""
    door = services.security.door(request.scope)
    text = _template().render(
        token=door.token, local=door.is_local, asset=request.app.state.assets.url
    )
    return HTMLResponse(text, headers={"cache-control": "no-store"})
