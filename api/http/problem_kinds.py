"""The kinds of problem that the service answers with: RFC 9457 problem types, each with its explanation."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus
from typing import Final

__all__ = ["KINDS", "Kind", "kind_of_status"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One problem type: its ``name`` in the type's address, its title, HTTP status and what to do about it."""

    name: str
    title: str
    status: int
    meaning: str

    @property
    def type(self) -> str:
        """The problem type as a reference relative to this service."""
        return f"/problems/{self.name}" if self.name else "about:blank"


KINDS: Final = {
    kind.name: kind
    for kind in (
        Kind(
            "bad-json",
            "Not strict JSON",
            HTTPStatus.BAD_REQUEST,
            "The body is not one JSON document that every reader takes alike (RFC 8259). Besides syntax faults "
            "these are refused: text that is not UTF-8 or starts with a byte order mark, duplicate keys, NaN and "
            "infinity, numbers too large or too long, half characters, and objects nested too deep. The problem "
            "names the place. Nothing was assessed. Correct the text and send it again.",
        ),
        Kind(
            "bad-query",
            "Unknown or wrong query parameter",
            HTTPStatus.BAD_REQUEST,
            "The address has a query parameter that is unknown here, given twice, or has a value that is not "
            "allowed. Nothing was assessed. Correct the address and send the request again.",
        ),
        Kind(
            "bad-form",
            "Not a form of the desk",
            HTTPStatus.BAD_REQUEST,
            "A field of the form stands there twice. Nothing was kept. Load the page again and send the form from "
            "there.",
        ),
        Kind(
            "bad-idempotency-key",
            "Wrong Idempotency-Key",
            HTTPStatus.BAD_REQUEST,
            "The header Idempotency-Key, or the key of a line in a batch, is given twice, is empty, has more than 255 "
            "characters or one that is not visible ASCII; or the header comes with a batch, where each line has a key "
            "of its own. Nothing was assessed. Send one name that you use for this request or line alone, such as a "
            "random UUID.",
        ),
        Kind(
            "unauthorized",
            "Access key needed",
            HTTPStatus.UNAUTHORIZED,
            "This address needs an access key, and what was sent shows none, or one that is wrong, was revoked or is "
            "at its end. Those who run the service make keys with the command fitcheck keys make. Send the key with "
            "each request, in the header Authorization: Bearer KEY. Without any key, a service answers only the "
            "machine that it runs on. Nothing was assessed.",
        ),
        Kind(
            "forbidden",
            "Key without the scope needed",
            HTTPStatus.FORBIDDEN,
            "The access key is good, but not for this address. The problem says which scope the address needs and "
            "which ones the key has. Use another key, or ask those who run the service for one. Nothing was assessed.",
        ),
        Kind(
            "not-in-own-name",
            "In another's name",
            HTTPStatus.FORBIDDEN,
            "What was sent is said in the name of a person, and the access key is that of another one or of a device. "
            "The problem names the field and whose key it is. Nothing was kept. Marks are overridden in one's own "
            "name: send it with a key that was made for that person, with fitcheck keys make --person ID --scope mark.",
        ),
        Kind(
            "cross-origin",
            "Sent by a page of another origin",
            HTTPStatus.FORBIDDEN,
            "A browser sent this for a page that does not belong to this service. A service that runs without access "
            "keys takes that from none, so that no page can use it behind the back of whoever looks at it. Nothing was "
            "assessed. Have your own program send the request, with an access key.",
        ),
        Kind(
            "not-from-this-page",
            "Not from a page of this session",
            HTTPStatus.FORBIDDEN,
            "A form was sent to the desk without the token that its page has in this session: the page was of an "
            "earlier session, or of another site. Nothing was kept. Load the page again and send the form from there.",
        ),
        Kind(
            "not-found",
            "Nothing at this address",
            HTTPStatus.NOT_FOUND,
            "There is nothing at this address. All addresses stand in /docs and in /openapi.json; the ids of the "
            "rules stand in /v1/rulebook.",
        ),
        Kind(
            "method-not-allowed",
            "Method not allowed at this address",
            HTTPStatus.METHOD_NOT_ALLOWED,
            "This address does not take this method. The header Allow lists those that it takes.",
        ),
        Kind(
            "visit-in-conflict",
            "The feet of the visit do not go together",
            HTTPStatus.CONFLICT,
            "What was kept under this visit cannot be put together: it names several horses, holds more assessments "
            "than a visit has, or a fitting that this service's rulebook does not take. Each assessment can still be "
            "read by itself. Give each visit of each horse a name of its own, and correct those that are wrong: send "
            "them with corrects and the right visit.",
        ),
        Kind(
            "visit-of-another-horse",
            "Visit of another horse",
            HTTPStatus.CONFLICT,
            "Under the visit that the fitting names, assessments of another horse are kept. Nothing was kept now, so "
            "that the visit can still be put together. Give each visit of each horse a name of its own, and send it "
            "again. If what was kept has the wrong visit, correct that one, with the visit that is right.",
        ),
        Kind(
            "already-corrected",
            "Corrected already",
            HTTPStatus.CONFLICT,
            "Another assessment corrects the one that the query parameter corrects names. Nothing was kept now: of two "
            "corrections of one assessment nobody could say which counts. The problem names the one that corrects it. "
            "Look at that, and if it is wrong too, correct that one.",
        ),
        Kind(
            "cannot-explain",
            "Kept under another rulebook",
            HTTPStatus.CONFLICT,
            "This request was kept before, and the service has another rulebook since, so it cannot say again why the "
            "decision came. The assessment is as it was: get it from the address that the problem names.",
        ),
        Kind(
            "cannot-show",
            "Kept in a form that is not read here",
            HTTPStatus.CONFLICT,
            "What was kept was written by another version of fitcheck, or imported, and this version cannot make a "
            "drawing, a report or marks of it. Nothing is lost: get the assessment as it was answered from "
            "/v1/assessments/{id}.",
        ),
        Kind(
            "cannot-mark",
            "Not to be marked by this rulebook",
            HTTPStatus.CONFLICT,
            "The marking scheme of the rulebook that the service has now does not fit what was kept: another version "
            "of fitcheck wrote it, or another rulebook judged criteria that this one lacks. The assessment itself is "
            "as it was, under /v1/assessments/{id}.",
        ),
        Kind(
            "too-many-overrides",
            "Too many overrides",
            HTTPStatus.CONFLICT,
            "As many overrides of this assessment were kept as the service takes. Nothing was kept now. Where the "
            "assessment is wrong as a whole, send the fitting anew with corrects.",
        ),
        Kind(
            "gone",
            "Erased",
            HTTPStatus.GONE,
            "What was kept here was erased on a person's demand. It does not come back. The chain of records still "
            "proves that something was kept here, and when.",
        ),
        Kind(
            "precondition-failed",
            "Not what If-Match names",
            HTTPStatus.PRECONDITION_FAILED,
            "The header If-Match names neither the ETag nor the id of the assessment that is to be corrected, or the "
            "request corrects nothing. Nothing was kept or assessed. Read the assessment again, and correct it if that "
            "is still right.",
        ),
        Kind(
            "body-too-large",
            "Body too large",
            HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
            "The body of a single fitting, or one line of a batch, has more bytes than the service takes. The "
            "problem says how many it takes. A fitting needs far less; send many fittings as a batch, one to a "
            "line.",
        ),
        Kind(
            "wrong-host",
            "Not the host that was asked for",
            HTTPStatus.MISDIRECTED_REQUEST,
            "The header Host names a host that this service does not answer for. A service that runs without access "
            "keys answers only for names of the machine itself, such as localhost and 127.0.0.1, so that no page of "
            "another site can pass for it. Ask for one of these, or make an access key.",
        ),
        Kind(
            "too-many-requests",
            "Too many requests",
            HTTPStatus.TOO_MANY_REQUESTS,
            "This key, or this address where no key was shown, sends requests faster than the service allows over "
            "time. Nothing was assessed. Wait for the seconds in the header Retry-After, send the request again, and "
            "send many fittings as one batch, which counts as one request.",
        ),
        Kind(
            "unsupported-media-type",
            "Content type not supported",
            HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
            "The header Content-Type is missing or names something else than what is read here, another charset "
            "than utf-8, or the body is compressed. Send a single fitting as application/json and a batch as "
            "application/x-ndjson, in UTF-8, uncompressed.",
        ),
        Kind(
            "bad-input",
            "The fitting cannot be assessed",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The body is JSON, but not a fitting: a key is missing or unknown, a word or a reading is not one "
            "that is known, a number lies outside what is possible, or two statements contradict one another. "
            "Each entry of errors names the field, the value found there, what is allowed and what to do. Nothing "
            "was assessed.",
        ),
        Kind(
            "too-many-faults",
            "Too many faulty lines",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "A batch had as many faulty lines as the service tells of, so it looked at no more of them. The line that "
            "has this problem is the last one that is answered; it and all lines after it were not assessed. Put right "
            "what is wrong with the lines before it, and send the rest again.",
        ),
        Kind(
            "bad-override",
            "The override cannot be made",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The body is JSON, but not an override, or it does not fit the assessment: it is about another one, "
            "strikes or regrades a finding that does not count, adds one that counts already or that no rule finds "
            "there, or sets a mark that the criterion cannot have. Each entry of errors names the field, the value "
            "found there, what is allowed and what to do. Nothing was kept.",
        ),
        Kind(
            "bad-practice",
            "Not a session of practice",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The body is no session of practice, or the address no id of a person. Nothing was kept.",
        ),
        Kind(
            "practice-reused",
            "Id of another session of practice",
            HTTPStatus.CONFLICT,
            "Another session of this id is kept already. Make a new id for each.",
        ),
        Kind(
            "key-reused",
            "Idempotency-Key used for another request",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "A request or line with this key was kept before, and its body or query was another. Nothing was kept "
            "or assessed now. Send a new key with each new request, and the same key only with the very same bytes.",
        ),
        Kind(
            "unknown-correction",
            "Nothing to correct",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The query parameter corrects names no assessment that is kept here, or one that was erased. Nothing was "
            "kept or assessed. Name the id of an assessment as in GET /v1/assessments, or leave the parameter out.",
        ),
        Kind(
            "correction-of-another",
            "Correction of another foot or horse",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The fitting is of another foot or another horse than the assessment that the query parameter corrects "
            "names. Nothing was kept. Each entry of errors names the field, what stands there and what the assessment "
            "has. Correct one of the same foot and horse, or send the fitting without corrects, as an assessment of "
            "its own.",
        ),
        Kind(
            "unknown-follows",
            "Nothing to follow",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The fitting's follows names no assessment that is kept here, or one that was erased, was corrected since "
            "or is not read here. Nothing was kept or assessed. Name the id of an assessment as in "
            "GET /v1/assessments, or leave follows out and send the whole fitting.",
        ),
        Kind(
            "follows-another",
            "Follows another foot or horse",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The fitting is of another foot or another horse than the assessment that its follows names. Nothing was "
            "kept. Each entry of errors names the field, what stands there and what the assessment has. Follow one of "
            "the same foot and horse, or leave follows out and send the whole fitting.",
        ),
        Kind(
            "follows-later-stage",
            "Follows a later stage",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The assessment that the fitting's follows names is of a later stage of the same visit: what was observed "
            "then says nothing of the foot as it is now. Nothing was kept. Follow one of the same or an earlier stage, "
            "or leave follows out and send the whole fitting.",
        ),
        Kind(
            "follows-and-corrects",
            "Follows and corrects",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The fitting follows an assessment, and the query parameter corrects names one that it is to replace. "
            "Nothing was kept or assessed. A correction is sent whole: take what was carried from the answer that is "
            "corrected, and leave follows out.",
        ),
        Kind(
            "not-assessed",
            "Could not be assessed",
            HTTPStatus.INTERNAL_SERVER_ERROR,
            "The rules could not be run to their end, so there is no assessment of this foot: it is not released. "
            "This is a fault of the service, not of the fitting. Judge the foot by eye and hand, and give the id "
            "of the instance to those who run the service.",
        ),
        Kind(
            "internal-error",
            "The service failed",
            HTTPStatus.INTERNAL_SERVER_ERROR,
            "The service failed in a way that it was not made for. No foot was released. Give the id of the "
            "instance to those who run the service.",
        ),
        Kind(
            "busy",
            "Too busy",
            HTTPStatus.SERVICE_UNAVAILABLE,
            "As many connections as the service takes are at work, or as many fittings with many traced points or "
            "heights wait to be assessed, one after another. Nothing was assessed or kept. Send the request again "
            "after the seconds in the header Retry-After.",
        ),
        Kind(
            "bad-subscription",
            "Not a subscription",
            HTTPStatus.UNPROCESSABLE_ENTITY,
            "The body is not a subscription, names a type of event that there is not, or an address to which nothing "
            "is sent: one that is not https, is not found, or is not public and not in a network that those who run "
            "the service allow; or there are as many subscriptions as there may be. Nothing was kept.",
        ),
        Kind(
            "not-ready",
            "Not ready",
            HTTPStatus.SERVICE_UNAVAILABLE,
            "The service runs, but its own check has failed: of the rules, so that it should be sent no fittings, or "
            "of the records, so that it can keep nothing. The problem says which, and why. Give the id of the instance "
            "to those who run the service.",
        ),
        Kind(
            "store-unavailable",
            "Records cannot be reached",
            HTTPStatus.SERVICE_UNAVAILABLE,
            "What the service keeps, its access keys among it, cannot be read or written just now. As a rule "
            "nothing was kept; where the database went away at the very end, it was, and the service cannot know. Send "
            "the request again, after the seconds in the header Retry-After where there is one; with the same "
            "Idempotency-Key nothing is kept twice. If that does not help, give the id of the "
            "instance to those who run the service. A fitting can be assessed without being kept by keep=false.",
        ),
        Kind(
            "store-read-only",
            "Records cannot be written",
            HTTPStatus.SERVICE_UNAVAILABLE,
            "What the service keeps can be read but not written. Nothing was kept, and there is no assessment. Waiting "
            "does not help: tell those who run the service. A fitting can be assessed without being kept by "
            "keep=false.",
        ),
        Kind(
            "store-too-new",
            "Records made by a newer version",
            HTTPStatus.SERVICE_UNAVAILABLE,
            "A newer fitcheck than this one has been at work on the records, and this one leaves them alone. Nothing "
            "was kept or read. Those who run the service should start the newer version. A fitting can be assessed "
            "without being kept by keep=false.",
        ),
        Kind(
            "store-damaged",
            "Records damaged or not there",
            HTTPStatus.SERVICE_UNAVAILABLE,
            "Where the records should lie they are damaged, or something else lies there. Nothing was kept or read. "
            "Those who run the service should check the records and restore them from a backup. A fitting can be "
            "assessed without being kept by keep=false.",
        ),
        Kind(
            "store-full",
            "No room for records",
            HTTPStatus.INSUFFICIENT_STORAGE,
            "No room is left where records lie. Nothing was kept, and there is no assessment. What was kept before can "
            "still be read. Tell those who run the service, and send the request again when there is room. A fitting "
            "can be assessed without being kept by keep=false.",
        ),
    )
}
"""Every kind by its name."""


def kind_of_status(status: int) -> Kind:
    """A kind for an HTTP status that has none of its own."""
    known = status in {each.value for each in HTTPStatus}
    return Kind("", HTTPStatus(status).phrase if known else "Problem", status, "")
