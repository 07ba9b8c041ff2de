"""A small STEP file to spoil: a box of flat faces in millimetres, placed in an assembly."""

from __future__ import annotations

_CORNERS = [(x, y, z) for x in (0, 700) for y in (0, 500) for z in (0, 900)]
_FACES = (
    ((0, 1, 3, 2), (-1, 0, 0), (0, 1, 0)), ((4, 6, 7, 5), (1, 0, 0), (0, 1, 0)),
    ((0, 4, 5, 1), (0, -1, 0), (1, 0, 0)), ((2, 3, 7, 6), (0, 1, 0), (1, 0, 0)),
    ((0, 2, 6, 4), (0, 0, -1), (1, 0, 0)), ((1, 5, 7, 3), (0, 0, 1), (1, 0, 0)),
)  # fmt: skip
_BEGIN = """\
ISO-10303-21;
HEADER;
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('box','2026-01-01T00:00:00',(''),(''),'','','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));
ENDSEC;
DATA;
"""


def step_text() -> str:
    """Return the text of the file."""
    lines: list[str] = []

    def add(text: str) -> str:
        lines.append(f"#{len(lines) + 1}={text};\n")
        return f"#{len(lines)}"

    def numbers(kind: str, values: tuple[float, ...]) -> str:
        return add(f"{kind}('',({','.join(f'{float(v)!r}' for v in values)}))")

    def axes(at: tuple[float, ...], z: tuple[float, ...], x: tuple[float, ...]) -> str:
        parts = [numbers("CARTESIAN_POINT", at), numbers("DIRECTION", z), numbers("DIRECTION", x)]
        return add(f"AXIS2_PLACEMENT_3D('',{','.join(parts)})")

    up = ((0, 0, 1), (1, 0, 0))
    mm = add("( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) )")
    rad = add("( NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.) )")
    units = f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({mm},{rad}))"
    plain = "GEOMETRIC_REPRESENTATION_CONTEXT(3)", "REPRESENTATION_CONTEXT('','')"
    context = add(f"( {plain[0]} {units} {plain[1]} )")
    points = [numbers("CARTESIAN_POINT", one) for one in _CORNERS]
    faces = []
    for ring, z, x in _FACES:
        loop = add(f"POLY_LOOP('',({','.join(points[k] for k in ring)}))")
        bound = add(f"FACE_OUTER_BOUND('',{loop},.T.)")
        plane = add(f"PLANE('',{axes(_CORNERS[ring[0]], z, x)})")
        faces.append(add(f"FACE_SURFACE('',({bound}),{plane},.T.)"))
    shell = add(f"CLOSED_SHELL('',({','.join(faces)}))")
    body = add(f"FACETED_BREP('',{shell})")
    app = add("APPLICATION_CONTEXT('mechanical design')")
    of = add(f"PRODUCT_CONTEXT('',{app},'mechanical')")
    design = add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{app},'design')")

    def part(name: str, items: str) -> tuple[str, str]:
        product = add(f"PRODUCT('{name}','{name}','',({of}))")
        formation = add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
        found = add(f"PRODUCT_DEFINITION('design','',{formation},{design})")
        shape = add(f"PRODUCT_DEFINITION_SHAPE('','',{found})")
        shown = add(f"SHAPE_REPRESENTATION('',({items}),{context})")
        add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{shown})")
        return found, shown

    box, box_shown = part("box", f"{axes((0, 0, 0), *up)},{body}")
    whole, whole_shown = part("whole", axes((0, 0, 0), *up))
    use = add(f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('1','1','',{whole},{box},$)")
    shape = add(f"PRODUCT_DEFINITION_SHAPE('','',{use})")
    ends = f"{axes((0, 0, 0), *up)},{axes((100, 0, 0), *up)}"
    moved = add(f"ITEM_DEFINED_TRANSFORMATION('','',{ends})")
    related = add(
        f"( REPRESENTATION_RELATIONSHIP('','',{box_shown},{whole_shown}) "
        f"REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION({moved}) "
        "SHAPE_REPRESENTATION_RELATIONSHIP() )"
    )
    add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION({related},{shape})")
    return _BEGIN + "".join(lines) + "ENDSEC;\nEND-ISO-10303-21;\n"


__all__ = ["step_text"]
