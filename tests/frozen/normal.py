"""What of an answer differs from run to run is replaced: ids, times, digests of new records."""

from __future__ import annotations

import json
import re
from typing import Any, Final

from rules import first_rulebook, shipped_rulebook

__all__ = ["normal", "normal_json"]

_UUID: Final = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
_TIME: Final = re.compile(r"20[0-9]{2}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]+)?(Z|\+00:00)")
_SPOKEN_TIME: Final = re.compile(
    r"(20[0-9]{2}-[0-9]{2}-[0-9]{2}|[0-9]{2}\.[0-9]{2}\.20[0-9]{2}) [0-9]{2}:[0-9]{2}(?= UTC)"
)
_DIGEST: Final = re.compile(r"(sha256[:-])(?:[0-9a-f]{64}|[A-Za-z0-9+/]{43}=)")


def normal(text: str, *, keep_ids: frozenset[str] = frozenset()) -> str:
    """``text`` with what differs from run to run replaced; ids in ``keep_ids`` and our rulebooks' digests stay."""
    ours = {shipped_rulebook().digest, first_rulebook().digest}
    text = _UUID.sub(lambda found: found[0] if found[0] in keep_ids else "<id>", text)
    text = _TIME.sub("<time>", text)
    text = _SPOKEN_TIME.sub("<time>", text)
    return _DIGEST.sub(lambda found: found[0] if found[0] in ours else f"{found[1]}<digest>", text)


def normal_json(document: Any) -> str:
    """A JSON document as one normal text; the order of keys counts."""
    return normal(json.dumps(document, ensure_ascii=False, indent=1))
