"""Ways to spoil a file: its text, its values, its bytes; the same seed spoils it the same way."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

STRANGE = (
    "nan", "inf", "-inf", "1e308", "-1e308", "1e-308", "0", "-0.0", "-1", "1e20", "9" * 400,
    '""', '" "', '"nan m"', '"1e400 m"', '"-24 in"', '"24 furlongs"', '"∞ m"', '"\\u0000"',
    '"../../../../etc/passwd"', '"/etc/passwd"', '"~"', '"world"', '"{{7*7}}"', '"__import__"',
    "true", "false", "[]", "{}", "[[[]]]", "[1, 2]", "[1, 2, 3, 4]", "[nan, 0, 0]", "[0, 0, 0]",
    "[1e308, 1e308, 1e308]", '["a", "b", "c"]', "1979-05-27", "07:32:00", "0x7fffffffffffffff",
    '"' + "x" * 5000 + '"', '"ｗｏｒｌｄ"', '"W1\\n"', '"00:60"', '"99:99"', '"-1 min"', '"1e9 h"',
)  # fmt: skip
"""Values that a hand, a spreadsheet or an export program might leave behind, and worse."""

_VALUE = re.compile(
    r'"(?:[^"\\\n]|\\.)*"|(?<![\w.])[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?(?![\w.])|\btrue\b|\bfalse\b'
)
_WORD = re.compile(r"[A-Za-z_][\w-]*")


def spoil_text(text: str, rng: random.Random) -> str:
    """Return a text with one to four things in it spoilt."""
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        text = rng.choice(_TEXT)(text, rng)
    return text


def spoil_bytes(content: bytes, rng: random.Random) -> bytes:
    """Return bytes with one to four things in them spoilt."""
    for _ in range(rng.choice((1, 1, 2, 4))):
        content = rng.choice(_BYTES)(content, rng)
    return content


def _a_value(text: str, rng: random.Random) -> str:
    found = list(_VALUE.finditer(text))
    if not found:
        return text
    one = rng.choice(found)
    return text[: one.start()] + rng.choice(STRANGE) + text[one.end() :]


def _value_of_another(text: str, rng: random.Random) -> str:
    found = list(_VALUE.finditer(text))
    if not found:
        return text
    one, other = rng.choice(found), rng.choice(found)
    return text[: one.start()] + other.group() + text[one.end() :]


def _a_word(text: str, rng: random.Random) -> str:
    found = list(_WORD.finditer(text))
    if not found:
        return text
    one, other = rng.choice(found), rng.choice(found)
    new = rng.choice((other.group(), one.group()[:-1], one.group() + "x", "", "é"))
    return text[: one.start()] + new + text[one.end() :]


def _lines(text: str, rng: random.Random) -> str:
    lines = text.split("\n")
    i = rng.randrange(len(lines))
    n = rng.choice((1, 1, 2, 5))
    what = rng.randrange(4)
    if what == 0:
        del lines[i : i + n]
    elif what == 1:
        lines[i:i] = lines[i : i + n]
    elif what == 2:
        j = rng.randrange(len(lines))
        lines[i], lines[j] = lines[j], lines[i]
    else:
        lines.insert(i, lines[rng.randrange(len(lines))])
    return "\n".join(lines)


def _characters(text: str, rng: random.Random) -> str:
    if not text:
        return text
    i = rng.randrange(len(text))
    what = rng.randrange(4)
    if what == 0:
        return text[:i] + text[i + rng.choice((1, 1, 3, 40)) :]
    if what == 1:
        return text[:i] + rng.choice("[]{}=\"'#.,;:\n\t\\ \x00\u2028é0") + text[i:]
    if what == 2:
        return text[:i]
    return text[:i] + text[i:].replace(rng.choice('="[],;'), rng.choice('="[],;'), 1)


def _deep(text: str, rng: random.Random) -> str:
    n = rng.choice((50, 500, 5000))
    found = list(_VALUE.finditer(text))
    if not found:
        return text
    one = rng.choice(found)
    nested = rng.choice(("[" * n + "]" * n, "{a=" * n + "1" + "}" * n))
    return text[: one.start()] + nested + text[one.end() :]


def _flip(content: bytes, rng: random.Random) -> bytes:
    if not content:
        return content
    i = rng.randrange(len(content))
    return content[:i] + bytes([rng.randrange(256)]) + content[i + 1 :]


def _cut(content: bytes, rng: random.Random) -> bytes:
    return content[: rng.randrange(len(content) + 1)]


def _drop(content: bytes, rng: random.Random) -> bytes:
    i = rng.randrange(len(content) + 1)
    return content[:i] + content[i + rng.choice((1, 2, 4, 50)) :]


def _number(content: bytes, rng: random.Random) -> bytes:
    """Put a number of four bytes that is too large, negative or none somewhere."""
    if len(content) < 4:
        return content
    i = rng.randrange(len(content) - 3)
    new = rng.choice(
        (b"\xff\xff\xff\xff", b"\xff\xff\xff\x7f", b"\x00\x00\x00\x00", b"\x00\x00\xc0\x7f",
         b"\x00\x00\x80\x7f", b"\x00\x00\x00\x80", b"\xff\xff\x7f\x7f")
    )  # fmt: skip
    return content[:i] + new + content[i + 4 :]


def _as_text(content: bytes, rng: random.Random) -> bytes:
    return spoil_text(content.decode("latin-1"), rng).encode("utf-8", "replace")


_TEXT: tuple[Callable[[str, random.Random], str], ...] = (
    _a_value, _a_value, _a_value, _value_of_another, _a_word, _lines, _characters, _deep,
)  # fmt: skip
_BYTES: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    _flip, _flip, _cut, _drop, _number, _as_text,
)  # fmt: skip
