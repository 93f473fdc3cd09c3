"""Texts that mean something to a database, a file system, HTTP, a page or a log, and nothing to fitcheck."""

from __future__ import annotations

from typing import Final

__all__ = ["TEXTS"]

TEXTS: Final = (
    # SQL
    "' OR '1'='1",
    "' OR 1=1 --",
    '" OR ""="',
    "'; DROP TABLE records; --",
    "'); DELETE FROM contents; --",
    "' UNION SELECT number, digest FROM head --",
    "1; SELECT pg_sleep(20)",
    "'||(SELECT hash FROM access_keys)||'",
    "\\'; --",
    "$$;DROP SCHEMA public CASCADE;$$",
    "%' ESCAPE '!",
    "%",
    "_" * 9,
    ":wanted_id",
    "%(person)s",
    "?1",
    # paths
    "../../../../etc/passwd",
    "..%2f..%2fetc%2fpasswd",
    "%252e%252e%252fetc",
    "..\\..\\windows\\win.ini",
    "/etc/passwd",
    "file:///etc/passwd",
    ".",
    "..",
    "//low-meadow.test/x",
    "a/b//c/",
    "x;y=1",
    "x?y=1#z",
    "batch",
    "records.sqlite3",
    # headers and lines
    "x\r\nX-Injected: 1",
    "x\r\n\r\n<p>",
    "x\nSet-Cookie: y=1",
    "x\u010d\u010aX-Injected: 1",
    '"}\n{"level": "forged", "message": "request"}',
    "\x1b[2Jx",
    "a\x00b",
    "\u2028x",
    # pages, texts with meaning, numbers
    "<script>alert(1)</script>",
    '"><svg onload=alert(1)>',
    "</style><img src=x onerror=alert(1)>",
    "javascript:alert(1)",
    "&lt;b&gt;&#x27;",
    "<!ENTITY x SYSTEM 'file:///etc/passwd'>",
    "]]><x/>",
    "{{7*7}}${7*7}<%= 7*7 %>",
    "{0.__class__.__init__.__globals__}",
    "%n%s%x",
    "=cmd|' /C calc'!A0",
    "`id`;$(id)|id",
    "__proto__",
    "\u202eyard",
    "\U0001f40e\u0301",
    "x" * 5000,
)
