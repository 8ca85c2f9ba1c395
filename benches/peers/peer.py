#!/usr/bin/env python3
"""Solve an exported model with general-purpose libraries, in one fresh process; print one JSON object.

usage: peer.py FILE.vtu pardiso|cholmod|amg

Timed is what the project's own run times: from arrays in memory to the compliance of six loads: assembly with
scikit-fem (isoparametric quadratic tetrahedra), a factor or a set-up, six solves. Reading the file and importing the
libraries is left out.
"""

import json
import sys
import time
from pathlib import Path

import meshio
import numpy as np
import scipy.sparse as sp
from skfem import Basis, BilinearForm, ElementTetP2, ElementVector, MeshTet, MeshTet2
from skfem.element import DiscreteField
from skfem.helpers import ddot, div, sym_grad

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tests" / "recompute"))
from exported import EDGES, LOADS, field_data

TOLERANCE = 1e-8


def read(path):
    """Arrays of a file: node positions, cells, Lamé constants of each cell, held nodes, forces (node, axis, load)."""
    grid, data = meshio.read(path), field_data(path)
    assert bytes(data["formulation"]).decode() == "displacement", "the peers know the plain element only"
    assert int(data["quadrature_points"][0]) == 4
    cells = np.vstack([block.data for block in grid.cells if block.type == "tetra10"])
    region = np.concatenate([r for b, r in zip(grid.cells, grid.cell_data["region"]) if b.type == "tetra10"])
    region = np.asarray(region).astype(int).ravel()
    modulus, poisson = data["modulus_mpa"][region], data["poisson_ratio"][region]
    lam, mu = modulus * poisson / ((1 + poisson) * (1 - 2 * poisson)), modulus / (2 * (1 + poisson))
    held = np.asarray(grid.point_data["fixed"]).ravel() > 0
    forces = np.stack([np.asarray(grid.point_data[f"unit_force_{load}"], float) for load in LOADS], 2)
    return np.asarray(grid.points, float), cells, lam, mu, held, forces


@BilinearForm
def elastic(u, v, w):
    return w.lam * div(u) * div(v) + 2.0 * w.mu * ddot(sym_grad(u), sym_grad(v))


def assemble(points, cells, lam, mu):
    """Stiffness of all unknowns, and the unknown of each node and axis."""
    corners, renumbered = np.unique(cells[:, :4], return_inverse=True)
    local = renumbered.reshape(-1, 4)
    curved = MeshTet2.from_mesh(MeshTet(points[corners].T, local.T))
    count = len(corners)
    key = lambda i, j: np.minimum(i, j).astype(np.int64) * count + np.maximum(i, j)
    edges = key(*curved.edges)
    order = np.argsort(edges)
    middle = np.empty(len(edges), int)
    for k, (i, j) in enumerate(EDGES):
        middle[order[np.searchsorted(edges[order], key(local[:, i], local[:, j]))]] = cells[:, 4 + k]
    curved.doflocs[:, :count] = points[corners].T
    curved.doflocs[:, count:] = points[middle].T
    basis = Basis(curved, ElementVector(ElementTetP2()), intorder=2)
    assert len(basis.W) == 4
    per_cell = lambda values: DiscreteField(np.repeat(values[:, None], len(basis.W), axis=1))
    k = elastic.assemble(basis, lam=per_cell(lam), mu=per_cell(mu))
    unknown = np.empty((len(points), 3), int)
    for axis in range(3):
        unknown[corners, axis] = basis.nodal_dofs[axis]
        unknown[middle, axis] = basis.edge_dofs[axis]
    return k, unknown


def pardiso(k, positions):
    import pypardiso

    solver, upper = pypardiso.PyPardisoSolver(mtype=2), sp.triu(k, format="csr")
    solver.factorize(upper)
    return lambda right: (solver.solve(upper, right), 0)


def cholmod(k, positions):
    from sksparse.cholmod import cholesky

    factor = cholesky(k.tocsc(), ordering_method="metis", mode="supernodal")
    return lambda right: (factor(right), 0)


def amg(k, positions):
    """Smoothed aggregation with the rigid modes of the free nodes, drop tolerance 0.05, energy-minimised prolongation
    and block Gauss-Seidel; conjugate gradients, one load after the other."""
    import pyamg

    x = positions - positions.mean(0)
    zero, one = np.zeros(len(x)), np.ones(len(x))
    modes = np.stack(
        [
            np.stack([one, zero, zero], 1),
            np.stack([zero, one, zero], 1),
            np.stack([zero, zero, one], 1),
            np.stack([zero, -x[:, 2], x[:, 1]], 1),
            np.stack([x[:, 2], zero, -x[:, 0]], 1),
            np.stack([-x[:, 1], x[:, 0], zero], 1),
        ],
        2,
    ).reshape(-1, 6)
    smoother = ("block_gauss_seidel", {"sweep": "symmetric", "iterations": 1})
    levels = pyamg.smoothed_aggregation_solver(
        k.tobsr((3, 3)),
        B=modes,
        strength=("symmetric", {"theta": 0.05}),
        smooth=("energy", {"krylov": "cg", "maxiter": 4, "degree": 1}),
        presmoother=smoother,
        postsmoother=smoother,
        max_coarse=500,
    )

    def solve(right):
        columns, most = [], 0
        for column in right.T:
            residuals = []
            columns.append(levels.solve(column, tol=TOLERANCE, maxiter=300, accel="cg", residuals=residuals))
            most = max(most, len(residuals) - 1)
        return np.stack(columns, 1), most

    return solve


def peak_mb():
    for line in open("/proc/self/status"):
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1024
    return 0.0


def main():
    path, method = sys.argv[1:]
    set_up = {"pardiso": pardiso, "cholmod": cholmod, "amg": amg}[method]
    # Libraries that are imported late would count as work.
    __import__({"pardiso": "pypardiso", "cholmod": "sksparse.cholmod", "amg": "pyamg"}[method])
    points, cells, lam, mu, held, forces = read(path)
    wall, cpu = time.perf_counter, time.process_time
    start, cpu_start = wall(), cpu()
    k, unknown = assemble(points, cells, lam, mu)
    free = unknown[~held].ravel()
    k = k.tocsr()[free][:, free]
    right = np.ascontiguousarray(forces[~held].reshape(-1, 6))
    assembled = wall()
    solve = set_up(k, points[~held])
    ready = wall()
    u, iterations = solve(right)
    compliance = right.T @ u
    end, cpu_end = wall(), cpu()
    residual = max(np.linalg.norm(right - k @ u, axis=0) / np.linalg.norm(right, axis=0))
    print(
        json.dumps(
            {
                "wall_s": end - start,
                "cpu_s": cpu_end - cpu_start,
                "peak_mb": peak_mb(),
                "assembly_s": assembled - start,
                "set_up_s": ready - assembled,
                "loads_s": end - ready,
                "unknowns": len(free),
                "elements": len(cells),
                "iterations": iterations,
                "residual": residual,
                "compliance": compliance.tolist(),
            }
        )
    )


if __name__ == "__main__":
    main()
