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
