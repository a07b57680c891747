"""Writes tests/vectors/space.txt: geometry as shapely (GEOS) and scipy see it, against which src/stage is held.

    pip install shapely==2.2.0 scipy==1.17.1
    python3 tests/vectors/space.py > tests/vectors/space.txt

A line is a kind and numbers; what is expected stands behind the bar.
"""

import math
import random

import numpy
import shapely
from scipy import optimize
from shapely.geometry import LinearRing, LineString, Point, Polygon

random.seed(13)


def number(low, high):
    return round(random.uniform(low, high), 3)


def point(size=6):
    return (number(-size, size), number(-size, size))


def flat(points):
    return [value for one in points for value in one]


def line(kind, values, expected):
    words = [kind] + [f"{value:.3f}".rstrip("0").rstrip(".") for value in values]
    print(" ".join(words), "|", " ".join(f"{value:.9g}" for value in expected))


def star(corners, size):
    """A polygon round a middle: it does not cross itself."""
    middle = point()
    angles = sorted(random.uniform(0, 2 * math.pi) for _ in range(corners))
    at = [(middle[0] + random.uniform(0.3, 1) * size * math.cos(a), middle[1] + random.uniform(0.3, 1) * size * math.sin(a)) for a in angles]
    return [(round(x, 3), round(y, 3)) for x, y in at]


def sound(corners):
    ring = LinearRing(corners)
    return ring.is_simple and Polygon(corners).is_valid and Polygon(corners).area > 1e-3


print(f"# Written by tests/vectors/space.py with shapely {shapely.__version__} (GEOS {shapely.geos_version_string}).")

for _ in range(600):
    a, b, c, d = point(), point(), point(), point()
    line("segments", flat([a, b, c, d]), [LineString([a, b]).distance(LineString([c, d]))])

made = 0
while made < 600:
    corners = star(random.randint(3, 9), 4)
    if not sound(corners):
        continue
    made += 1
    at = point()
    polygon = Polygon(corners)
    line("point", [*at, *flat(corners)], [float(polygon.intersects(Point(at))), polygon.distance(Point(at)), polygon.exterior.distance(Point(at))])

made = 0
while made < 400:
    one, other = star(random.randint(3, 7), 3), star(random.randint(3, 7), 3)
    if not (sound(one) and sound(other)):
        continue
    made += 1
    line("outlines", [len(one), *flat(one), *flat(other)], [Polygon(one).distance(Polygon(other))])

for _ in range(500):
    corners = [point() for _ in range(random.randint(4, 7))]
    line("simple", flat(corners), [float(LinearRing(corners).is_simple)])

for _ in range(400):
    a, b, c, d = (numpy.array([number(-3, 3) for _ in range(3)]) for _ in range(4))

    def apart(parts):
        return float(((a + (b - a) * parts[0] - c - (d - c) * parts[1]) ** 2).sum())

    starts = [(s, t) for s in (0, 0.5, 1) for t in (0, 0.5, 1)]
    best = min(optimize.minimize(apart, start, bounds=[(0, 1), (0, 1)], options={"ftol": 1e-15, "gtol": 1e-12}).fun for start in starts)
    line("space", flat([a, b, c, d]), [math.sqrt(best)])

for _ in range(400):
    # Somebody along a circle, somebody straight, both for `long` seconds: the least distance.
    middle, first = point(3), point(3)
    turn, long = number(20, 340), number(1, 6)
    radius = max(0.2, math.dist(middle, first))
    bearing = math.degrees(math.atan2(first[0] - middle[0], first[1] - middle[1]))
    begin, end = point(4), point(4)

    def apart(part):
        angle = math.radians(bearing + turn * part)
        x, y = middle[0] + radius * math.sin(angle), middle[1] + radius * math.cos(angle)
        return math.hypot(x - begin[0] - (end[0] - begin[0]) * part, y - begin[1] - (end[1] - begin[1]) * part)

    if math.dist(middle, first) < 0.2:
        continue
    grid = numpy.linspace(0, 1, 2001)
    near = grid[min(range(len(grid)), key=lambda at: apart(grid[at]))]
    found = optimize.minimize_scalar(apart, bounds=(max(0, near - 0.001), min(1, near + 0.001)), method="bounded", options={"xatol": 1e-12})
    least = min(found.fun, apart(0), apart(1))
    line("round", [*middle, *first, turn, long, *begin, *end], [least])

for _ in range(400):
    # A part of a disc, finely drawn, and a point.
    middle, at = point(2), point(4)
    bearing, left, right, radius = number(0, 360), number(5, 179), number(5, 179), number(0.5, 3)
    angles = numpy.radians(numpy.linspace(bearing - left, bearing + right, 20001))
    rim = [(middle[0] + radius * math.sin(a), middle[1] + radius * math.cos(a)) for a in angles]
    line("swept", [*middle, bearing, left, right, radius, *at], [Polygon([middle, *rim]).buffer(0).distance(Point(at))])


def hidden_parts(eye, gap, high, screens):
    """The parts of a gap to which something stands in the way, by cutting the triangle of the lines of sight on the floor."""
    (ex, ey, eh), (g0, g1) = eye, gap
    parts = []
    for shape, low, top in screens:
        rise = high - eh
        ends = sorted(((low - eh) / rise, (top - eh) / rise))
        begin, end = max(0.0, ends[0]), min(1.0, ends[1])
        if end - begin <= 1e-9:
            continue
        at = lambda g, part: (ex + (g[0] - ex) * part, ey + (g[1] - ey) * part)
        lines = Polygon([at(g0, begin), at(g1, begin), at(g1, end), at(g0, end)] if begin > 0 else [(ex, ey), at(g1, end), at(g0, end)])
        cut = lines.intersection(shape)
        for piece in getattr(cut, "geoms", [cut]):
            if piece.geom_type != "Polygon" or piece.area < 1e-12:
                continue
            found = []
            for x, y in piece.exterior.coords:
                way, to = (g1[0] - g0[0], g1[1] - g0[1]), (x - ex, y - ey)
                across = way[0] * to[1] - way[1] * to[0]
                if math.hypot(*to) > 1e-9:
                    found.append(-((g0[0] - ex) * to[1] - (g0[1] - ey) * to[0]) / across)
            parts.append((max(0.0, min(found)), min(1.0, max(found))))
    return parts


def open_part(parts):
    left, upto = 0.0, 0.0
    for begin, end in sorted(parts):
        left += max(0.0, begin - upto)
        upto = max(upto, end)
    return left + max(0.0, 1.0 - upto)


made = half = 0
while made < 1200:
    # A gap of 5 to 60 cm, an eye, up to three bodies and sometimes a piece of the set between them.
    body = point(2)
    angle, long = number(0, 2 * math.pi), number(0.05, 0.6)
    blade = (round(body[0] + long * math.cos(angle), 3), round(body[1] + long * math.sin(angle), 3))
    high, eye = number(0.1, 1.9), (number(-6, 6), number(-9, -3), number(-0.5, 3))
    if abs(high - eye[2]) < 0.01 or Polygon([eye[:2], body, blade]).area < 0.01:
        continue
    middle = ((body[0] + blade[0]) / 2, (body[1] + blade[1]) / 2)
    bodies = []
    for _ in range(random.randint(1, 3)):
        part = random.uniform(0.3, 0.99)
        x, y = (eye[0] + (middle[0] - eye[0]) * part, eye[1] + (middle[1] - eye[1]) * part)
        bodies.append((round(x + number(-0.5, 0.5), 3), round(y + number(-0.3, 0.3), 3), number(0.15, 0.35), number(0, 0.4), number(0.5, 2)))
    piece, height = [], 0
    if random.random() < 0.4:
        piece, height = star(random.randint(3, 6), 1.5), number(0.3, 3)
        piece = [(round(x / 3 + (eye[0] + middle[0]) / 2, 3), round(y / 3 + (eye[1] + middle[1]) / 2, 3)) for x, y in piece]
        if not sound(piece):
            continue
    screens = [(Point(x, y).buffer(r, quad_segs=512), low, top) for x, y, r, low, top in bodies]
    if piece:
        screens.append((Polygon(piece), 0, height))
    left = open_part(hidden_parts(eye, (body, blade), high, screens))
    # A third of the cases is one of which a part is hidden.
    if not 1e-3 < left < 0.999 and made - half > 2 * half:
        continue
    half += 1e-3 < left < 0.999
    made += 1
    look = numpy.array([middle[0] - eye[0], middle[1] - eye[1], high - eye[2]])
    unit = numpy.array([blade[0] - body[0], blade[1] - body[1], 0]) / math.dist(body, blade)
    across = float(numpy.linalg.norm(numpy.cross(unit, look / numpy.linalg.norm(look))))
    line("sight", [*body, *blade, high, *eye, len(bodies), *flat(bodies), height, *flat(piece)], [left * math.dist(body, blade) * across])
