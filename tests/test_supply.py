"""What a service is installed from: bounded in pyproject.toml, and pinned with digests in requirements.lock."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, distribution
from typing import Any, Final, NamedTuple

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

from tests.support.paths import ROOT

_PROJECT: Final[dict[str, Any]] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
_LOCK: Final = (ROOT / "requirements.lock").read_text(encoding="utf-8")
_EXTRAS: Final[dict[str, list[str]]] = _PROJECT["project"]["optional-dependencies"]
_DIRECT: Final = [Requirement(text) for text in (*_PROJECT["project"]["dependencies"], *_EXTRAS["postgres"])]
_ALL: Final = sorted(
    {
        *_PROJECT["project"]["dependencies"],
        *_PROJECT["build-system"]["requires"],
        *(text for texts in _EXTRAS.values() for text in texts),
    }
)


class Locked(NamedTuple):
    """One package of the lock file."""

    requirement: Requirement
    hashes: list[str]
    via: list[str]

    @property
    def version(self) -> Version:
        [one] = self.requirement.specifier
        assert one.operator == "=="
        return Version(one.version)


def locked() -> dict[str, Locked]:
    """Every package of the lock file by its name."""
    found: dict[str, Locked] = {}
    for block in re.split(r"\n(?=[a-z0-9])", _LOCK.partition("\n")[2]):
        if block.startswith("#"):
            continue
        text = block.partition("\\")[0]
        via = re.findall(r"#\s+(?:via )?(\S.*)$", block, re.MULTILINE)
        each = Locked(Requirement(text), re.findall(r"--hash=(\S+)", block), [name for name in via if name != "via"])
        found[canonicalize_name(each.requirement.name)] = each
    return found


LOCKED: Final = locked()


@pytest.mark.parametrize("text", _ALL)
def test_every_dependency_has_an_upper_bound(text: str) -> None:
    requirement = Requirement(text)
    if requirement.name == "fitcheck":
        return
    assert {"<", "=="} & {each.operator for each in requirement.specifier}, f"{text}: say below which version"


@pytest.mark.parametrize("requirement", _DIRECT, ids=lambda requirement: requirement.name)
def test_what_is_asked_for_is_locked_in_a_version_that_is_allowed(requirement: Requirement) -> None:
    """Run .ci/lock after a change of the dependencies."""
    each = LOCKED[canonicalize_name(requirement.name)]
    assert requirement.specifier.contains(each.version)
    assert "fitcheck (pyproject.toml)" in each.via


def test_nothing_is_locked_that_nobody_asks_for() -> None:
    direct = {canonicalize_name(requirement.name) for requirement in _DIRECT}
    assert {name for name, each in LOCKED.items() if "fitcheck (pyproject.toml)" in each.via} == direct
    for name, each in LOCKED.items():
        assert each.via, name
        assert all(canonicalize_name(who) in LOCKED for who in each.via if not who.startswith("fitcheck")), name


@pytest.mark.parametrize("name", sorted(LOCKED))
def test_what_a_locked_package_needs_is_locked_too(name: str) -> None:
    """As the package itself says, where the version that is locked is installed here."""
    try:
        installed = distribution(name)
    except PackageNotFoundError:
        return
    if Version(installed.version) != LOCKED[name].version:
        return
    extras = {extra for each in _DIRECT if canonicalize_name(each.name) == name for extra in each.extras} | {""}
    for text in installed.requires or ():
        needed = Requirement(text)
        if needed.marker is None or any(needed.marker.evaluate({"extra": extra}) for extra in extras):
            assert needed.specifier.contains(LOCKED[canonicalize_name(needed.name)].version, prereleases=True), text


def test_every_file_is_known_by_its_digest_and_no_address_of_any_index_stands_there() -> None:
    assert len(LOCKED) >= len(_DIRECT)
    for name, each in LOCKED.items():
        assert each.hashes, name
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}", digest) for digest in each.hashes), name
    assert "://" not in _LOCK
    assert not re.search(r"--(?:extra-)?index-url|--find-links|--trusted-host|@ ", _LOCK)
    assert "/tmp" not in _LOCK  # noqa: S108  (a path of the machine that it was made on)
