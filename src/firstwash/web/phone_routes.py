"""Routes for using a phone; only this computer's own browser may use them.

GET    /api/phone               {"state": "closed" | "waiting" | "expired" | "in use", ...}
POST   /api/phone               opens with a new code; {"address": one of those offered}
DELETE /api/phone               closes
GET    /api/phone/addresses     {"addresses": [...]}, the likeliest first
"""

import asyncio
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request, Response
from pydantic import BaseModel, Field

from firstwash.web.errors import NotAllowed, NotFound
from firstwash.web.services import Services, services_of

__all__ = ["router"]


def only_here(request: Request, services: Annotated[Services, Depends(services_of)]) -> Services:
    """The services, for this computer's own browser. Raises NotAllowed for the phone."""
    if services.security.door(request.scope) is not services.security.here:
        raise NotAllowed("This is done at the computer; go to the worksheet there.")
    return services


router = APIRouter(prefix="/api/phone", tags=["phone"])
Given = Annotated[Services, Depends(only_here)]


class Choice(BaseModel):
    """address: where to listen; None for the likeliest."""

    address: str | None = Field(default=None, max_length=60)


@router.get("")
async def phone_state(services: Given) -> dict[str, Any]:
    """Whether a phone may come, or has."""
    return await services.phone.state()


@router.get("/addresses")
async def phone_addresses(services: Given) -> dict[str, Any]:
    """Home networks to choose from."""
    return {"addresses": await asyncio.to_thread(services.phone.addresses)}


@router.get("/code.svg")
async def phone_code(services: Given) -> Response:
    """The address with its one-time code, to be photographed. Raises NotFound unless waiting."""
    told = await services.phone.state()
    if "qr" not in told:
        raise NotFound("No phone is waited for; ask for a new code.")
    return Response(told["qr"], media_type="image/svg+xml")


@router.post("")
async def open_phone(services: Given, choice: Choice | None = None) -> dict[str, Any]:
    """Let one device in with a new code; what was open is closed."""
    return await services.phone.open(choice.address if choice else None)


@router.delete("")
async def close_phone(services: Given) -> dict[str, Any]:
    """Let nobody in any more."""
    return await services.phone.close()
