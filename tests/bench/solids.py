"""Volume between two surfaces of a million facets each, beside a general-purpose solid library.

Run by hand, with the program built first:

    cargo build --release
    python3 tests/bench/solids.py [POINTS_A_SIDE]

It makes two wavy surfaces over the same square (about 500,000 points each), writes them as points
files, and takes cut and fill twice in one run on the same machine: with `cutbank volume` on two
threads, and as the two differences of the closed solids with the `manifold3d` package (put by pip
into a folder of its own, which goes afterwards). It prints both times, both volumes and how far
they differ. Without pip or the package it says so and stops.
"""

import json
import math
import os
import subprocess
import sys
import tempfile
import time
import venv
from pathlib import Path

PACKAGES = ["manifold3d", "numpy"]
PROGRAM = Path(__file__).resolve().parents[2] / "target" / "release" / "cutbank"
# Metres; everything lies above it.
BASE_Z = -20.0


def main():
    if "--inside" in sys.argv:
        return compare(int(sys.argv[sys.argv.index("--inside") + 1]))
    side = int(sys.argv[1]) if len(sys.argv) > 1 else 660
    if not PROGRAM.exists():
        sys.exit(f"not run: build the program first, {PROGRAM} is not there")
    with tempfile.TemporaryDirectory() as folder:
        try:
            venv.create(folder, with_pip=True)
            python = str(Path(folder) / "bin" / "python")
            install = [python, "-m", "pip", "install", "--quiet", "--only-binary=:all:", *PACKAGES]
            subprocess.run(install, check=True)
        except (subprocess.CalledProcessError, OSError) as error:
            sys.exit(f"not run: pip could not install {' and '.join(PACKAGES)} here ({error})")
        sys.exit(subprocess.run([python, __file__, "--inside", str(side)]).returncode)


def lattice(side, turned, z):
    """Points in rows set off by half a step, and their Delaunay triangles.

    Every triangle is acute, so there is only one Delaunay triangulation, and the program finds the
    same triangles from the points alone.
    """
    import numpy as np

    step = 0.5
    width = step * (side - 1)
    rows = 2 * round(width / (step * math.sqrt(3) / 2) / 2) + 1
    points, starts, lengths = [], [], []
    for row in range(rows):
        along = np.arange(side) * step
        if row % 2:
            # The ends lie on the outline, the others halfway.
            along = (np.arange(side - 1) + 0.5) * step
        starts.append(sum(lengths))
        lengths.append(len(along))
        across = np.full(len(along), width * row / (rows - 1))
        points.append(np.stack([across, along] if turned else [along, across], axis=1))
    plan = np.round(np.concatenate(points), 3)
    triangles = []
    for row in range(rows - 1):
        a, b = (row, row + 1) if row % 2 == 0 else (row + 1, row)
        # `a` is the long row, `b` the one set off by half a step.
        long, short = starts[a] + np.arange(side), starts[b] + np.arange(side - 1)
        triangles.append(np.stack([long[:-1], long[1:], short], axis=1))
        triangles.append(np.stack([long[1:-1], short[1:], short[:-1]], axis=1))
    # The notches at both ends of the short rows.
    for row in range(1, rows - 1, 2):
        for end, short in [(0, 0), (side - 1, side - 2)]:
            triangles.append(
                np.array([[starts[row - 1] + end, starts[row + 1] + end, starts[row] + short]])
            )
    triangles = np.concatenate(triangles)
    height = np.round(z(plan[:, 0], plan[:, 1]), 4)
    a, b, c = (plan[triangles[:, k]] for k in range(3))
    (ux, uy), (vx, vy) = (b - a).T, (c - a).T
    clockwise = ux * vy - uy * vx < 0
    triangles[clockwise] = triangles[clockwise][:, ::-1]
    return np.column_stack([plan, height]), triangles, width


def closed(points, triangles, width):
    """The solid between a surface over a square and a level under it."""
    import numpy as np

    base = len(points)
    corners = [(0, 0), (width, 0), (width, width), (0, width)]
    vertices = np.concatenate([points, [[x, y, BASE_Z] for x, y in corners]])
    sides = []
    for k, axis in enumerate([0, 1, 0, 1]):
        near = [0.0, width, width, 0.0][k]
        on_side = np.flatnonzero(np.isclose(points[:, 1 - axis], near, rtol=0, atol=1e-9))
        order = on_side[np.argsort(points[on_side, axis])]
        order = order if k < 2 else order[::-1]
        low, next_low = base + k, base + (k + 1) % 4
        fan = np.stack([np.full(len(order) - 1, low), order[1:], order[:-1]], axis=1)
        sides += [fan, np.array([[low, next_low, order[-1]]])]
    bottom = np.array([[base, base + 2, base + 1], [base, base + 3, base + 2]])
    return vertices, np.concatenate([triangles, *sides, bottom])


def write(path, points):
    rows = (f"{i},{x:.3f},{y:.3f},{z:.4f},g\n" for i, (x, y, z) in enumerate(points, 1))
    path.write_text("name,x,y,z,code\n" + "".join(rows))


def compare(side):
    import numpy as np
    import manifold3d

    first = lattice(side, False, lambda x, y: np.sin(x / 7) * np.cos(y / 9) + 0.01 * x)
    second = lattice(side, True, lambda x, y: np.sin(x / 8 + 1) * np.cos(y / 6) + 0.01 * y)
    print(f"surfaces of {len(first[1])} and {len(second[1])} facets, {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as folder:
        files = [Path(folder) / name for name in ("a.csv", "b.csv")]
        for path, (points, _, _) in zip(files, (first, second)):
            write(path, points)
        answer = subprocess.run(
            [PROGRAM, "volume", *files, "--units", "m", "--format", "json"],
            env={**os.environ, "RAYON_NUM_THREADS": "2"},
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
    if answer.returncode != 0:
        sys.exit("not run: cutbank volume failed on these surfaces")
    ours = json.loads(answer.stdout)
    seconds = ours["stages_s"]["volume"]
    print(f"cutbank volume, two threads: {seconds:.2f} s for cut and fill")
    print("  all stages: " + ", ".join(f"{k} {v:.2f} s" for k, v in ours["stages_s"].items()))
    start = time.perf_counter()
    solids = []
    for surface in (first, second):
        vertices, triangles = closed(*surface)
        mesh = manifold3d.Mesh64(vertices, triangles.astype(np.uint64))
        solids.append(manifold3d.Manifold(mesh))
        if solids[-1].status() != manifold3d.Error.NoError or solids[-1].is_empty():
            sys.exit(f"not run: the solid library does not take the solid: {solids[-1].status()}")
    print(f"solid library: {time.perf_counter() - start:.2f} s to take both solids")
    start = time.perf_counter()
    cut = (solids[0] - solids[1]).volume()
    fill = (solids[1] - solids[0]).volume()
    theirs = time.perf_counter() - start
    print(f"  {theirs:.2f} s for the two differences, {theirs / seconds:.1f} times as long")
    for word, a, b in [("cut", ours["cut_m3"], cut), ("fill", ours["fill_m3"], fill)]:
        print(f"{word}: {a:.6f} m3 and {b:.6f} m3, relative difference {abs(a - b) / abs(a):.1e}")


if __name__ == "__main__":
    main()
