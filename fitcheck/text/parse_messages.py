"""``python -m fitcheck.text.parse_messages`` parses the English messages beforehand, so that a command starts sooner.

See :mod:`rules.loading.files`: the parsed file is passed over where it is not of the messages as they stand.
"""

from __future__ import annotations

from pathlib import Path

from fitcheck.text.catalogue import ENGLISH, parsed_beforehand
from rules.loading.files import parsed_text

if __name__ == "__main__":
    folder = Path(__file__).parent
    name = f"{ENGLISH}.toml"
    parsed = parsed_text({name: (folder / name).read_text(encoding="utf-8")})
    (folder / parsed_beforehand(ENGLISH)).write_text(parsed, encoding="utf-8", newline="\n")
