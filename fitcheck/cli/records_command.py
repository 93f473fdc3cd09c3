"""``fitcheck records``: prove the store, take records out and in, back it up, and what a person may ask for."""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from fitcheck.cli import BAD_INPUT, BAD_USAGE, FAILED, records_look
from fitcheck.cli import records_transfer as transfer
from fitcheck.cli.progress import Progress, add_progress_option, progress
from fitcheck.cli.record_options import add_records_option, chosen_store
from fitcheck.errors import BadInput
from fitcheck.records import EMPTY, ErasureRefused, Fault, Head, Store, StoreError
from fitcheck.records.backup import NotABackup, StoreNotEmpty
from fitcheck.records.exchange.exporting import of_person
from fitcheck.records.keys import AccessKeys
from fitcheck.records.practice import PracticeSessions
from fitcheck.records.ranged_verification import verify_ranges
from fitcheck.records.signed_head import NotSigned, SignedHead, key_faults, sign_head, signed_head_in
from fitcheck.vocabulary import now

__all__ = ["configure"]

_HEAD: Final = re.compile(r"(0|[1-9][0-9]{0,17}):(sha256:[0-9a-f]{64})", re.ASCII)
_SOMETHING_LEFT: Final = 2
_MOST_PROCESSES: Final = 256
_STATUSES: Final = (
    "Exit status: 0 done, 1 faults or nothing done, 2 erased, but something is left, 64 bad usage, "
    "65 bad input (of several lines, if any is), "
    "70 the store or a file failed."
)
_MAKING: Final = frozenset({"import", "restore"})
"""Actions that make a store where there is none."""


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the actions and their options."""
    actions = parser.add_subparsers(dest="action", required=True)
    parser.epilog = _STATUSES
    proof = actions.add_parser("verify", help="prove that all records are those that were kept, or say which are not")
    proof.add_argument("--expect", metavar="NUMBER:DIGEST", type=_head, help="what `head` printed earlier")
    proof.add_argument(
        "--signed-head",
        metavar="FILE",
        type=Path,
        help="what `head --sign` printed earlier; also holds access keys to it",
    )
    proof.add_argument("--public-key", metavar="KEY", help="who must have signed it: ed25519:…, as `head --sign` says")
    proof.add_argument(
        "--processes", metavar="N", type=_processes, default=1, help="verify by so many processes (default: 1)"
    )
    add_progress_option(proof)
    proof.set_defaults(act=_verify)
    head = actions.add_parser("head", help="print the number and digest of the last record, to be noted elsewhere")
    head.add_argument(
        "--sign",
        metavar="KEYFILE",
        type=Path,
        help="print it signed (Ed25519) by the private key of this file, which is made where there is none",
    )
    head.set_defaults(act=_print_head)
    person = actions.add_parser("person", help="what is kept of one person, as who fitted or who assessed")
    person.add_argument("id", metavar="ID", help="the person's id")
    person.add_argument(
        "--export", metavar="FILE", help="write all of it there, as lines of JSON; - for standard output"
    )
    person.set_defaults(act=_person)
    erase = actions.add_parser("erase", help="erase a person: names and contents go, the chain stays whole")
    erase.add_argument("person", metavar="PERSON", help="the person's id")
    erase.add_argument("--reason", metavar="TEXT", required=True, help="why; it is kept, so name nobody in it")
    erase.add_argument("--yes", action="store_true", help="do not ask again")
    erase.set_defaults(act=_erase)
    sweeping = actions.add_parser(
        "sweep", help="write the database anew, so that nothing of what was erased is left on the disk"
    )
    sweeping.set_defaults(act=_sweep)
    transfer.configure(actions)
    records_look.configure(actions)
    for action in actions.choices.values():
        add_records_option(action)
        action.epilog = _STATUSES
        action.set_defaults(run=_run)


def _run(options: argparse.Namespace) -> int:
    try:
        with chosen_store(options, create=options.action in _MAKING) as store:
            status: int = options.act(store, options)
    except BadInput as error:
        return _report_failure(BAD_INPUT, options, str(error.problems[0]))
    except (NotABackup, ErasureRefused, NotSigned) as error:
        return _report_failure(BAD_INPUT, options, str(error))
    except StoreNotEmpty as error:
        return _report_failure(BAD_USAGE, options, f"{error} Restore into an empty store, or lose them with --replace.")
    except StoreError as error:
        return _report_failure(FAILED, options, str(error))
    except BrokenPipeError:
        raise
    except OSError as error:
        where = f"{error.filename}: " if error.filename else ""
        return _report_failure(FAILED, options, f"{where}{error.strerror or 'it failed'}.")
    return status


def _report_failure(status: int, options: argparse.Namespace, message: str) -> int:
    print(f"fitcheck records {options.action}: {message}", file=sys.stderr)
    return status


def _verify(store: Store, options: argparse.Namespace) -> int:
    if options.public_key is not None and options.signed_head is None:
        return _report_failure(BAD_USAGE, options, "--public-key is for --signed-head: name that file too.")
    head = store.head()
    signed = None if options.signed_head is None else signed_head_in(options.signed_head, options.public_key)
    heads = [options.expect] if signed is None else [signed.head, *({options.expect} - {None, signed.head})]
    count = 0
    with progress(options, "records") as reporter:
        for fault in _faults(store, heads, signed, options.processes, reporter):
            count += 1
            with reporter.aside():
                print(f"record {fault.number}: {fault.kind}: {fault.detail}")
    if count:
        print(f"{count} {'fault' if count == 1 else 'faults'} found.", file=sys.stderr)
        return 1
    noted = "" if options.expect is None else f" Number {options.expect.number} is the one that was noted."
    print(f"{_records(head.number)}, each as it was kept.{noted} Head: {head.number}:{head.digest}")
    if signed is not None:
        known = "" if options.public_key else " Look whether you noted that key: nobody else can tell."
        print(
            f"Number {signed.head.number} is the one that was signed at {signed.created} by {signed.signed_by}.{known}"
        )
    return 0


def _faults(
    store: Store, heads: Sequence[Head | None], signed: SignedHead | None, processes: int, reporter: Progress
) -> Iterator[Fault]:
    """What is wrong with the records, held against each of the heads, and with the keys."""
    yield from verify_ranges(store, processes, expected=heads[0], on_progress=reporter)
    for one in heads[1:]:
        again = verify_ranges(store, processes, expected=one, on_progress=reporter)
        yield from (fault for fault in again if fault.kind == "expected")
    if signed is not None:
        yield from key_faults(store, signed)


def _processes(text: str) -> int:
    if not text.isascii() or not text.isdecimal() or not 0 < int(text) <= _MOST_PROCESSES:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to {_MOST_PROCESSES}")
    return int(text)


def _print_head(store: Store, options: argparse.Namespace) -> int:
    if options.sign is not None:
        line, public = sign_head(store, options.sign, now())
        print(line.decode(), end="")
        print(f"Signed by {public}. Note this key, and keep {options.sign} where the records are not.", file=sys.stderr)
        return 0
    head = store.head()
    print(f"{head.number}:{head.digest}")
    return 0


def _person(store: Store, options: argparse.Namespace) -> int:
    if options.export is not None:
        practised = PracticeSessions(store).every(options.id)
        count, written = transfer.write(of_person(store, options.id), options.export, "ndjson", practised)
        besides = transfer.sessions_besides(written)
        print(f"{_records(count)} of {options.id} written{besides}.", file=sys.stderr)
        return 0
    fitted = assessed = 0
    for record in of_person(store, options.id):
        fitted += record.person == options.id
        assessed += record.assessor == options.id
    print(f"{options.id} fitted in {_records(fitted)} and assessed in {_records(assessed)}.")
    if sessions := PracticeSessions(store).count(options.id):
        print(f"{options.id} practised in {_sessions(sessions)}.")
    if keys := _keys_of(store, options.id):
        print(f"Access keys of {options.id}: {', '.join(keys)}.")
    return 0


def _erase(store: Store, options: argparse.Namespace) -> int:
    count = sum(1 for _ in of_person(store, options.person))
    keys = _keys_of(store, options.person)
    practised = PracticeSessions(store).count(options.person)
    if not count and not keys and not practised:
        print(f"There is no record of {options.person}. Nothing was erased.")
        return 1
    if not options.yes and not _confirmed(options.person, count, practised):
        print("Nothing was erased.", file=sys.stderr)
        return 1
    created = now()
    erasure = store.erase(options.person, reason=options.reason, created=created)
    if erasure is None and keys:
        print(
            f"There is no record of {options.person}. Access keys of {options.person} are revoked and bear no name any "
            f"more: {', '.join(keys)}. Backups made before have them still: make new ones and destroy those."
        )
        return _status_of(store.sweep())
    if erasure is None:
        print(f"There is no record of {options.person}. Nothing was erased.")
        return 1
    answer = json.loads(erasure.record.answer)
    besides = transfer.sessions_besides(answer.get("practice", 0))
    count = len(answer["erased"])
    print(
        f"Erased: {options.person} from {_records(count)}, with their contents{besides}. "
        f"Record {erasure.record.number} says "
        "so. Backups and exports made before have them still: make new ones and destroy those."
    )
    return _status_of([*erasure.left, *erasure.mentions])


def _keys_of(store: Store, person: str) -> list[str]:
    return [key.id for key in AccessKeys(store).every() if key.person == person]


def _sweep(store: Store, options: argparse.Namespace) -> int:
    status = _status_of(store.sweep())
    if status == 0:
        print("Nothing that was erased lies in the files of the store any more.")
    return status


def _status_of(left: Sequence[str]) -> int:
    for sentence in left:
        print(sentence, file=sys.stderr)
    return _SOMETHING_LEFT if left else 0


def _confirmed(person: str, count: int, practised: int) -> bool:
    besides = f", and erases {_sessions(practised)}" if practised else ""
    print(
        f"This takes {person}, and all that was observed and answered, out of {_records(count)}{besides} for good. "
        "Write the id "
        "again to go on: ",
        end="",
        file=sys.stderr,
        flush=True,
    )
    return sys.stdin.readline().strip() == person


def _records(count: int) -> str:
    return "1 record" if count == 1 else f"{count} records"


def _sessions(count: int) -> str:
    return "1 session of practice" if count == 1 else f"{count} sessions of practice"


def _head(text: str) -> Head:
    found = _HEAD.fullmatch(text)
    if found is None or (found[1] == "0") != (text == f"0:{EMPTY.digest}"):
        raise argparse.ArgumentTypeError("write it as `fitcheck records head` prints it: NUMBER:sha256:…")
    return Head(int(found[1]), found[2])
