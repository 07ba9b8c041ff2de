"""STEP files written entity by entity, so that what they hold is known."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from pathlib import Path

HEAD = (
    "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\n"
    "FILE_NAME('x','2026-01-01T00:00:00',(''),(''),'','','');\n"
    "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\nDATA;\n"
)
TAIL = "ENDSEC;\nEND-ISO-10303-21;\n"
Part = tuple[str, str]
"""A part and its representation."""


class Step:
    """A file in the making; every method returns the name of what it adds."""

    def __init__(self, unit: str = "mm") -> None:
        self.entities: list[str] = []
        self.app = self.add("APPLICATION_CONTEXT('mechanical design')")
        self.design = self.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{self.app},'design')")
        self.products = self.add(f"PRODUCT_CONTEXT('',{self.app},'mechanical')")
        self.context = self.measured(unit)

    def add(self, text: str) -> str:
        self.entities.append(text)
        return f"#{len(self.entities)}"

    def measured(self, unit: str) -> str:
        """Add a context with a unit of length."""
        if unit == "in":
            mm = self.add("( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) )")
            powers = self.add("DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.)")
            inch = self.add(f"LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE(25.4),{mm})")
            kinds = f"CONVERSION_BASED_UNIT('INCH',{inch}) LENGTH_UNIT() NAMED_UNIT({powers})"
            length = self.add(f"( {kinds} )")
        else:
            prefix = {"mm": ".MILLI.", "m": "$"}[unit]
            length = self.add(f"( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT({prefix},.METRE.) )")
        angle = self.add("( NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.) )")
        return self.add(
            "( GEOMETRIC_REPRESENTATION_CONTEXT(3) "
            f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle})) REPRESENTATION_CONTEXT('','') )"
        )

    def numbers(self, kind: str, values: Iterable[float]) -> str:
        return self.add(f"{kind}('',({','.join(repr(float(v)) for v in values)}))")

    def axes(self, at=(0, 0, 0), z=(0, 0, 1), x=(1, 0, 0)) -> str:
        point = self.numbers("CARTESIAN_POINT", at)
        directions = ",".join(self.numbers("DIRECTION", one) for one in (z, x))
        return self.add(f"AXIS2_PLACEMENT_3D('',{point},{directions})")

    def box_faces(self, low, high) -> list[str]:
        corners, edges, faces = {}, {}, []
        for where in itertools.product((0, 1), repeat=3):
            at = [(low, high)[where[i]][i] for i in range(3)]
            corners[where] = self.add(f"VERTEX_POINT('',{self.numbers('CARTESIAN_POINT', at)})"), at

        def edge(a, b) -> str:
            ends = (min(a, b), max(a, b))
            if ends not in edges:
                (one, p), (other, q) = corners[ends[0]], corners[ends[1]]
                along = self.numbers("DIRECTION", [float(v > u) for u, v in zip(p, q, strict=True)])
                line = (
                    f"{self.numbers('CARTESIAN_POINT', p)},{self.add(f'''VECTOR('',{along},1.)''')}"
                )
                line = self.add(f"LINE('',{line})")
                edges[ends] = self.add(f"EDGE_CURVE('',{one},{other},{line},.T.)")
            return self.add(f"ORIENTED_EDGE('',*,*,{edges[ends]},.{'TF'[a != ends[0]]}.)")

        for i, side in itertools.product(range(3), (0, 1)):
            ring = []
            for u, v in ((0, 0), (1, 0), (1, 1), (0, 1)):
                where = [0, 0, 0]
                where[i], where[(i + 1) % 3], where[(i + 2) % 3] = side, u, v
                ring.append(tuple(where))
            ring = ring if side else ring[::-1]
            loop = ",".join(edge(ring[k], ring[(k + 1) % 4]) for k in range(4))
            bound = self.add(f"FACE_OUTER_BOUND('',{self.add(f'''EDGE_LOOP('',({loop}))''')},.T.)")
            z = [(2 * side - 1) * (k == i) for k in range(3)]
            plane = self.axes(corners[ring[0]][1], z, [float(k == (i + 1) % 3) for k in range(3)])
            plane = self.add(f"PLANE('',{plane})")
            faces.append(self.add(f"ADVANCED_FACE('',({bound}),{plane},.T.)"))
        return faces

    def box(self, low=(0, 0, 0), high=(1, 1, 1)) -> str:
        shell = self.add(f"CLOSED_SHELL('',({','.join(self.box_faces(low, high))}))")
        return self.add(f"MANIFOLD_SOLID_BREP('',{shell})")

    def ball(self, radius: float) -> str:
        """Add a ball by its two poles and the line between them."""
        poles = [self.numbers("CARTESIAN_POINT", (0, 0, z)) for z in (-radius, radius)]
        low, high = (self.add(f"VERTEX_POINT('',{one})") for one in poles)
        circle = self.add(f"CIRCLE('',{self.axes((0, 0, 0), (0, -1, 0))},{float(radius)})")
        seam = self.add(f"EDGE_CURVE('',{low},{high},{circle},.T.)")
        ends = ",".join(self.add(f"ORIENTED_EDGE('',*,*,{seam},.{one}.)") for one in "TF")
        bound = self.add(f"FACE_OUTER_BOUND('',{self.add(f'''EDGE_LOOP('',({ends}))''')},.T.)")
        sphere = self.add(f"SPHERICAL_SURFACE('',{self.axes()},{float(radius)})")
        face = self.add(f"ADVANCED_FACE('',({bound}),{sphere},.T.)")
        return self.add(f"MANIFOLD_SOLID_BREP('',{self.add(f'''CLOSED_SHELL('',({face}))''')})")

    def representation(self, items: Iterable[str], context: str = "") -> str:
        items = ",".join([self.axes(), *items])
        return self.add(f"SHAPE_REPRESENTATION('',({items}),{context or self.context})")

    def part(self, items: Iterable[str] = (), context: str = "", name: str = "part") -> Part:
        product = self.add(f"PRODUCT('{name}','{name}','',({self.products}))")
        formation = self.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
        part = self.add(f"PRODUCT_DEFINITION('design','',{formation},{self.design})")
        shape = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{part})")
        shown = self.representation(items, context)
        self.add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{shown})")
        return part, shown

    def inside(self, whole: Part, part: Part, name: str = "1") -> str:
        """Add a part to an assembly, placed nowhere yet; return the shape to place."""
        use = f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{name}','{name}','',{whole[0]},{part[0]},$)"
        return self.add(f"PRODUCT_DEFINITION_SHAPE('','',{self.add(use)})")

    def place(self, whole: Part, part: Part, transformation: str, name: str = "1") -> None:
        shape = self.inside(whole, part, name)
        related = self.add(
            f"( REPRESENTATION_RELATIONSHIP('','',{part[1]},{whole[1]}) "
            f"REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION({transformation}) "
            "SHAPE_REPRESENTATION_RELATIONSHIP() )"
        )
        self.add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION({related},{shape})")

    def moved(self, at=(0, 0, 0), z=(0, 0, 1), x=(1, 0, 0)) -> str:
        return self.add(f"ITEM_DEFINED_TRANSFORMATION('','',{self.axes()},{self.axes(at, z, x)})")

    def operator(self, x=(1, 0, 0), y=(0, 1, 0), z=(0, 0, 1), scale: str = "1.") -> str:
        at = self.numbers("CARTESIAN_POINT", (0, 0, 0))
        x, y, z = (self.numbers("DIRECTION", one) for one in (x, y, z))
        return self.add(f"CARTESIAN_TRANSFORMATION_OPERATOR_3D('','','',{x},{y},{at},{scale},{z})")

    def shown_again(self, item: str, target: str) -> str:
        """Add a representation of one item, and show it once more somewhere."""
        origin = self.axes()
        shown = self.representation([item])
        return self.add(
            f"MAPPED_ITEM('',{self.add(f'REPRESENTATION_MAP({origin},{shown})')},{target})"
        )

    @property
    def text(self) -> str:
        lines = (f"#{k}={text};\n" for k, text in enumerate(self.entities, 1))
        return HEAD + "".join(lines) + TAIL

    def write(self, path: Path) -> Path:
        path.write_text(self.text, encoding="utf-8")
        return path
