"""/v1/subscriptions: have what is kept told to an address of one's own, as it is kept."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from http import HTTPStatus
from typing import Annotated, Any, Final, TypeVar

from fastapi import FastAPI
from pydantic import Field, ValidationError
from starlette.requests import Request
from starlette.responses import Response

from api.http.auth import key_of
from api.http.bodies import read_body, require_media_type
from api.http.headers import JSON
from api.http.limits import Limits
from api.http.problems import WRITING, ProblemError
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation, header
from api.parameters.query import Query, parameter
from api.store import AsyncStore
from api.webhooks.deliveries import Deliveries
from api.webhooks.targets import RefusedTarget
from fitcheck.assessment.models import Output
from fitcheck.documented import Instant, Uuid
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import cut, loads
from fitcheck.fitting.validation import summary
from fitcheck.records.feed import TYPES
from fitcheck.records.keys import ADMIN
from fitcheck.records.subscriptions import Subscription, Subscriptions, TooManySubscriptions

__all__ = ["TEST_TYPE", "add_subscriptions"]

PATH: Final = "/v1/subscriptions"
TAG: Final = "events"
TEST_TYPE: Final = "fitcheck.subscription.test.v1"
_Result = TypeVar("_Result")
_TYPES: Final = tuple(dict.fromkeys(name for names in TYPES.values() for name in names))
_ID: Final = "3f0a9d52-6a53-4b8e-8c1d-7d2f1b0c9e44"
_SUBSCRIPTION_ID: Final = parameter("path", "id", "The subscription's id.", example=_ID)


class NewSubscription(Output):
    """What to send, and where."""

    url: str
    """An https address, such as https://yard.example/fitcheck."""
    types: Annotated[tuple[str, ...], Field(max_length=20)] = ()
    """The types of event to send; all where there are none."""


class SubscriptionView(Output):
    """A subscription, and what came of it."""

    id: Uuid
    created: Instant
    url: str
    types: tuple[str, ...]
    """The types of event that are sent; all where there are none."""
    after: int
    """The number of the last record that was delivered or passed over."""
    delivered: Instant | None
    """When something was last delivered."""
    attempts: int
    """How often the event that is next has failed."""
    failing_since: Instant | None
    next_attempt: Instant | None
    last_error: str | None
    """Why the last attempt failed, or why it is disabled."""
    disabled: Instant | None
    """Since when nothing is sent any more."""


class MadeSubscription(SubscriptionView):
    """A subscription with its secret, which is told this once."""

    secret: str
    """What messages are signed with: whsec_ and Base64."""


class SubscriptionList(Output):
    """The subscriptions of an access key; with the scope admin, all."""

    subscriptions: tuple[SubscriptionView, ...]


class TestResult(Output):
    """What came of a message that was sent to try an address."""

    delivered: bool
    status: int | None
    """The HTTP status of the answer; null where there was none."""
    error: str | None
    ms: float


_ABOUT: Final = """Events are sent as they are kept, each in a POST of its own, in the order of keeping, one after
another: the next is sent when the one before was answered with 2xx, within 10 seconds. What is sent is a CloudEvent in
JSON (application/cloudevents+json) that names ids and numbers alone, never a person, a horse or what was found: ask GET
/v1/assessments/{id} for it, with a key that reads. An event may come twice; its webhook-id is the same then.

Messages are signed as Standard Webhooks has it (standardwebhooks.com): webhook-id, webhook-timestamp, and
webhook-signature, which is v1 and the HMAC-SHA256, in Base64, of id, timestamp and body with a point between, keyed
with the Base64 part of the secret. Check it over the bytes as they came, and refuse an old timestamp.

What is not taken is sent again after 5 s, then after twice as long each time, up to an hour, each time less a random
part; after three days of failures, or on 410, the subscription is disabled, with the reason in last_error. A redirect
is a failure. A test that is delivered enables it, and it goes on where it stopped. It ends with the access key that
made it."""


class _Subscribing:
    """Makes and shows the subscriptions in ``async_store``."""

    def __init__(self, async_store: AsyncStore, deliveries: Deliveries) -> None:
        self._async_store = async_store
        self._deliveries = deliveries

    async def used(self, work: Callable[[Subscriptions], _Result]) -> _Result:
        return await self._async_store.beside(lambda store: work(Subscriptions(store)))

    async def one_of(self, request: Request) -> Subscription:
        """The one that the address names, where the key may see it. Raises ProblemError."""
        Query.of(request)
        id_, key = request.path_params["id"], key_of(request.scope)
        found = await self.used(lambda held: held.one(id_))
        if found is None or not (key is None or key.opens(ADMIN) or key.id == found.key):
            detail = f'There is no subscription "{cut(id_)}" of this key. GET {PATH} lists those that there are.'
            fault = Problem("path.id", summary(id_), f"the id of a subscription in GET {PATH}", detail)
            raise ProblemError("not-found", detail, [fault])
        return found

    async def make(self, raw: bytes, key: str | None) -> Subscription:
        """The subscription that ``raw`` asks for. Raises ProblemError."""
        asked = _parsed(raw)
        try:
            await self._deliveries.targets.resolved(asked.url)
        except RefusedTarget as error:
            raise _refused("url", asked.url, "an https address that is found and public", str(error)) from None
        try:
            return await self.used(lambda held: held.make(asked.url, asked.types, key))
        except TooManySubscriptions as error:
            raise _refused("(document)", None, "fewer subscriptions", f"{error} Delete one first.") from None

    async def test(self, found: Subscription) -> TestResult:
        """Send a message that says nothing, and go on where that is taken."""
        at = datetime.now(UTC)
        id_ = f"test-{found.id}-{at.timestamp():.0f}"
        event: dict[str, Any] = {"specversion": "1.0", "id": id_, "source": PATH, "type": TEST_TYPE}
        event |= {"time": at.isoformat(), "datacontenttype": JSON, "data": {"subscription": found.id}}
        attempt = await self._deliveries.attempt(found, id_, json.dumps(event).encode())
        if attempt.error is None and (found.disabled is not None or found.attempts):
            await self.used(lambda held: held.enable(found.id))
            self._deliveries.notify()
        return TestResult(delivered=attempt.error is None, status=attempt.status, error=attempt.error, ms=attempt.ms)


def add_subscriptions(app: FastAPI, async_store: AsyncStore, deliveries: Deliveries, limits: Limits) -> None:
    """Add the routes that make and show subscriptions in ``async_store``, which ``deliveries`` serves."""
    subscribing = _Subscribing(async_store, deliveries)

    @needs("subscribe")
    async def make(request: Request) -> Response:
        Query.of(request)
        require_media_type(request, JSON)
        key = key_of(request.scope)
        made = await subscribing.make(await read_body(request, limits.body), None if key is None else key.id)
        body = MadeSubscription(**_members(made), secret=made.secret)
        return Response(body.model_dump_json(), HTTPStatus.CREATED, {"location": f"{PATH}/{made.id}"}, JSON)

    @needs("subscribe")
    async def show_all(request: Request) -> Response:
        Query.of(request)
        key = key_of(request.scope)
        whose = None if key is None or key.opens(ADMIN) else key.id
        every = await subscribing.used(lambda held: held.every(whose))
        body = SubscriptionList(subscriptions=tuple(SubscriptionView(**_members(each)) for each in every))
        return Response(body.model_dump_json(), media_type=JSON)

    @needs("subscribe")
    async def show(request: Request) -> Response:
        found = await subscribing.one_of(request)
        return Response(SubscriptionView(**_members(found)).model_dump_json(), media_type=JSON)

    @needs("subscribe")
    async def delete(request: Request) -> Response:
        found = await subscribing.one_of(request)
        await subscribing.used(lambda held: held.delete(found.id))
        return Response(status_code=HTTPStatus.NO_CONTENT)

    @needs("subscribe")
    async def test(request: Request) -> Response:
        result = await subscribing.test(await subscribing.one_of(request))
        return Response(result.model_dump_json(), media_type=JSON)

    add_operation(app, PATH, make, _MAKE)
    add_operation(app, PATH, show_all, _SHOW_ALL)
    add_operation(app, f"{PATH}/{{id}}", show, _SHOW)
    add_operation(app, f"{PATH}/{{id}}", delete, _DELETE)
    add_operation(app, f"{PATH}/{{id}}/test", test, _TEST)


def _members(subscription: Subscription) -> dict[str, Any]:
    names = SubscriptionView.model_fields.keys() - {"after"}
    return {name: getattr(subscription, name) for name in names} | {"after": subscription.place.number}


def _parsed(raw: bytes) -> NewSubscription:
    try:
        asked = NewSubscription.model_validate_json(json.dumps(loads(raw)))
    except BadInput as error:
        raise ProblemError("bad-json", error.problems[0].detail, error.problems) from None
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        field = ".".join(str(step) for step in first["loc"]) or "(document)"
        raise _refused(field, None, "url, a text, and types, a list of texts", f"{first['msg']}.") from None
    for number, name in enumerate(asked.types):
        if name not in _TYPES:
            allowed = f"one of {', '.join(_TYPES)}"
            raise _refused(f"types.{number}", name, allowed, f'"{cut(name)}" is no type of event. Write {allowed}.')
    return asked


def _refused(field: str, value: str | None, allowed: str, detail: str) -> ProblemError:
    return ProblemError("bad-subscription", f"{field}: {detail}", [Problem(field, summary(value), allowed, detail)])


_EXAMPLE: Final = SubscriptionView(
    id=_ID,
    created="2026-03-04T10:00:00.000Z",
    url="https://yard.example/fitcheck",
    types=(),
    after=7,
    delivered="2026-03-04T10:05:00.000Z",
    attempts=0,
    failing_since=None,
    next_attempt=None,
    last_error=None,
    disabled=None,
)
_SECRET: Final = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSwMfKQ9r8GKYo="  # noqa: S105  (shown in the reference)


def _shown(summary_: str, value: Output) -> dict[str, Any]:
    return {"one": {"summary": summary_, "value": value.model_dump(mode="json")}}


_PROBLEMS: Final = ("not-found", *WRITING)
_MAKE: Final = Operation(
    name="subscribe",
    tag=TAG,
    summary="Have what is kept told to an address",
    description=_ABOUT,
    query=Query,
    body=Content(
        (NewSubscription,),
        examples={"all": {"summary": "All events", "value": {"url": "https://yard.example/fitcheck"}}},
    ),
    answers={
        HTTPStatus.CREATED: Answer(
            "The subscription; its secret is told this once.",
            Content(
                (MadeSubscription,),
                examples=_shown("A new one", MadeSubscription(**_EXAMPLE.model_dump(), secret=_SECRET)),
            ),
            {"Location": header("Where it is.")},
        )
    },
    problems=("bad-subscription", *WRITING),
)
_SHOW_ALL: Final = Operation(
    name="subscriptions",
    tag=TAG,
    summary="List subscriptions",
    description="Those that the access key made; with the scope admin, or where no key is needed, all.",
    query=Query,
    answers={
        HTTPStatus.OK: Answer(
            "The subscriptions.",
            Content((SubscriptionList,), examples=_shown("One", SubscriptionList(subscriptions=(_EXAMPLE,)))),
        )
    },
    problems=WRITING,
)
_SHOW: Final = Operation(
    name="subscription",
    tag=TAG,
    summary="One subscription",
    description="How far it has come, and what stands in its way.",
    path=(_SUBSCRIPTION_ID,),
    query=Query,
    answers={
        HTTPStatus.OK: Answer("The subscription.", Content((SubscriptionView,), examples=_shown("One", _EXAMPLE)))
    },
    problems=_PROBLEMS,
)
_DELETE: Final = Operation(
    name="unsubscribe",
    tag=TAG,
    summary="End a subscription",
    description="Nothing more is sent; what is just on its way may still come.",
    path=(_SUBSCRIPTION_ID,),
    query=Query,
    verb="DELETE",
    answers={HTTPStatus.NO_CONTENT: Answer("It is gone.")},
    problems=_PROBLEMS,
)
_TEST: Final = Operation(
    name="test_subscription",
    tag=TAG,
    summary="Send a message to try the address",
    description=f"A signed message of the type {TEST_TYPE} is sent once, at once, and the answer says what came of it. "
    "Where it is delivered, a subscription that is disabled or waits after failures goes on where it stopped.",
    path=(_SUBSCRIPTION_ID,),
    query=Query,
    verb="POST",
    answers={
        HTTPStatus.OK: Answer(
            "What came of it.",
            Content(
                (TestResult,),
                examples=_shown("Delivered", TestResult(delivered=True, status=204, error=None, ms=41.5)),
            ),
        )
    },
    problems=_PROBLEMS,
)
