#!/usr/bin/env python3
"""Solve exported models again with general-purpose libraries and compare the six displacement fields.

usage: recompute.py FILE.vtu [FILE.vtu ...] [--tolerance 1e-6]

A file holds everything that the system depends on: ten-node tetrahedra with their curved sides, the region of each
element, moduli and Poisson ratios, the quadrature rule, the held nodes and the nodal forces of six unit loads. It is
read with meshio, rebuilt with scikit-fem (isoparametric quadratic tetrahedra, vector-valued) and solved with PARDISO
or, where that is not to be had, SciPy. Of this project's code nothing takes part. Exit code 1 if a field differs by
more than the tolerance, relative to its largest displacement.
"""

import argparse
import sys
import time

import meshio
import numpy as np
import scipy.sparse as sp
from skfem import Basis, BilinearForm, ElementTetP0, ElementTetP2, ElementVector, Functional, MeshTet, MeshTet2
from skfem.element import DiscreteField
from exported import EDGES, LOADS, field_data
from skfem.helpers import ddot, div, sym_grad

LIGAMENT = 1


def rule(points):
    """Points (3, n) and weights on the reference tetrahedron, from their barycentric coordinates."""
    if points == 4:  # Hammer, Marlowe and Stroud 1956
        a, b = (5 + 3 * 5**0.5) / 20, (5 - 5**0.5) / 20
        lists = [(1 / 24, corner(a, b))]
    elif points == 11:  # Keast 1986
        s = (5 / 14) ** 0.5
        lists = [
            (-74 / 5625, [[0.25] * 4]),
            (343 / 45000, corner(11 / 14, 1 / 14)),
            (56 / 2250, edge((1 + s) / 4, (1 - s) / 4)),
        ]
    elif points == 15:  # Keast 1986
        lists = [
            (0.030283678097089, [[0.25] * 4]),
            (0.006026785714286, corner(0.0, 1 / 3)),
            (0.011645249086029, corner(8 / 11, 1 / 11)),
            (0.010949141561386, edge(0.066550153573664, 0.433449846426336)),
        ]
    else:
        raise SystemExit(f"no rule of {points} points")
    places = np.array([l for _, part in lists for l in part])
    weights = np.concatenate([np.full(len(part), weight) for weight, part in lists])
    return places[:, 1:].T.copy(), weights


def corner(odd, other):
    return [[odd if i == k else other for i in range(4)] for k in range(4)]


def edge(a, b):
    return [[a if i in (j, k) else b for i in range(4)] for j in range(4) for k in range(j + 1, 4)]


@BilinearForm
def elastic(u, v, w):
    return w.lam * div(u) * div(v) + 2.0 * w.mu * ddot(sym_grad(u), sym_grad(v))


class Model:
    """The mesh of a file as scikit-fem sees it."""

    def __init__(self, path):
        grid = meshio.read(path)
        data = field_data(path)
        self.points = np.asarray(grid.points, float)
        self.cells = np.vstack([block.data for block in grid.cells if block.type == "tetra10"])
        region = np.concatenate([r for b, r in zip(grid.cells, grid.cell_data["region"]) if b.type == "tetra10"])
        self.region = region.astype(int).ravel()
        modulus, poisson = data["modulus_mpa"][self.region], data["poisson_ratio"][self.region]
        self.lam = modulus * poisson / ((1 + poisson) * (1 - 2 * poisson))
        self.mu = modulus / (2 * (1 + poisson))
        self.formulation = bytes(data["formulation"]).decode()
        self.fixed = np.asarray(grid.point_data["fixed"]).ravel() > 0
        stack = lambda name: np.stack([np.asarray(grid.point_data[f"{name}_{load}"], float) for load in LOADS], 2)
        self.forces, self.motions = stack("unit_force"), stack("unit_motion")

        corners, renumbered = np.unique(self.cells[:, :4], return_inverse=True)
        flat = MeshTet(self.points[corners].T, renumbered.reshape(-1, 4).T)
        curved = MeshTet2.from_mesh(flat)
        # Node of the file behind each vertex and each edge of scikit-fem.
        count = len(corners)
        key = lambda i, j: np.minimum(i, j).astype(np.int64) * count + np.maximum(i, j)
        edges = key(*flat.edges)
        order = np.argsort(edges)
        local = renumbered.reshape(-1, 4)
        middle = np.empty(flat.edges.shape[1], int)
        for k, (i, j) in enumerate(EDGES):
            middle[order[np.searchsorted(edges[order], key(local[:, i], local[:, j]))]] = self.cells[:, 4 + k]
        scalar = Basis(curved, ElementTetP2(), intorder=1)
        node_of = np.empty(scalar.N, int)
        node_of[scalar.nodal_dofs[0]] = corners
        node_of[scalar.edge_dofs[0]] = middle
        curved.doflocs[:] = self.points[node_of].T
        self.quadrature = rule(int(data["quadrature_points"][0]))
        self.basis = Basis(curved, ElementVector(ElementTetP2()), quadrature=self.quadrature)
        # Unknown of each node and axis.
        self.unknown = np.full((len(self.points), 3), -1)
        for axis in range(3):
            self.unknown[corners, axis] = self.basis.nodal_dofs[axis]
            self.unknown[middle, axis] = self.basis.edge_dofs[axis]

    def per_cell(self, values):
        """A value an element at the points of the rule."""
        return DiscreteField(np.repeat(values[:, None], len(self.quadrature[1]), axis=1))

    def stiffness(self):
        lam = self.lam.copy()
        projected = self.region == LIGAMENT if self.formulation == "projected_dilatation" else np.zeros(len(lam), bool)
        # Where the change of volume is projected, only the deviatoric part stays in the plain form.
        lam[projected] = -2 / 3 * self.mu[projected]
        k = elastic.assemble(self.basis, lam=self.per_cell(lam), mu=self.per_cell(self.mu))
        return k + self.projected(np.flatnonzero(projected)) if projected.any() else k

    def projected(self, cells):
        """Energy of the change of volume projected on linear functions over each prism of three elements."""
        prisms = cells.reshape(-1, 3)
        assert all(len(np.unique(self.cells[p][:, :4])) == 6 for p in prisms), "three elements make a prism"
        piece = Basis(self.basis.mesh, ElementTetP0(), quadrature=self.quadrature)
        centre = np.zeros((len(self.cells), 3))
        centre[prisms] = self.points[self.cells[prisms][:, :, :4]].mean((1, 2))[:, None]
        shift = [self.per_cell(centre[:, axis]) for axis in range(3)]
        functions = [lambda w: 1.0] + [lambda w, a=a: w.x[a] - w[f"c{a}"] for a in range(3)]
        arguments = {f"c{axis}": field for axis, field in enumerate(shift)}
        rows = np.repeat(np.arange(len(prisms)), 3)
        gather = sp.csr_matrix((np.ones(len(cells)), (rows, prisms.ravel())), shape=(len(prisms), len(self.cells)))
        moments, mass = [], np.empty((len(prisms), 4, 4))
        for i, phi in enumerate(functions):
            form = BilinearForm(lambda u, q, w, phi=phi: phi(w) * div(u) * q)
            moments.append(gather @ form.assemble(self.basis, piece, **arguments))
            for j, psi in enumerate(functions):
                product = Functional(lambda w, phi=phi, psi=psi: phi(w) * psi(w) + 0 * w.x[0])
                mass[:, i, j] = gather @ product.elemental(piece, **arguments)
        kappa = (self.lam + 2 / 3 * self.mu)[prisms[:, 0]]
        inverse = np.linalg.inv(mass) * kappa[:, None, None]
        blocks = [[sp.diags(inverse[:, i, j]) for j in range(4)] for i in range(4)]
        g = sp.vstack(moments).tocsr()
        return g.T @ sp.bmat(blocks).tocsr() @ g

    def solve(self):
        """Displacements (node, axis, load) of the six loads."""
        k = self.stiffness().tocsr()
        right = np.zeros((k.shape[0], 6))
        right[self.unknown.ravel()] = self.forces.reshape(-1, 6)
        free = np.sort(self.unknown[~self.fixed].ravel())
        k, right = k[free][:, free], right[free]
        solve, name = factor(k)
        u = solve(right)
        u += solve(right - k @ u)
        full = np.zeros((self.basis.N, 6))
        full[free] = u
        return full[self.unknown], name, len(free)


def factor(k):
    """A direct solver for a symmetric positive definite matrix."""
    try:
        import pypardiso
    except (ImportError, OSError):
        from scipy.sparse.linalg import splu

        lu = splu(k.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        return lu.solve, "SuperLU"
    solver, upper = pypardiso.PyPardisoSolver(mtype=2), sp.triu(k).tocsr()
    solver.factorize(upper)
    return lambda right: solver.solve(upper, right), "PARDISO"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("files", nargs="+")
    parser.add_argument("--tolerance", type=float, default=1e-6)
    arguments = parser.parse_args()
    worst = 0.0
    for path in arguments.files:
        start = time.perf_counter()
        model = Model(path)
        u, name, unknowns = model.solve()
        scale = abs(u).max((0, 1))
        differences = abs(u - model.motions).max((0, 1)) / scale
        worst = max(worst, differences.max())
        print(
            f"{path}: {len(model.cells)} elements, {unknowns} unknowns, {model.formulation}, {name}, "
            f"{time.perf_counter() - start:.1f} s, relative differences "
            + " ".join(f"{load} {d:.1e}" for load, d in zip(LOADS, differences)),
            flush=True,
        )
    if not worst < arguments.tolerance:
        sys.exit(f"the fields differ by {worst:.2e}, more than {arguments.tolerance:.0e}")
    print(f"largest relative difference {worst:.2e}, below {arguments.tolerance:.0e}")


if __name__ == "__main__":
    main()
