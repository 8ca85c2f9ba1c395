#!/usr/bin/env python3
"""Fill a closed surface with tetrahedra by a general-purpose mesher, in one fresh process; print one JSON object.

usage: mesher.py SURFACE.off delaunay|envelope ELEMENTS

ELEMENTS is about how many are wanted; the largest volume or edge follows from it.
"""

import json
import sys
import time

import numpy as np


def read_off(path):
    with open(path) as file:
        assert file.readline().strip() == "OFF"
        points, triangles, _ = (int(word) for word in file.readline().split())
        numbers = np.array(file.read().split(), float)
    x = numbers[: 3 * points].reshape(-1, 3)
    return x, numbers[3 * points :].reshape(triangles, 4)[:, 1:].astype(np.int32)


def volume(x, triangles):
    a, b, c = (x[triangles[:, k]] for k in range(3))
    return np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6


def delaunay(x, triangles, largest):
    """Constrained Delaunay with refinement (TetGen): radius to edge ratio 1.5, dihedral angles from 10 degrees."""
    import tetgen

    start, cpu = time.perf_counter(), time.process_time()
    made = tetgen.TetGen(x, triangles).tetrahedralize(
        plc=True, quality=True, minratio=1.5, mindihedral=10.0, fixedvolume=True, maxvolume=largest
    )
    return made[1], time.perf_counter() - start, time.process_time() - cpu


def envelope(x, triangles, largest):
    """Tetrahedra within an envelope of the surface (fTetWild)."""
    import pytetwild

    edge = (largest * 6 * 2**0.5) ** (1 / 3)
    start, cpu = time.perf_counter(), time.process_time()
    made = pytetwild.tetrahedralize(x, triangles, edge_length_abs=edge, num_threads=2, quiet=True)
    return made[1], time.perf_counter() - start, time.process_time() - cpu


def main():
    path, method, wanted = sys.argv[1], sys.argv[2], int(sys.argv[3])
    __import__({"delaunay": "tetgen", "envelope": "pytetwild"}[method])
    x, triangles = read_off(path)
    # The mean element of a refinement is about half the largest allowed.
    largest = 2 * abs(volume(x, triangles)) / wanted
    cells, wall, cpu = {"delaunay": delaunay, "envelope": envelope}[method](x, triangles, largest)
    print(json.dumps({"wall_s": wall, "cpu_s": cpu, "elements": len(cells)}))


if __name__ == "__main__":
    main()
