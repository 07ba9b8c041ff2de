"""What a STEP file says of its parts, read here to see that nothing of it is lost on the way.

The reader of STEP drops without a word what it does not know or cannot find, turns what a file
mirrors, shrinks what it scales, and takes millimetres where no unit is given.  So the text is
looked through first.  Format: ISO 10303-21 (exchange structure), entities of ISO 10303-41 to
-44 as application protocols 203, 214 and 242 use them (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple, NoReturn

import numpy as np

_BEGIN, _END = "ISO-10303-21", "END-ISO-10303-21"
_ASIDE = re.compile(r"/\*.*?\*/|'(?:[^']|'')*'|\"[0-9A-Fa-f]*\"", re.DOTALL)
_DATA = re.compile(r"(?:^|;)\s*DATA\s*(?:\([^;]*\))?\s*;")
_REFERENCE = re.compile(r"(?:^|;)\s*REFERENCE\s*;\s*#")
_STATEMENT = re.compile(r"#\s*(\d+)\s*=\s*([^;]*);")
_KIND = re.compile(r"([A-Z_][A-Z0-9_]*)\s*\(")
_NAMED = re.compile(r"#\s*(\d+)")
_NUMBER = r"\s*[+-]?\d+(?:\.\d*)?(?:[Ee][+-]?\d{1,3})?\s*"
_NUMBERS = re.compile(rf"\w+\s*\([^()]*,\s*\({_NUMBER}(?:,{_NUMBER}){{0,2}}\)\s*\)")
_AGAIN = "export it again, or as STL"

_SHELLS = {
    "MANIFOLD_SOLID_BREP", "BREP_WITH_VOIDS", "FACETED_BREP", "SHELL_BASED_SURFACE_MODEL",
    "FACE_BASED_SURFACE_MODEL", "ADVANCED_FACE", "FACE_SURFACE",
}  # fmt: skip
"""Shapes that are read: bodies and surfaces made of faces."""
_FACES = {"ADVANCED_FACE", "FACE_SURFACE"}
_BARE = {"FACE", "SUBFACE", "ORIENTED_FACE"}
"""Faces without a surface of their own, which the reader drops."""
_SHAPELESS = re.compile(
    r"CURVE|POINT|PLACEMENT|WIREFRAME|ANNOTATION|LINE|CIRCLE|ELLIPSE|DIRECTION|VECTOR|VERTEX|EDGE"
    r"|MEASURE|DESCRIPTIVE|STYLED|CAMERA|TEXT|CURVE_SET|VALUE|PLANAR_|PLANE$"
)
"""What encloses nothing: axes, curves, remarks."""
_OPERATOR = "CARTESIAN_TRANSFORMATION_OPERATOR_3D"
_WITH = "REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION"
_PREFIXES = {
    "$", "*", ".EXA.", ".PETA.", ".TERA.", ".GIGA.", ".MEGA.", ".KILO.", ".HECTO.", ".DECA.",
    ".DECI.", ".CENTI.", ".MILLI.", ".MICRO.", ".NANO.", ".PICO.", ".FEMTO.", ".ATTO.",
}  # fmt: skip
_EXACT = 1e-6
"""How far a turn may be from one, and a scale from 1."""


class _Entity(NamedTuple):
    """One statement: its kinds (several where it is complex), its text, where it begins."""

    kinds: tuple[str, ...]
    text: str
    at: int


def check_step(content: str) -> tuple[int, list[str]]:
    """Return how many faces all parts of a STEP file have, each as often as placed, and notes.

    Raises
    ------
    ValueError
        If it is no whole STEP file, or says something of its shape that would be lost or read
        otherwise, with the line and what to do.
    """
    try:
        return _Text(content).checked()
    except _WrongError:
        raise
    except (LookupError, ValueError, RecursionError):  # a statement with other arguments
        raise ValueError(f"has a statement that cannot be read; {_AGAIN}") from None


class _WrongError(ValueError):
    """What is wrong, in words."""


class _Text:
    def __init__(self, content: str) -> None:
        self.content = content
        text = _ASIDE.sub(_blank, content)
        if not text.lstrip("\ufeff \t\r\n").startswith(_BEGIN):
            raise _WrongError(f"is no STEP file: it does not begin with {_BEGIN}; export it again")
        if _END not in text:
            raise _WrongError(f"is cut short: it does not end with {_END}; export it again")
        if _REFERENCE.search(text):
            raise _WrongError("names parts of other files, which are not read; export it whole")
        data = _DATA.search(text)
        self.entities: dict[int, _Entity] = {}
        for found in _STATEMENT.finditer(text, data.end() if data else len(text)):
            number, body = int(found[1]), found[2].strip()
            if number in self.entities:
                self.wrong(found.start(), f"gives #{number} twice")
            several = body.startswith("(")
            kinds = _KIND.findall(body) if several else _KIND.findall(body[:200])[:1]
            self.entities[number] = _Entity(tuple(kinds), body, found.start())
        self.of_kind: dict[str, list[int]] = {}
        for number, entity in self.entities.items():
            for kind in entity.kinds:
                self.of_kind.setdefault(kind, []).append(number)
        self.seen: set[int] = set()
        self.counts: dict[int, int] = {}

    def wrong(self, at: int, what: str, mend: str = _AGAIN) -> NoReturn:
        raise _WrongError(f"{what}, in line {self.content.count(chr(10), 0, at) + 1}; {mend}")

    def all(self, *kinds: str) -> Iterator[tuple[int, _Entity]]:
        for kind in kinds:
            for number in self.of_kind.get(kind, ()):
                yield number, self.entities[number]

    def checked(self) -> tuple[int, list[str]]:
        """Go through all parts, from those that are part of no other."""
        self.parts: dict[int, list[int]] = {}  # part -> its representations
        self.joined: dict[int, list[int]] = {}  # representation -> others of the same part
        for _, entity in self.all("SHAPE_DEFINITION_REPRESENTATION"):
            shape, representation = (self.named(one) for one in self.arguments(entity)[:2])
            part = self.part_of(shape)
            if part is not None:
                self.parts.setdefault(part, []).extend(representation)
        if not self.parts:
            raise _WrongError(f"has no part with a shape; {_AGAIN}")
        self.relations()
        below, placed = self.assemblies()
        roots = [part for part in self.parts if part not in placed]
        roots += [part for part in below if part not in placed and part not in self.parts]
        n = sum(self.faces_of_part(part, below, ()) for part in roots)
        self.check_reached()
        return n, self.left_out()

    def arguments(self, entity: _Entity, kind: str = "") -> list[str]:
        """Return the arguments of an entity, or of one of its kinds where it has several."""
        begin = re.search(rf"\b{kind}\s*\(" if kind else r"\(", entity.text)
        found, depth, start = [], 0, begin.end() if begin else len(entity.text)
        for k in range(start, len(entity.text)):
            letter = entity.text[k]
            if letter in ",)" and depth == 0:
                found.append(entity.text[start:k].strip())
                start = k + 1
                if letter == ")":
                    return found
            depth += (letter == "(") - (letter == ")")
        self.wrong(entity.at, "has a statement that cannot be read")

    def named(self, text: str) -> list[int]:
        return [int(one) for one in _NAMED.findall(text)]

    def entity(self, number: int, asked: _Entity) -> _Entity:
        """Return what is named; an error where it is not there."""
        if number not in self.entities:
            self.wrong(asked.at, f"names #{number}, which is not there")
        self.seen.add(number)
        return self.entities[number]

    def part_of(self, shapes: list[int]) -> int | None:
        """Return the part that a shape is of; None for that of a face, a placement or nothing."""
        for shape in shapes:
            for number in self.named(self.entities[shape].text if shape in self.entities else ""):
                kinds = self.entities[number].kinds if number in self.entities else ()
                if any(kind.startswith("PRODUCT_DEFINITION") for kind in kinds):
                    return number
        return None

    def relations(self) -> None:
        """Note which representations are of one part, and see how others are placed by them."""
        used = {
            number
            for _, entity in self.all("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION")
            for number in self.named(entity.text)
        }
        for number, entity in self.all("SHAPE_REPRESENTATION_RELATIONSHIP"):
            if _WITH not in entity.kinds:
                one, other = (self.named(text)[0] for text in self.arguments(entity)[2:4])
                self.joined.setdefault(one, []).append(other)
                self.joined.setdefault(other, []).append(one)
            elif number not in used:
                self.wrong(entity.at, "places a shape in a way that is not read")
        for _, entity in self.all(_WITH):
            for operator in self.named(self.arguments(entity, _WITH)[0]):
                self.check_operator(self.entity(operator, entity))

    def assemblies(self) -> tuple[dict[int, list[int]], set[int]]:
        """Return the parts below each part, as often as they are placed, and all of these."""
        shapes = {
            number: shape
            for shape, entity in self.all("PRODUCT_DEFINITION_SHAPE")
            for number in self.named(entity.text)
        }
        where = {
            number
            for _, entity in self.all("CONTEXT_DEPENDENT_SHAPE_REPRESENTATION")
            for number in self.named(entity.text)
        }
        below: dict[int, list[int]] = {}
        for number, entity in self.all("NEXT_ASSEMBLY_USAGE_OCCURRENCE"):
            above, part = (self.named(text)[0] for text in self.arguments(entity)[3:5])
            if shapes.get(number) not in where:
                self.wrong(entity.at, "has a part in an assembly that is placed nowhere")
            below.setdefault(above, []).append(part)
        return below, {part for parts in below.values() for part in parts}

    def faces_of_part(self, part: int, below: dict[int, list[int]], above: tuple[int, ...]) -> int:
        """Return the faces of a part and of all that is below it."""
        if part in above:
            self.wrong(self.entities[part].at, "has a part that is a part of itself")
        if part not in self.counts:
            representations = self.parts.get(part, [])
            n = self.faces_of_all(representations)
            n += sum(self.faces_of_part(one, below, (*above, part)) for one in below.get(part, ()))
            if not n and above and "DOCUMENT_FILE" in self.of_kind:
                at = self.entities[part].at if part in self.entities else 0
                self.wrong(at, "has a part whose shape is in another file", "export it whole")
            self.counts[part] = n
        return self.counts[part]

    def faces_of_all(self, representations: Iterable[int]) -> int:
        """Return the faces of representations of one part and of those joined to them."""
        waiting, done, n = list(representations), set[int](), 0
        while waiting:
            number = waiting.pop()
            if number not in done:
                done.add(number)
                n += self.faces_of(number)
                waiting += self.joined.get(number, ())
        return n

    def faces_of(self, number: int, above: tuple[int, ...] = ()) -> int:
        """Return the faces of one representation, what it shows of others counted."""
        if number in self.counts:
            return self.counts[number]
        entity = self.entities.get(number)
        if entity is None or number in above:
            raise _WrongError(f"has a shape, #{number}, that is not there or its own; {_AGAIN}")
        self.seen.add(number)
        name = "REPRESENTATION" if len(entity.kinds) > 1 else ""
        _, items, context = self.arguments(entity, name)[:3]
        n = 0
        for item in self.named(items):
            found = self.entity(item, entity)
            if "MAPPED_ITEM" in found.kinds:
                n += self.faces_shown(found, (*above, number))
            else:
                n += self.faces_of_item(found)
        if n:
            self.check_unit(context, entity)
        self.counts[number] = n
        return n

    def faces_shown(self, item: _Entity, above: tuple[int, ...]) -> int:
        """Return the faces of another representation that is shown once more."""
        source, target = (self.named(text)[0] for text in self.arguments(item)[1:3])
        self.check_operator(self.entity(target, item))
        shown = self.entity(source, item)
        return self.faces_of(self.named(self.arguments(shown)[1])[0], above)

    def faces_of_item(self, item: _Entity) -> int:
        """Return the faces of a shape; an error where it is of a kind that is not read."""
        if not _SHELLS.intersection(item.kinds):
            if all(map(_SHAPELESS.search, item.kinds)):
                return 0
            self.wrong(item.at, f"has a shape ({', '.join(item.kinds)}) that is not read")
        n, done, waiting = 0, set[int](), [item]
        while waiting:
            entity = waiting.pop()
            n += bool(_FACES.intersection(entity.kinds))
            if _BARE.intersection(entity.kinds):
                self.wrong(entity.at, "has a face without a surface, which is not read")
            for number in self.named(entity.text):
                if number not in done:
                    done.add(number)
                    waiting.append(self.entity(number, entity))
        return n

    def check_operator(self, operator: _Entity) -> None:
        """Refuse a placement that mirrors or scales: it is read as a turn, or the wrong way."""
        if not any(kind.startswith("CARTESIAN_TRANSFORMATION_OPERATOR") for kind in operator.kinds):
            return
        axes = []
        if _OPERATOR in operator.kinds and len(operator.kinds) == 1:
            *_, x, y, _, scale, z = self.arguments(operator)
            for one in (x, y, z):
                text = "".join(self.entity(k, operator).text for k in self.named(one))
                axes.append([float(word) for word in re.findall(r"[-+\d.Ee]*\d[\d.Ee+-]*", text)])
            if scale in ("1.", "1.0", "$", "1.E0", "1.0E0") and all(len(a) == 3 for a in axes):
                unit = np.array(axes) / np.linalg.norm(axes, axis=1, keepdims=True)
                if np.linalg.det(unit) > 1.0 - _EXACT:
                    return
        self.wrong(operator.at, "places a shape mirrored or scaled, which is not read so")

    def check_unit(self, context: str, representation: _Entity) -> None:
        """Refuse a shape without a unit of length."""
        for number in self.named(context):
            found = self.entity(number, representation)
            if "GLOBAL_UNIT_ASSIGNED_CONTEXT" not in found.kinds:
                continue
            for unit in self.named(self.arguments(found, "GLOBAL_UNIT_ASSIGNED_CONTEXT")[0]):
                one = self.entity(unit, found)
                if "LENGTH_UNIT" in one.kinds:
                    self.check_length(one)
                    return
        self.wrong(representation.at, "has a shape without a unit of length")

    def check_length(self, unit: _Entity) -> None:
        """Refuse a unit of length that is not so many metres."""
        if "SI_UNIT" in unit.kinds:
            prefix, base = self.arguments(unit, "SI_UNIT")
            if prefix in _PREFIXES and base == ".METRE.":
                return
        elif "CONVERSION_BASED_UNIT" in unit.kinds:
            (factor,) = self.named(self.arguments(unit, "CONVERSION_BASED_UNIT")[1])[:1] or (0,)
            measure = self.entity(factor, unit)
            for number in self.named(measure.text):
                self.check_length(self.entity(number, measure))
                return
        self.wrong(unit.at, "has a unit of length that is not read")

    def check_reached(self) -> None:
        """Refuse corners and directions without plain numbers: the reader takes others for them."""
        for number in self.seen:
            entity = self.entities[number]
            is_point = entity.kinds in (("CARTESIAN_POINT",), ("DIRECTION",))
            if is_point and not _NUMBERS.fullmatch(entity.text):
                self.wrong(entity.at, f"has #{number} without plain numbers")

    def left_out(self) -> list[str]:
        """Return a note on shapes that are of no part."""
        bodies = _SHELLS - _FACES
        lost = sum(
            number not in self.seen for kind in bodies for number in self.of_kind.get(kind, ())
        )
        if not lost:
            return []
        what = "a shape that is" if lost == 1 else f"{lost} shapes that are"
        return [f"has {what} of no part: left out"]


def _blank(found: re.Match[str]) -> str:
    """Return blanks for a remark or a text, with its marks and lines."""
    if found.group() == "''":
        return "''"
    inner = re.sub(r"[^\n]", " ", found.group())
    return inner if found.group().startswith("/*") else f"'{inner[1:-1]}'"


__all__ = ["check_step"]
