#!/usr/bin/env python3
"""Converged Maxwell matrices of layout features by hp finite elements: writes features.json.

Needs the packages ngsolve, netgen-mesher (reference versions 6.2.2608) and numpy.

    python features.py            every record, saved after each one
    python features.py F01 F15    these records only, the others in the file stay
    python features.py check      the method itself against values with an outside source

Records are raw case records, lengths in mm, with the answer under `result`: planar in pF/m, the
others in pF. The record form has no shoulder of a finger. In axisymmetric records with a finger
the conductor lists the contact disc and the straight barrel as rects; the body of revolution that
was solved stands in `note.round_bodies` and contains both.
"""

import json
import math
import os
import sys
import time
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")

import netgen.meshing as netgen_mesh
import numpy
from netgen.geom2d import SplineGeometry
from ngsolve import BND, H1, BilinearForm, GridFunction, Integrate, Mesh, SetNumThreads
from ngsolve import CoefficientFunction, grad, dx, x as first_axis

SetNumThreads(1)

# CODATA 2018, like shared.json; pF/m.
VACUUM_PERMITTIVITY = 8.8541878128
# Agreement of two levels below this share of an entry is not told apart from rounding.
ROUNDING_FLOOR = 1e-7
# The same for small entries, as a share of the diagonals whose energies cancel in them.
ENERGY_FLOOR = 1e-10
OUTPUT = Path(__file__).resolve().with_name("features.json")

# --- what the records are ---------------------------------------------------------------------

FACE_NOTE = (
    "rects of the finger are its contact disc and barrel only; the body solved is the one of "
    "revolution in note.round_bodies: radius at height z is sqrt(contact^2 + 2 dome (z - bottom)), "
    "at most dome"
)


def record(identity, kind, title, box, dielectrics, conductors, wall=None, round_bodies=()):
    """A raw case record; `round_bodies` are {conductor, contact_radius, dome_radius, bottom, top}."""
    key = "box" if kind == "3d" else "rect"
    pieces = "boxes" if kind == "3d" else "rects"
    result = {
        "id": identity,
        "kind": kind,
        "title": title,
        "box": box,
        "dielectrics": [{"name": n, "eps_r": e, key: b} for n, e, b in dielectrics],
        "conductors": [{"name": n, pieces: b} for n, b in conductors],
        "length_unit": "mm",
        "background_eps_r": 1.0,
    }
    if wall is None:
        result["outer_boundary"] = "whole box surface grounded: the 0 V reference, not a matrix row"
    else:
        result["wall"] = wall
    if round_bodies:
        result["note"] = {"meaning": FACE_NOTE, "round_bodies": list(round_bodies)}
    return result


def finger_body(face):
    """Contact radius 5, dome radius 8, 15 mm high, standing on the height `face`."""
    return {
        "conductor": "finger",
        "contact_radius": 5.0,
        "dome_radius": 8.0,
        "bottom": face,
        "top": face + 15.0,
    }


def finger_rects(body):
    """The two pieces of a body of revolution that are rects: contact disc, barrel."""
    shoulder = barrel_start(body)
    return [
        [0.0, body["contact_radius"], body["bottom"], body["bottom"]],
        [0.0, body["dome_radius"], shoulder, body["top"]],
    ]


def barrel_start(body):
    """Height at which the paraboloid reaches the radius of the barrel."""
    contact, dome = body["contact_radius"], body["dome_radius"]
    return body["bottom"] + (dome**2 - contact**2) / (2.0 * dome)


def axisymmetric(identity, title, box, dielectrics, conductors, face=None, drop_radius=None):
    """With `face` a finger stands there; with `drop_radius` too it shares its row with a drop."""
    bodies = []
    if face is not None:
        body = finger_body(face)
        pieces = finger_rects(body)
        if drop_radius is not None:
            pieces.insert(0, [0.0, drop_radius, face, face])
        conductors = [*conductors, ("finger", pieces)]
        bodies = [body]
    return record(identity, "axisym", title, box, dielectrics, conductors, round_bodies=bodies)


def with_cylinders(records):
    """After each record with a body of revolution the same one with a flat-ended cylinder of its
    contact radius, which the record form holds completely."""
    for case in records:
        yield case
        bodies = case.get("note", {}).get("round_bodies", [])
        if not bodies:
            continue
        twin = {k: v for k, v in case.items() if k != "note"}
        twin["id"] = f"{case['id']}C"
        twin["title"] = f"{case['title']}; finger a flat-ended cylinder R{bodies[0]['contact_radius']:g}"
        twin["conductors"] = [dict(c) for c in case["conductors"]]
        for body in bodies:
            rect = [0.0, body["contact_radius"], body["bottom"], body["top"]]
            for conductor in twin["conductors"]:
                if conductor["name"] == body["conductor"]:
                    kept = [r for r in conductor["rects"] if r not in finger_rects(body)]
                    conductor["rects"] = [*kept, rect]
        yield twin


def axisymmetric_records():
    near, wide = [0.0, 60.0, -40.0, 60.0], [0.0, 80.0, -50.0, 60.0]

    acrylic = [("board", 4.4, [0.0, 30.0, -1.6, 0.0]), ("overlay", 2.8, [0.0, 30.0, 0.0, 4.0])]
    pad, plane = ("pad", [[0.0, 7.0, 0.0, 0.0]]), ("ground", [[0.0, 30.0, -1.6, -1.6]])
    drop = ("drop", [[0.0, 6.0, 4.0, 4.0]])
    stack = "pad R7 on FR-4 over ground plane R30, 4 mm overlay eps 2.8"
    yield axisymmetric("F01", f"{stack}, drop R6 as a sheet on the face", near, acrylic, [pad, plane, drop])
    yield axisymmetric(
        "F02", f"{stack}, finger on a drop R6, one conductor", near, acrylic, [pad, plane], 4.0, 6.0
    )
    yield axisymmetric("F03", f"{stack}, finger, no drop", near, acrylic, [pad, plane], 4.0)
    yield axisymmetric("F03U", f"{stack}, no drop -- untouched twin", near, acrylic, [pad, plane])

    glass = [("board", 4.4, [0.0, 30.0, -1.6, 0.0]), ("overlay", 7.3, [0.0, 30.0, 0.0, 3.0])]
    around = [
        pad,
        ("chassis", [[0.0, 40.0, -13.6, -13.6]]),
        ("bezel", [[13.0, 17.0, 3.0, 5.0]]),
    ]
    stack = "pad R7, 3 mm overlay eps 7.3, metal bezel R13 to R17 x 2 on the face, chassis R40 12 mm behind"
    yield axisymmetric("F04", f"{stack}, finger", wide, glass, around, 3.0)
    yield axisymmetric("F05", f"{stack} -- untouched twin", wide, glass, around)

    thin = [("board", 4.4, [0.0, 30.0, -1.6, 0.0]), ("overlay", 2.8, [0.0, 30.0, 0.0, 3.0])]
    for identity, hole in (("F06", 1.75), ("F07", 4.0), ("F08", 0.0)):
        ring = ("pad", [[hole, 7.0, 0.0, 0.0]])
        stack = (
            f"pad R7 {f'with a hole R{hole:g}' if hole else 'without hole'}, "
            "3 mm overlay eps 2.8, ground plane R30"
        )
        yield axisymmetric(identity, f"{stack}, finger", near, thin, [ring, plane], 3.0)
        yield axisymmetric(f"{identity}U", f"{stack} -- untouched twin", near, thin, [ring, plane])

    bonded = [
        ("board", 4.4, [0.0, 30.0, -1.6, 0.0]),
        ("bond", 3.2, [0.0, 30.0, 0.0, 0.1]),
        ("overlay", 2.8, [0.0, 30.0, 0.1, 4.1]),
    ]
    shielded = [
        ("pad", [[0.0, 7.5, 0.0, 0.0]]),
        ("shield", [[0.0, 12.0, -1.6, -1.6]]),
        ("chassis", [[0.0, 40.0, -6.6, -6.6]]),
    ]
    stack = "pad R7.5, 0.1 mm bond, 4 mm overlay eps 2.8, shield R12 on the back, chassis R40 5 mm behind"
    yield axisymmetric("F09", f"{stack}, finger", wide, bonded, shielded, 4.1)
    yield axisymmetric("F09U", f"{stack} -- untouched twin", wide, bonded, shielded)


    # The glove is a sheet under the whole fingertip; the twin without finger has none.
    bare = [("board", 4.4, [0.0, 30.0, -1.6, 0.0]), ("overlay", 2.8, [0.0, 30.0, 0.0, 3.0])]
    gloved = [*bare, ("glove", 3.0, [0.0, 8.0, 3.0, 4.5])]
    stack = "pad R7, 3 mm overlay eps 2.8, ground plane R30"
    worn = axisymmetric("F18", f"{stack}, finger in a glove of 1.5 mm eps 3", near, gloved, [pad, plane], 4.5)
    worn["dielectrics"][-1]["comes_with"] = "finger"
    yield worn
    yield axisymmetric("F18U", f"{stack} -- untouched twin, no glove", near, bare, [pad, plane])


def planar_records():
    box = [-80.0, 80.0, -50.0, 70.0]
    pads = [
        ("pad1", [[-15.875, -3.175, 0.0, 0.0]]),
        ("pad2", [[3.175, 15.875, 0.0, 0.0]]),
    ]
    finger = ("finger", [[-14.525, -4.525, 3.0, 18.0]])
    layers = [("board", 4.4, [-40.0, 40.0, -1.6, 0.0]), ("overlay", 7.3, [-40.0, 40.0, 0.0, 3.0])]
    slots = (
        ("F10", "air slot 3 x 2.5 mm in the gap from the back face", [0.0, 2.5]),
        ("F11", "no slot", None),
        ("F12", "air slot 3 x 2.5 mm in the gap from the front face", [0.5, 3.0]),
    )
    for identity, words, depth in slots:
        slot = [("slot", 1.0, [-1.5, 1.5, *depth])] if depth else []
        title = f"two pads 12.7, gap 6.35, 3 mm overlay eps 7.3, {words}, no ground"
        yield record(
            identity, "planar", f"{title}, finger on pad 1", box, layers + slot, [*pads, finger]
        )
        yield record(f"{identity}U", "planar", f"{title} -- untouched twin", box, layers + slot, pads)

    box = [-60.0, 60.0, -40.0, 60.0]
    layers = [("board", 4.4, [-30.0, 30.0, -1.6, 0.0]), ("overlay", 2.8, [-30.0, 30.0, 0.0, 4.0])]
    beside = [[-20.6, -0.6, -1.6, -1.6], [0.6, 20.6, -1.6, -1.6]]
    trace = ("trace", [[-0.1, 0.1, -1.6, -1.6]])
    finger = ("finger", [[-5.0, 5.0, 4.0, 19.0]])
    for identity, words, front in (
        ("F13", "no copper in front", []),
        ("F14", "ground 20 mm wide on the front copper", [[-10.0, 10.0, 0.0, 0.0]]),
    ):
        ground = ("ground", beside + front)
        title = f"trace 0.2 on the back in a void of 1.2 between grounds 20 wide, 4 mm overlay, {words}"
        yield record(
            identity, "planar", f"{title}, finger above the trace", box, layers, [trace, ground, finger]
        )
        yield record(f"{identity}U", "planar", f"{title} -- untouched twin", box, layers, [trace, ground])


def volume_records():
    for identity, width in (("F15", 0.2), ("F16", 0.8)):
        half = 0.5 * width
        hatch = [[0.0, half, 0.0, 1.0, 0.0, 0.0], [half, 1.0, 0.0, half, 0.0, 0.0]]
        case = record(
            identity,
            "3d",
            f"quarter cell of a hatch, lines {width:g} wide at pitch 2 in air, plates 3 mm above and below",
            [0.0, 1.0, 0.0, 1.0, -4.0, 4.0],
            [],
            [
                ("hatch", hatch),
                ("top", [[0.0, 1.0, 0.0, 1.0, 3.0, 3.0]]),
                ("bottom", [[0.0, 1.0, 0.0, 1.0, -3.0, -3.0]]),
            ],
            wall="insulated",
        )
        case["note"] = (
            "capacitances of the quarter cell; no wall is a conductor, so rows sum to zero; the space "
            "beyond the plates carries no field"
        )
        yield case
    yield record(
        "F17",
        "3d",
        "pad 14 x 14 on FR-4 under 3 mm overlay eps 2.8, trace 0.2 x 30 on the back under its middle",
        [-55.0, 55.0, -55.0, 55.0, -41.6, 43.0],
        [
            ("board", 4.4, [-15.0, 15.0, -15.0, 15.0, -1.6, 0.0]),
            ("overlay", 2.8, [-15.0, 15.0, -15.0, 15.0, 0.0, 3.0]),
        ],
        [
            ("pad", [[-7.0, 7.0, -7.0, 7.0, 0.0, 0.0]]),
            ("trace", [[-15.0, 15.0, -0.1, 0.1, -1.6, -1.6]]),
        ],
    )


# Touched record, its twin, and which kind of pair it is.
PAIRS = [
    ("F02", "F03U", "touch_shifts"),
    ("F03", "F03U", "touch_shifts"),
    ("F04", "F05", "touch_shifts"),
    *((name, f"{name}U", "touch_shifts") for name in ("F06", "F07", "F08", "F09", "F18")),
    ("F02C", "F03U", "touch_shifts"),
    ("F03C", "F03U", "touch_shifts"),
    ("F04C", "F05", "touch_shifts"),
    *((f"{name}C", f"{name}U", "touch_shifts") for name in ("F06", "F07", "F08", "F09", "F18")),
    *((name, f"{name}U", "touch_shifts") for name in ("F10", "F11", "F12", "F13", "F14")),
    ("F02", "F01", "wet_touch_shifts"),
    ("F02C", "F01", "wet_touch_shifts"),
]

# --- planar and axisymmetric: triangles, geometric layers at every geometric vertex ----------------

PLANE_LEVELS = [
    {"p": 8, "layers": 9, "mesh": 0.5},
    {"p": 10, "layers": 12, "mesh": 0.3},
]
# Pieces of the paraboloid; each is a conic through the right ends with the right tangents.
SHOULDER_PIECES = 12


def inside_rect(point, rect):
    return rect[0] < point[0] < rect[1] and rect[2] < point[1] < rect[3]


def inside_body(point, body):
    radius, height = point
    if not body["bottom"] < height < body["top"]:
        return False
    reach = math.sqrt(body["contact_radius"] ** 2 + 2 * body["dome_radius"] * (height - body["bottom"]))
    return radius < min(reach, body["dome_radius"])


class Arrangement:
    """All lines of a section, cut where they cross, with the material on both sides of each."""

    def __init__(self, case):
        self.case = case
        self.bodies = case.get("note", {}).get("round_bodies", []) if case["kind"] == "axisym" else []
        self.rects = []  # (conductor, rect)
        for conductor in case["conductors"]:
            body = next((b for b in self.bodies if b["conductor"] == conductor["name"]), None)
            listed = conductor["rects"]
            if body is not None:
                # The body of revolution replaces its own two rects.
                listed = [rect for rect in listed if rect not in finger_rects(body)]
            self.rects += [(conductor["name"], rect) for rect in listed]
        self.segments = self.cut()

    def material(self, point):
        """0 outside the field, 1 background, 2.. the dielectrics in order."""
        if not inside_rect(point, self.case["box"]):
            return 0
        if any(inside_rect(point, rect) for _, rect in self.rects):
            return 0
        if any(inside_body(point, body) for body in self.bodies):
            return 0
        found = 1
        for index, dielectric in enumerate(self.case["dielectrics"]):
            if inside_rect(point, dielectric["rect"]):
                found = index + 2
        return found

    def cut(self):
        """Straight segments {ends, conductor, left, right}; left and right are materials."""
        lines = []  # (axis along which it runs, fixed coordinate, low, high, conductor)

        def add(rect, conductor):
            r0, r1, z0, z1 = rect
            for height in {z0, z1}:
                if r1 > r0:
                    lines.append((0, height, r0, r1, conductor))
            for radius in {r0, r1}:
                if z1 > z0:
                    lines.append((1, radius, z0, z1, conductor))

        add(self.case["box"], "wall")
        for dielectric in self.case["dielectrics"]:
            add(dielectric["rect"], None)
        for name, rect in self.rects:
            add(rect, name)
        for body in self.bodies:
            name, bottom, top = body["conductor"], body["bottom"], body["top"]
            lines.append((0, bottom, 0.0, body["contact_radius"], name))
            lines.append((1, body["dome_radius"], barrel_start(body), top, name))
            lines.append((0, top, 0.0, body["dome_radius"], name))

        points = set()
        for axis, fixed, low, high, _ in lines:
            for end in (low, high):
                points.add((end, fixed) if axis == 0 else (fixed, end))
        for axis, fixed, low, high, _ in lines:
            for other_axis, other_fixed, other_low, other_high, _ in lines:
                if axis == 0 and other_axis == 1:
                    if low <= other_fixed <= high and other_low <= fixed <= other_high:
                        points.add((other_fixed, fixed))
        segments = {}
        for axis, fixed, low, high, conductor in lines:
            along = sorted(p[axis] for p in points if p[1 - axis] == fixed and low <= p[axis] <= high)
            for start, end in zip(along, along[1:]):
                ends = ((start, fixed), (end, fixed)) if axis == 0 else ((fixed, start), (fixed, end))
                segments[ends] = segments.get(ends) or conductor
        kept = []
        for (start, end), conductor in segments.items():
            middle = (0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1]))
            length = math.dist(start, end)
            normal = (-(end[1] - start[1]) / length, (end[0] - start[0]) / length)
            offset = 1e-6
            left = self.material((middle[0] + offset * normal[0], middle[1] + offset * normal[1]))
            right = self.material((middle[0] - offset * normal[0], middle[1] - offset * normal[1]))
            if left == right and (conductor in (None, "wall") or left == 0):
                continue
            if self.case["kind"] == "axisym" and start[0] == end[0] == 0.0:
                conductor = "axis"
            kept.append({"ends": (start, end), "conductor": conductor, "left": left, "right": right})
        return kept


def opposite_distance(segment, segments):
    """Distance to the nearest parallel segment that overlaps it, for thin layers."""
    (start, end) = segment["ends"]
    axis = 0 if start[1] == end[1] else 1
    nearest = math.inf
    for other in segments:
        (low, high) = other["ends"]
        if (0 if low[1] == high[1] else 1) != axis:
            continue
        gap = abs(low[1 - axis] - start[1 - axis])
        if gap > 0 and min(end[axis], high[axis]) > max(start[axis], low[axis]):
            nearest = min(nearest, gap)
    return nearest


def plane_mesh(case, layers, mesh_factor):
    """Triangles of a section, refined geometrically at all corners and ends off the axis."""
    arrangement = Arrangement(case)
    geometry = SplineGeometry()
    numbers = {}
    on_wall = lambda p: p[0] in case["box"][:2] or p[1] in case["box"][2:]

    def number(point, singular):
        if point not in numbers:
            numbers[point] = geometry.AppendPoint(*point, hpref=1 if singular else 0)
        return numbers[point]

    for segment in arrangement.segments:
        start, end = (number(p, not on_wall(p)) for p in segment["ends"])
        size = min(2.5 * opposite_distance(segment, arrangement.segments), math.dist(*segment["ends"]))
        name = segment["conductor"] or "interface"
        geometry.Append(
            ["line", start, end],
            leftdomain=segment["left"],
            rightdomain=segment["right"],
            bc=name,
            maxh=mesh_factor * min(size, 12.0),
        )
    for body in arrangement.bodies:
        contact, dome, bottom = body["contact_radius"], body["dome_radius"], body["bottom"]
        height = lambda r: bottom + (r * r - contact * contact) / (2.0 * dome)
        radii = [contact + (dome - contact) * k / SHOULDER_PIECES for k in range(SHOULDER_PIECES + 1)]
        for inner, outer in zip(radii, radii[1:]):
            middle = 0.5 * (inner + outer)
            control = (middle, height(inner) + (inner / dome) * (middle - inner))
            ends = [
                number((r, bottom if r == contact else barrel_start(body) if r == dome else height(r)),
                       r in (contact, dome))
                for r in (inner, outer)
            ]
            between = geometry.AppendPoint(*control)
            outside = arrangement.material((middle + 0.01, height(middle) - 0.01))
            # Going out and up, the finger is on the left.
            geometry.Append(
                ["spline3", ends[0], between, ends[1]],
                leftdomain=0,
                rightdomain=outside,
                bc=body["conductor"],
            )
    names = ["background"] + [d["name"] for d in case["dielectrics"]]
    for index, name in enumerate(names):
        geometry.SetMaterial(index + 1, name)
    mesh = Mesh(geometry.GenerateMesh(maxh=12.0 * mesh_factor, grading=0.35))
    mesh.RefineHP(layers)
    return mesh


def energy_matrix(mesh, order, names, walls, weight):
    """Maxwell matrix as energy products; conductors are boundaries of these names."""
    space = H1(mesh, order=order, dirichlet="|".join([*names, *walls]))
    trial, test = space.TnT()
    form = BilinearForm(space, symmetric=True, condense=True)
    form += weight * grad(trial) * grad(test) * dx
    form.Assemble()
    free = space.FreeDofs(True)
    inverse = form.mat.Inverse(free, inverse="sparsecholesky")
    potentials = []
    for name in names:
        function = GridFunction(space)
        function.Set(1.0, definedon=mesh.Boundaries(name))
        residual = function.vec.CreateVector()
        residual.data = form.mat * function.vec
        function.vec.data -= inverse * residual
        # One step of refinement takes the factor's rounding out.
        residual.data = form.mat * function.vec
        function.vec.data -= inverse * residual
        potentials.append(function)
    count = len(names)
    matrix = numpy.zeros((count, count))
    for j, right in enumerate(potentials):
        image = right.vec.CreateVector()
        # Inner unknowns are eliminated: the Schur complement carries the whole energy.
        image.data = form.mat * right.vec
        for i, left in enumerate(potentials):
            matrix[i, j] = left.vec.InnerProduct(image)
    return 0.5 * (matrix + matrix.T), space.ndof


def plane_solve(case, level):
    mesh = plane_mesh(case, level["layers"], level["mesh"])
    mesh.Curve(level["p"])
    values = {"background": case["background_eps_r"]}
    values |= {d["name"]: d["eps_r"] for d in case["dielectrics"]}
    permittivity = mesh.MaterialCF(values)
    revolved = case["kind"] == "axisym"
    weight = permittivity * (2.0 * math.pi * first_axis if revolved else 1.0)
    names = [c["name"] for c in case["conductors"]]
    matrix, unknowns = energy_matrix(mesh, level["p"], names, ["wall"], weight)
    # Lengths of an axisymmetric case are millimetres, so its capacitances are in 1e-3 m times eps0.
    matrix *= VACUUM_PERMITTIVITY * (1e-3 if revolved else 1.0)
    content = Integrate(CoefficientFunction(2.0 * math.pi * first_axis if revolved else 1.0), mesh, order=8)
    return matrix, {"p": level["p"], "layers": level["layers"], "mesh_factor": level["mesh"],
                    "ndof": unknowns, "ne": mesh.ne}, content


def expected_content(case):
    """Volume (or area) that carries a field, from the shapes alone; used to check the mesh."""
    revolved = case["kind"] == "axisym"
    measure = lambda r: (
        math.pi * (r[1] ** 2 - r[0] ** 2) * (r[3] - r[2]) if revolved else (r[1] - r[0]) * (r[3] - r[2])
    )
    total = measure(case["box"])
    arrangement = Arrangement(case)
    total -= sum(measure(rect) for _, rect in arrangement.rects)
    for body in arrangement.bodies:
        shoulder = barrel_start(body)
        rise = shoulder - body["bottom"]
        total -= math.pi * (body["contact_radius"] ** 2 * rise + body["dome_radius"] * rise**2)
        total -= math.pi * body["dome_radius"] ** 2 * (body["top"] - shoulder)
    return total


# --- volumes: hexahedra on a tensor grid, geometric layers at conductor edges and planes ------------

# Orders on one mesh, then a lower order on a second mesh with more layers.
VOLUME_LEVELS = {
    "hatch": [
        {"p": 3, "layers": 6, "ratio": 0.2},
        {"p": 4, "layers": 6, "ratio": 0.2},
        {"p": 5, "layers": 6, "ratio": 0.2},
        {"p": 4, "layers": 8, "ratio": 0.2},
    ],
    "board": [
        {"p": 3, "layers": 3, "ratio": 0.15},
        {"p": 4, "layers": 3, "ratio": 0.15},
        {"p": 3, "layers": 4, "ratio": 0.15},
    ],
}


def graded_axis(stops, ratio, growth=2.5):
    """Coordinates through `stops` [(place, scale, layers)], cells in front of and behind each place
    end at scale x ratio^k, k < layers, and grow from the scale outwards by `growth`.

    Scale 0 marks a place without layers of its own.
    """
    result = [stops[0][0]]
    for (low, low_scale, low_layers), (high, high_scale, high_layers) in zip(stops, stops[1:]):
        width = high - low
        share = 0.5 * width if low_scale and high_scale else width

        def distances(scale, layers):
            reach = min(scale, share)
            found = [reach * ratio**k for k in range(layers)]
            while reach < share / 2.01:
                reach = min(reach * growth, share)
                found.append(reach)
            return found

        marks = [high]
        if low_scale:
            marks += [low + d for d in distances(low_scale, low_layers)]
        if high_scale:
            marks += [high - d for d in distances(high_scale, high_layers)]
        for mark in sorted(marks):
            if mark - result[-1] > 1e-9 * width and (mark == high or high - mark > 1e-9 * width):
                result.append(mark)
    return result


def tensor_mesh(axes, conductors, material, walls):
    """Hexahedra between the coordinates of `axes`; conductor sheets become surface elements.

    `conductors` are (name, box) with z0 == z1; `walls` says which outer faces are named "wall".
    """
    mesh = netgen_mesh.Mesh(dim=3)
    counts = [len(a) for a in axes]
    ids = numpy.empty(counts, dtype=object)
    for i, px in enumerate(axes[0]):
        for j, py in enumerate(axes[1]):
            for k, pz in enumerate(axes[2]):
                ids[i, j, k] = mesh.Add(netgen_mesh.MeshPoint(netgen_mesh.Pnt(px, py, pz)))
    middles = [[0.5 * (a + b) for a, b in zip(axis, axis[1:])] for axis in axes]
    names = []
    for i, px in enumerate(middles[0]):
        for j, py in enumerate(middles[1]):
            for k, pz in enumerate(middles[2]):
                name = material((px, py, pz))
                if name not in names:
                    names.append(name)
                corner = [ids[i + a, j + b, k] for a, b in ((0, 0), (1, 0), (1, 1), (0, 1))]
                corner += [ids[i + a, j + b, k + 1] for a, b in ((0, 0), (1, 0), (1, 1), (0, 1))]
                mesh.Add(netgen_mesh.Element3D(names.index(name) + 1, corner))
    for index, name in enumerate(names):
        mesh.SetMaterial(index + 1, name)
    surfaces = {}

    def surface(name):
        if name not in surfaces:
            number = len(surfaces) + 1
            surfaces[name] = number
            mesh.Add(netgen_mesh.FaceDescriptor(surfnr=number, domin=1, domout=0, bc=number))
            mesh.SetBCName(number - 1, name)
        return surfaces[name]

    def quad(axis, place, i, j):
        other = [d for d in range(3) if d != axis]
        found = []
        for a, b in ((0, 0), (1, 0), (1, 1), (0, 1)):
            at = [0, 0, 0]
            at[axis], at[other[0]], at[other[1]] = place, i + a, j + b
            found.append(ids[tuple(at)])
        return found

    for axis in range(3):
        other = [d for d in range(3) if d != axis]
        for side, place in ((0, 0), (1, counts[axis] - 1)):
            name = "wall" if walls[axis][side] else "mirror"
            for i in range(counts[other[0]] - 1):
                for j in range(counts[other[1]] - 1):
                    mesh.Add(netgen_mesh.Element2D(surface(name), quad(axis, place, i, j)))
    for name, box in conductors:
        k = axes[2].index(box[4])
        for i, px in enumerate(middles[0]):
            for j, py in enumerate(middles[1]):
                if box[0] < px < box[1] and box[2] < py < box[3]:
                    mesh.Add(netgen_mesh.Element2D(surface(name), quad(2, k, i, j)))
    return Mesh(mesh)


def hatch_solve(case, level):
    """Quarter cell between the plates, both halves in one by their mirror symmetry.

    Plates at the same voltage are solved in the upper half, the hatch in its mirror plane. Plates at
    opposite voltages leave the hatch without charge: exactly two plates 3 mm from a solid sheet.
    The field-free space beyond the plates is left out.
    """
    line = case["conductors"][0]["boxes"][0][1]
    layers, ratio = level["layers"], level["ratio"]
    scale = min(line, 1.0 - line)
    across = graded_axis([(0.0, 0, 0), (line, scale, layers), (1.0, 0, 0)], ratio)
    up = graded_axis([(0.0, scale, layers), (3.0, 0, 0)], ratio)
    sheets = [(c["name"], box) for c in case["conductors"][:2] for box in c["boxes"]]
    mesh = tensor_mesh([across, across, up], sheets, lambda _: "air", [[False] * 2] * 3)
    half, unknowns = energy_matrix(mesh, level["p"], ["hatch", "top"], [], CoefficientFunction(1.0))
    same, opposite = half[1, 1], 1.0 / 3.0
    own, across_hatch = 0.5 * (same + opposite), 0.5 * (same - opposite)
    matrix = numpy.array(
        [[2.0 * same, -same, -same], [-same, own, across_hatch], [-same, across_hatch, own]]
    )
    return matrix * VACUUM_PERMITTIVITY * 1e-3, {**level, "ndof": unknowns, "ne": mesh.ne}


def board_solve(case, level):
    """Pad over a crossing trace: one quarter, mirror planes x = 0 and y = 0."""
    layers, ratio = level["layers"], level["ratio"]
    box = case["box"]
    growth = 5.0
    # The far end of the trace hardly matters: one cell in front of and behind it.
    along = graded_axis(
        [(0.0, 0, 0), (7.0, 2.0, layers), (15.0, 1.0, 1), (box[1], 0, 0)], ratio, growth
    )
    # Board ends in y touch no conductor: their fields are weak and nearly smooth.
    across = graded_axis(
        [(0.0, 0, 0), (0.1, 0.1, layers - 1), (7.0, 2.0, layers), (15.0, 6.0, 1), (box[3], 0, 0)],
        ratio,
        growth,
    )
    up = graded_axis(
        [(box[4], 0, 0), (-1.6, 0.8, layers), (0.0, 0.8, layers), (3.0, 1.5, 1), (box[5], 0, 0)],
        ratio,
        growth,
    )
    sheets = [
        (c["name"], [max(b[0], 0.0), b[1], max(b[2], 0.0), b[3], b[4], b[5]])
        for c in case["conductors"]
        for b in c["boxes"]
    ]

    def material(point):
        found = "background"
        for dielectric in case["dielectrics"]:
            extent = dielectric["box"]
            if all(extent[2 * d] < point[d] < extent[2 * d + 1] for d in range(3)):
                found = dielectric["name"]
        return found

    walls = [[False, True], [False, True], [True, True]]
    mesh = tensor_mesh([along, across, up], sheets, material, walls)
    values = {"background": 1.0} | {d["name"]: d["eps_r"] for d in case["dielectrics"]}
    names = [c["name"] for c in case["conductors"]]
    matrix, unknowns = energy_matrix(mesh, level["p"], names, ["wall"], mesh.MaterialCF(values))
    return 4.0 * matrix * VACUUM_PERMITTIVITY * 1e-3, {**level, "ndof": unknowns, "ne": mesh.ne}


# --- results --------------------------------------------------------------------------------------


def significant(value, digits):
    return float(f"{value:.{digits}g}")


def table(matrix, digits):
    return [[significant(v, digits) for v in row] for row in matrix]


def solve(case):
    """Adds `result` to a record; returns the matrices of all levels."""
    begun = time.time()
    if case["kind"] == "3d":
        family = "board" if case["id"] == "F17" else "hatch"
        solver = board_solve if family == "board" else hatch_solve
        plan = VOLUME_LEVELS[family]
    else:
        solver, plan = plane_solve, PLANE_LEVELS
    matrices, levels = [], []
    for level in plan:
        solved = solver(case, level)
        matrices.append(solved[0])
        levels.append(solved[1])
        print(f"  {case['id']} {solved[1]} {time.time() - begun:.1f} s", flush=True)
        if len(solved) > 2:
            off = abs(solved[2] / expected_content(case) - 1.0)
            assert off < 1e-9, f"{case['id']}: the mesh misses {off:.1e} of the space"
    if case["kind"] == "3d":
        # Last step of the order, plus what more layers change.
        finest, before = matrices[-2], matrices[-3]
        same_order = next(m for m, l in zip(matrices, plan) if l["p"] == plan[-1]["p"])
        spread = abs(finest - before) + abs(matrices[-1] - same_order)
    else:
        finest, before = matrices[-1], matrices[-2]
        spread = abs(finest - before)
    diagonal = numpy.diag(finest)
    floor = ROUNDING_FLOOR * abs(finest) + ENERGY_FLOOR * numpy.sqrt(numpy.outer(diagonal, diagonal))
    uncertainty = numpy.maximum(spread, floor)
    case["result"] = {
        "unit": "pF/m" if case["kind"] == "planar" else "pF",
        "order": [c["name"] for c in case["conductors"]],
        "C": table(finest, 9),
        "uncertainty": table(uncertainty, 2),
        "how": {
            "method": "hp finite elements (triangles, geometric layers at every geometric vertex off the "
            "walls, shoulder by conics), energy product"
            if case["kind"] != "3d"
            else "hp finite elements (hexahedra on a tensor grid, geometric layers at conductor edges and "
            "planes), energy product"
            + ("; mirror symmetry used: xy" if case["id"] == "F17" else "; mirror symmetry used: z"),
            "levels": levels,
            "value": "last level but one; the last tells what more layers change"
            if case["kind"] == "3d"
            else "last level",
            "last_two_levels_max_rel_diag": significant(
                numpy.max(abs(numpy.diag(finest - before)) / diagonal), 2
            ),
            "seconds": round(time.time() - begun, 1),
        },
    }
    return matrices


def shift_between(touched, untouched, levels_touched, levels_untouched):
    """Difference of the matrices over the rows both records have."""
    rows = [n for n in untouched["result"]["order"] if n in touched["result"]["order"]]
    place = lambda case, name: case["result"]["order"].index(name)
    entries = {}
    for i, first in enumerate(rows):
        for second in rows[i:]:
            pick = lambda case, matrix: matrix[place(case, first)][place(case, second)]
            deltas = [
                pick(touched, a) - pick(untouched, b)
                for a, b in zip(levels_touched[-2:], levels_untouched[-2:])
            ]
            floor = ROUNDING_FLOOR * abs(pick(touched, levels_touched[-1]))
            entries[f"{first},{second}"] = {
                "delta": significant(deltas[1], 8),
                "uncertainty": significant(max(abs(deltas[1] - deltas[0]), floor), 2),
            }
    return entries


HEAD = {
    "note": "Converged Maxwell capacitance matrices of layout features (water, bezel, holes, shield, slots, "
    "traces, hatch) from independent hp finite elements (general-purpose libraries), with uncertainty "
    "per entry; invented geometry, test data. Made by features.py.",
    "units": "geometry in mm; planar pF/m, axisymmetric and 3-D pF; eps0 = 8.8541878128e-12 F/m",
    "conventions": "As in shared.json. Body of revolution: note.round_bodies of a record, see its meaning "
    "there. touch_shifts: touched minus the record without the finger (for F02 without finger and drop); "
    "wet_touch_shifts: finger on the drop minus the drop alone. Records ending in C have a flat-ended "
    "cylinder for a finger and need no note.",
    "versions": "ngsolve 6.2.2608, netgen-mesher 6.2.2608",
}


def generate(wanted):
    records = [*with_cylinders(axisymmetric_records()), *planar_records(), *volume_records()]
    order = [case["id"] for case in records]
    old = json.loads(OUTPUT.read_text()) if OUTPUT.exists() and wanted else {}
    done = {case["id"]: case for case in old.get("cases", [])}
    kinds = ("touch_shifts", "wet_touch_shifts")
    pairs = {(p["touched"], p["untouched"]): p for kind in kinds for p in old.get(kind, [])}
    levels = {}
    for case in records:
        if wanted and case["id"] not in wanted:
            continue
        levels[case["id"]] = solve(case)
        done[case["id"]] = case
        for touched, untouched, _ in PAIRS:
            if touched in levels and untouched in levels:
                pairs[touched, untouched] = {
                    "touched": touched,
                    "untouched": untouched,
                    "unit": done[touched]["result"]["unit"],
                    "how": "difference of the matrices, level by level",
                    "shift": shift_between(
                        done[touched], done[untouched], levels[touched], levels[untouched]
                    ),
                }
        file = dict(HEAD)
        file["cases"] = [done[name] for name in order if name in done]
        for kind in kinds:
            file[kind] = [pairs[t, u] for t, u, k in PAIRS if k == kind and (t, u) in pairs]
        OUTPUT.write_text(json.dumps(file, indent=1) + "\n")
        print(f"{case['id']}: {case['result']['C']} +- {case['result']['uncertainty']}", flush=True)


def check():
    """The method against values from outside: closed and semi-analytic solutions."""
    # Two discs in a closed can (radius 25), layers (4.4, 1.6) (3.0, 3.0) (1, 15.4): catalogue D2,
    # dual integral equations after Sneddon, in length units of C/eps0 with lengths in mm.
    can = record(
        "can", "axisym", "", [0.0, 25.0, 0.0, 20.0],
        [("board", 4.4, [0.0, 25.0, 0.0, 1.6]), ("overlay", 3.0, [0.0, 25.0, 1.6, 4.6])],
        [("pad", [[0.0, 7.0, 1.6, 1.6]]), ("disc", [[0.0, 5.0, 4.6, 4.6]])],
    )
    # Strip at half height of a box 2 x 1 filled with air: catalogue A1.1, closed form.
    strip = record(
        "strip", "planar", "", [0.0, 2.0, 0.0, 1.0], [], [("strip", [[0.5, 1.5, 0.5, 0.5]])]
    )
    wanted = {
        "can": [[702.49162339, -110.06046305], [-110.06046305, 150.76661446]],
        "strip": [[5.8768721265]],
    }
    for case in (can, strip):
        for level in PLANE_LEVELS:
            matrix, about, _ = plane_solve(case, level)
            scale = VACUUM_PERMITTIVITY * (1e-3 if case["kind"] == "axisym" else 1.0)
            error = abs(matrix / scale / numpy.array(wanted[case["id"]]) - 1.0).max()
            print(f"{case['id']} {about}: worst relative error {error:.1e}")
            assert error < 1e-6


if __name__ == "__main__":
    if sys.argv[1:] == ["check"]:
        check()
    else:
        generate(sys.argv[1:])
