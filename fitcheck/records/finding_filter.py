"""Whether a kept answer has a finding of a grade or a rule, asked of the database itself."""

from __future__ import annotations

import json
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

__all__ = ["has_finding"]


def has_finding(answer: sa.Column[bytes], *, grade: str | None, rule: str | None) -> sa.ColumnElement[bool]:
    """The condition that one and the same finding in the JSON of ``answer`` has this ``grade`` and this ``rule``."""
    wanted = {name: value for name, value in (("grade", grade), ("rule", rule)) if value is not None}
    # Cheap, and most answers do not pass it; what passes may still have the words elsewhere.
    mentioned = [_Mentions(answer, sa.literal(f"{json.dumps(value)}".encode())) for value in wanted.values()]
    return sa.and_(*mentioned, _HasFinding(answer, sa.literal(json.dumps({"findings": [wanted]}))))


class _Mentions(FunctionElement[bool]):
    """Whether bytes stand somewhere in others."""

    type = sa.Boolean()
    inherit_cache = True


class _HasFinding(FunctionElement[bool]):
    """Whether a JSON document in bytes has, in its list of findings, one with the members of the one that is given."""

    type = sa.Boolean()
    inherit_cache = True


@compiles(_Mentions, "sqlite")
def _mentions_sqlite(element: _Mentions, compiler: SQLCompiler, **options: Any) -> str:
    return f"instr({compiler.process(element.clauses, **options)}) > 0"


@compiles(_Mentions, "postgresql")
def _mentions_postgres(element: _Mentions, compiler: SQLCompiler, **options: Any) -> str:
    answer, words = (compiler.process(each, **options) for each in element.clauses)
    return f"position({words} in {answer}) > 0"


_SQLITE: Final = """CASE WHEN json_valid(CAST({answer} AS TEXT)) THEN EXISTS (
SELECT 1 FROM json_each(CAST({answer} AS TEXT), '$.findings') AS found, (SELECT {wanted} AS wanted) AS these
WHERE (json_extract(these.wanted, '$.findings[0].grade') IS NULL
OR json_extract(these.wanted, '$.findings[0].grade') = json_extract(found.value, '$.grade'))
AND (json_extract(these.wanted, '$.findings[0].rule') IS NULL
OR json_extract(these.wanted, '$.findings[0].rule') = json_extract(found.value, '$.rule'))) ELSE 0 END"""


@compiles(_HasFinding, "sqlite")
def _has_finding_sqlite(element: _HasFinding, compiler: SQLCompiler, **options: Any) -> str:
    answer, wanted = (compiler.process(each, **options) for each in element.clauses)
    return _SQLITE.format(answer=answer, wanted=wanted)


@compiles(_HasFinding, "postgresql")
def _has_finding_postgres(element: _HasFinding, compiler: SQLCompiler, **options: Any) -> str:
    answer, wanted = (compiler.process(each, **options) for each in element.clauses)
    return f"(convert_from({answer}, 'UTF8')::jsonb @> CAST({wanted} AS jsonb))"
