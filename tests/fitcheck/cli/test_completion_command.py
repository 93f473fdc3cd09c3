"""Completion of the command, as bash itself reads and runs what is printed."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from fitcheck.cli import BAD_USAGE, main, whole_parser

BASH = shutil.which("bash") or ""
ZSH = shutil.which("zsh")
COMPLETED = """
source "$1"; shift
[[ $(complete -p fitcheck) =~ -F\\ ([^ ]+) ]] || exit 3
COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); COMPREPLY=()
"${BASH_REMATCH[1]}" fitcheck "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD - 1]}"
printf '%s\\n' "${COMPREPLY[@]}"
"""


@pytest.fixture(scope="module")
def script(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What is printed for bash, as a file."""
    path = tmp_path_factory.mktemp("completion") / "fitcheck.bash"
    with pytest.MonkeyPatch.context() as patch, path.open("w", encoding="utf-8") as stream:
        patch.setattr("sys.stdout", stream)
        assert main(["completion", "bash"]) == 0
    return path


def completed(script: Path, folder: Path, *words: str) -> list[str]:
    """What bash offers for the last of the words."""
    command = [BASH, "--norc", "-c", COMPLETED, "bash", str(script), "fitcheck", *words]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    assert done.stderr == ""
    return done.stdout.split()


def test_bash_reads_what_is_printed(script: Path) -> None:
    assert subprocess.run([BASH, "-n", script], capture_output=True, check=True).stderr == b""


@pytest.mark.skipif(ZSH is None, reason="there is no zsh")
def test_zsh_reads_what_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", "zsh"]) == 0
    printed = capsys.readouterr().out
    assert printed.startswith("#compdef fitcheck\n")
    assert ZSH is not None
    subprocess.run([ZSH, "-n"], input=printed.encode(), check=True)


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        (["reg"], ["regrade"]),
        (["records", "ex"], ["export"]),
        (["records", "export", "--form"], ["--format"]),
        (["records", "export", "--format", ""], ["ndjson", "csv"]),
        (["rules", "s"], ["show"]),
        (["keys", "make", "--scope", "me"], ["metrics"]),
    ],
)
def test_a_sub_command_an_option_and_its_words_are_completed(
    words: list[str], offered: list[str], script: Path, tmp_path: Path
) -> None:
    assert completed(script, tmp_path, *words) == offered


def test_a_file_and_a_folder_are_completed_where_one_is_named(script: Path, tmp_path: Path) -> None:
    (tmp_path / "foot.json").touch()
    (tmp_path / "folder").mkdir()
    assert sorted(completed(script, tmp_path, "assess", "fo")) == ["folder", "foot.json"]
    assert completed(script, tmp_path, "rules", "check", "fo") == ["folder"]
    assert completed(script, tmp_path, "records", "person", "fo") == []


def test_every_command_that_there_is_is_completed(script: Path, tmp_path: Path) -> None:
    usage = whole_parser().format_usage()
    commands = usage[usage.index("{") + 1 : usage.index("}")].replace("\n", "").replace(" ", "").split(",")
    assert len(commands) > 10
    assert set(commands) <= set(completed(script, tmp_path, ""))


def test_another_shell_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["completion", "bush"])
    assert caught.value.code == BAD_USAGE
    assert "Did you mean 'bash'?" in capsys.readouterr().err
