"""The rulebook of the first contract, 1.3.0, is byte for byte what it was: kept assessments name it by its digest."""

from __future__ import annotations

import hashlib
from importlib.resources import files
from typing import Final

from rules.loading.files import digest_of, read_texts
from tests.contract_one.corpus import first_book, read_answers
from tests.contract_one.kept import records_kept

FOLDER: Final = files("rules") / "first_book"
VERSION: Final = "1.3.0"
DIGEST: Final = "sha256:30cc419f2b855292d255059c4c1a6cdb9b721f6a9424fd4a225e8888b52331bb"
FILES: Final = {
    "book.toml": "ed3af2cfc86a5db604f3a6bccc474dd9808e93feb405640853a9cb16c8703571",
    "cautions.toml": "b7641bf666c38accf4ef5a683dfdbef2be2bdb7b6408f775db1d5a2d0d592aa0",
    "clinches.toml": "151190199ace71c242d5196b3a00efa2d45fcda50c241fdf1a38cb4b73beed39",
    "cross_checks.toml": "cfe3efa3133bfe62ad1a600afa87ce27e1304410df6804838f48381331b1c9f3",
    "dimensions.toml": "e8c6990fc3bc8396c2ad184fcbec041905be78dff7a7ca417704732229452ce7",
    "eye_words.toml": "7668541032fded4d12477dd24a0c84d81b180a2aba1663271c21679786f32f25",
    "finish.toml": "67243291c4850fd01719c279652500ec2585378dd918be1585eb464758f5ca22",
    "heel_fit.toml": "1336fb9c4551cc2f2332a3d1fb375fd8c1bcde1ed010f4e5146f413de94513a4",
    "history.toml": "98e571ecd08a191cae0933beef1fcd3674fa2188db6926ec54272676fd045a5b",
    "joined.toml": "7bcee85f63637101b097f8625b5a2315d40736f3be799ee8c9754645eca37d8e",
    "levelness.toml": "a81baed9d047ebfe4668a30a21e0930482e7cc47db7862f65ab0408501f53d91",
    "marking.toml": "3e6fa2bc07d814db255ea9d62ca60e9b90fce996e47dd55c2e5ca7691ec3efeb",
    "nails.toml": "0db9eede71af9ed15ecd3430834be7cfae0aeda3cbbcba94636a14c9660bfbdb",
    "pair.toml": "f5d958f485e9477810ff1072f773537d3dd9440a08f34cc0be49b68daa2b7b20",
    "parameters.toml": "97aab0a9ebb8d7e8218a01e74a2bf5006b5fb531ff9cef969e5eb4655a2f2477",
    "readings.toml": "3411a669aa561ca6ed7a4695356503eefd45a99d6f5798f657eadb1f94388157",
    "scorch.toml": "740b6e4337bccd93371d828d9d4980243aa473c4d55741a178290dca39548472",
    "soundness.toml": "6327c67ec4e975ac3259dbdaf76a459667a389042c50b6858d977ce0d52b2dc0",
    "sources.toml": "b9a60bf1482d033a928bfaebd8aa38f95a8d3349fd414afb9a439915d5fc3cf0",
    "toe_fit.toml": "3ae297c658a487c382e54d19af49347616f856005ae0419f3bb1d5ac41822e53",
}


def test_the_book_of_the_first_contract_has_its_version_and_digest() -> None:
    book = first_book()
    assert (book.id, book.version, book.digest) == ("shipped", VERSION, DIGEST)


def test_each_of_its_files_is_what_it_was() -> None:
    found = {
        entry.name: hashlib.sha256(entry.read_bytes()).hexdigest() for entry in FOLDER.iterdir() if entry.is_file()
    }
    assert found == FILES
    assert digest_of(read_texts(FOLDER)) == DIGEST


def test_it_is_the_book_that_judged_the_corpus_and_the_kept_records() -> None:
    kept = [record for record in records_kept() if record["kind"] == "assessment"]
    assert sum(record["rulebook_digest"] == DIGEST for record in kept) == len(kept) - 1
    assert len({line["fields"]["rulebook.digest"] for line in read_answers()}) == 1
