"""The JSON Lines interface: one object a line in, one object a line out, in order."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from coachbot.talk import TurnOut

from .opening import House

LONGEST_LINE = 1_000_000
MOST_TURNS = 1_000


class Request(BaseModel):
    """One line of input: ``text`` for one message, or ``turns`` for a chat."""

    model_config = ConfigDict(extra="ignore", strict=True)

    id: str | int | None = None
    text: str | None = None
    turns: Annotated[list[str], Field(max_length=MOST_TURNS)] | None = None

    @model_validator(mode="after")
    def _one_of_them(self) -> Request:
        if (self.text is None) == (self.turns is None):
            raise ValueError('give either "text" or "turns"')
        return self


class MessageAnswer(TurnOut):
    """One line of output for a message."""

    id: str | int | None


class ChatAnswer(BaseModel):
    """One line of output for a chat."""

    id: str | int | None
    turns: tuple[TurnOut, ...]


class ErrorAnswer(BaseModel):
    """One line of output for a line that could not be answered."""

    id: str | int | None
    error: str


def schema() -> dict[str, Any]:
    """The JSON Schema of both sides."""
    from pydantic.json_schema import models_json_schema

    models = [(m, "validation") for m in (Request, MessageAnswer, ChatAnswer, ErrorAnswer)]
    _, definitions = models_json_schema(models, title="coachbot advise --json")  # type: ignore[arg-type]
    return definitions


def answers(lines: Iterable[bytes], house: House) -> Iterator[tuple[str, bool]]:
    """Answer each line; yields the line of output, and whether it was answered without error."""
    for raw in lines:
        if not raw.strip():
            continue
        answer = answer_line(raw, house)
        text = json.dumps(answer.model_dump(mode="json"), ensure_ascii=True)
        yield text, not isinstance(answer, ErrorAnswer)


def answer_line(raw: bytes, house: House) -> MessageAnswer | ChatAnswer | ErrorAnswer:
    """One line of input answered."""
    if len(raw) > LONGEST_LINE:
        return ErrorAnswer(id=None, error=f"the line is longer than {LONGEST_LINE:,} bytes")
    try:
        given = json.loads(raw.decode("utf-8"))
    except UnicodeDecodeError:
        return ErrorAnswer(id=None, error="the line is not UTF-8 text")
    except (ValueError, RecursionError) as error:
        return ErrorAnswer(id=None, error=f"the line is not JSON: {error}")
    name = given.get("id") if isinstance(given, dict) else None
    name = name if isinstance(name, str | int) else None
    try:
        request = Request.model_validate(given)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(p) for p in first["loc"])
        return ErrorAnswer(id=name, error=f"{place}: {first['msg']}" if place else first["msg"])
    talk = house.talk()
    if request.text is not None:
        out = talk.turn(request.text)
        return MessageAnswer(id=name, **dict(out))
    return ChatAnswer(id=name, turns=tuple(talk.turn(t) for t in request.turns or ()))
