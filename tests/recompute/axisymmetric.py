#!/usr/bin/env python3
"""Reference values for bodies of revolution, independent of this project's solver.

Rigid inner face, held outer face, linear elastic layer between: stiffness against sideways travel, tilting, travel
along the axis and torsion, by quadratic quadrilaterals in the meridian plane and Fourier harmonics around the axis
(Wilson 1965, from memory), with scikit-fem. The tables in cli/src/verify/cases are the output of this script;
the annulus line repeats a closed form as a check on the script itself.

usage: axisymmetric.py            (needs numpy, scipy, scikit-fem)
"""

import numpy as np
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementQuad2, ElementVector, MeshQuad, MeshQuad2
from skfem.helpers import grad


@BilinearForm
def energy(u, v, w):
    """Strain energy density times r for the harmonic w.n; u = (U cos, V sin, W cos) of n times the angle."""
    r, n = w.x[0], w.n

    def strain(u):
        g = grad(u)
        return (
            g[0, 0],
            (u[0] + n * u[1]) / r,
            g[2, 1],
            g[0, 1] + g[2, 0],
            g[1, 0] - u[1] / r - n * u[0] / r,
            g[1, 1] - n * u[2] / r,
        )

    a, b = strain(u), strain(v)
    volume = (a[0] + a[1] + a[2]) * (b[0] + b[1] + b[2])
    normal = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    shear = a[3] * b[3] + a[4] * b[4] + a[5] * b[5]
    return (w.lam * volume + 2.0 * w.mu * normal + w.mu * shear) * r


class Layer:
    """A layer over the unit square: first coordinate along the meridian, second from the root to the wall.

    place(x, y) gives (r, z). Root and wall are held as rigid bodies, the sides x = 0 and x = 1 are free; with
    plane=True nothing moves along the axis, as in a slice of a long ring."""

    def __init__(self, along, across, place, plane=False):
        flat = MeshQuad2.from_mesh(MeshQuad.init_tensor(along, across))
        curved = MeshQuad2(np.vstack(place(*flat.doflocs)), flat.t)
        self.basis, square = (Basis(m, ElementVector(ElementQuad2(), 3), intorder=5) for m in (curved, flat))
        self.y = square.doflocs[1]
        self.component = np.empty(len(self.y), int)
        for c in range(3):
            self.component[self.basis.get_dofs(elements=True).all([f"u^{c + 1}"])] = c
        self.plane = plane

    def products(self, poisson, harmonic, moving, fields):
        """Energy products of motions of the root: fields (r, z) -> (U, V, W); only the components `moving`. E = 1."""
        lam = poisson / ((1 + poisson) * (1 - 2 * poisson))
        k = energy.assemble(self.basis, n=float(harmonic), lam=lam, mu=0.5 / (1 + poisson)).tocsc()
        held = (self.y < 1e-12) | (self.y > 1 - 1e-12) | ~np.isin(self.component, moving)
        free = np.flatnonzero(~held)
        root = np.flatnonzero((self.y < 1e-12) & np.isin(self.component, moving))
        factor = splu(k[free][:, free])
        u = np.zeros((len(fields), len(self.y)))
        for row, field in zip(u, fields):
            r, z = self.basis.doflocs[:, root]
            values = np.array([np.broadcast_to(v, r.shape) for v in field(r, z)])
            row[root] = values[self.component[root], np.arange(len(root))]
            row[free] = factor.solve(-(k @ row)[free])
        return (np.pi if harmonic else 2 * np.pi) * (u @ (k @ u.T))

    def stiffness(self, poisson):
        """Sideways travel kxx and tilting about the origin kxt, ktt; travel along the axis kz; torsion. E = 1."""
        moving = (0, 1) if self.plane else (0, 1, 2)
        side = self.products(poisson, 1, moving, [lambda r, z: (1, -1, 0), lambda r, z: (z, -z, -r)])
        axial = self.products(poisson, 0, (2,) if self.plane else (0, 2), [lambda r, z: (0, 0, 1)])
        torsion = self.products(poisson, 0, (1,), [lambda r, z: (0, r, 0)])
        return side[0, 0], side[0, 1], side[1, 1], axial[0, 0], torsion[0, 0]

    def root(self, poisson):
        """kx, depth of the centre of resistance below z = 0, sigma squared, kz, torsion; E = 1."""
        kxx, kxt, ktt, axial, torsion = self.stiffness(poisson)
        return kxx, -kxt / kxx, (ktt - kxt**2 / kxx) / kxx, axial, torsion


def toward(n, power):
    """n steps from 0 to 1 that shrink toward the end."""
    return 1 - (1 - np.linspace(0.0, 1.0, n + 1)) ** power


def paraboloid(along, across, law, radius=3.9, length=13.0, thickness=0.229, loss=0.0):
    """Root rho = R s, z = -h (1 - s^2), from the crest at z = -loss down; wall by the law of its thickness."""
    crest = np.sqrt(1 - loss / length)
    s = np.linspace(0, crest, 20001)
    arc = np.concatenate([[0], np.cumsum(np.hypot(radius, length * (s[1:] + s[:-1])) * np.diff(s))])
    wall_crest = np.sqrt(1 - loss / (length + thickness))

    def place(x, y):
        si = np.interp(x * arc[-1], arc, s)
        r, z = radius * si, -length * (1 - si**2)
        if law == "stretched":
            so = si * wall_crest / crest
            ro, zo = (radius + thickness) * so, -(length + thickness) * (1 - so**2)
        else:
            slope = np.hypot(1.0, 2 * length * si / radius)
            ro, zo = r + thickness * 2 * length * si / radius / slope, z - thickness / slope
        return r + (ro - r) * y, z + (zo - z) * y

    return Layer(toward(along, 1.6), np.linspace(0, 1, across + 1), place)


def toward_both(n):
    """n steps from 0 to 1 that shrink toward both ends."""
    return 0.5 * (1 - np.cos(np.pi * np.linspace(0, 1, n + 1)))


def meshed(law, loss, along=300, across=12, radius=3.9, length=13.0, thickness=0.229):
    """The same root with the walls that teeth get, flush with the crest, in the frame of a tooth: the crest is z = 0.

    stretched: as above. uniform: the wall stands off along the normal, whose vertical part fades out toward the crest
    over a depth of 0.14 of the bony root. Elements shrink toward the singular edges at the crest."""
    crest = np.sqrt(1 - loss / length)
    s = np.linspace(0, crest, 20001)
    arc = np.concatenate([[0], np.cumsum(np.hypot(radius, length * (s[1:] + s[:-1])) * np.diff(s))])
    wall_crest = np.sqrt(1 - loss / (length + thickness))

    def place(x, y):
        si = np.interp(x * arc[-1], arc, s)
        r, z = radius * si, -length * (1 - si**2)
        if law == "stretched":
            so = si * wall_crest / crest
            ro, zo = (radius + thickness) * so, -(length + thickness) * (1 - so**2)
        else:
            slope = 2 * length * si / radius
            n_r, n_z = slope / np.hypot(1, slope), -1 / np.hypot(1, slope)
            depth = np.clip((-z - loss) / max(0.14 * (length - loss), 2 * thickness), 0, 1)
            d_r, d_z = n_r, n_z * depth**2 * (3 - 2 * depth)
            size = np.hypot(d_r, d_z)
            lean = (n_r * d_r + n_z * d_z) / size
            ro, zo = r + thickness * d_r / size / lean, z + thickness * d_z / size / lean
        return r + (ro - r) * y, z + loss + (zo - z) * y

    return Layer(toward(along, 4.0), toward_both(across), place)


def disc(along, across, radius, thickness):
    """Upper plate is the root (y = 0), lower plate the wall."""
    return Layer(toward(along, 2.0), np.linspace(0, 1, across + 1), lambda x, y: (radius * x, thickness * (1 - y)))


def line(*cells):
    print(*(f"{c:.6g}" if isinstance(c, float) else c for c in cells), sep="\t", flush=True)


def main():
    print("check against closed forms: annulus 3 / 3.25, plane strain, per mm (kx, kz, torsion), computed and exact")
    ring = Layer(np.linspace(0, 1, 5), np.linspace(0, 1, 7), lambda x, y: (3 + 0.25 * y, 0.5 * x), plane=True)
    for nu in (0.0, 0.3, 0.45, 0.49):
        kx, _, _, kz, torsion = (v / 0.5 for v in ring.stiffness(nu))
        g, kappa = 0.5 / (1 + nu), 3 - 4 * nu
        ratio = 3.25**2 - 9, 3.25**2 + 9
        exact = 2 * np.pi * g * (1 + kappa) / (kappa * np.log(3.25 / 3) - ratio[0] / ratio[1] / kappa)
        line(nu, kx, exact, kz, 2 * np.pi * g / np.log(3.25 / 3), torsion, 4 * np.pi * g / (1 / 9 - 1 / 3.25**2))
    line("law", "nu", "mesh", "kx", "depth", "sigma2", "kz", "torsion")
    for law in ("stretched", "uniform"):
        for nu in (0.0, 0.3, 0.4, 0.45, 0.49, 0.499):
            for along, across in ((100, 5), (200, 8)):
                line(law, nu, f"{along}x{across}", *paraboloid(along, across, law).root(nu))
    line("bone loss", "nu", "kx", "depth", "sigma2", "kz", "torsion")
    for loss in (0.0, 2.0, 4.0, 6.0, 8.0):
        for nu in (0.3, 0.45):
            line(loss, nu, *paraboloid(200, 6, "stretched", loss=loss).root(nu))
    line("walls of teeth: law", "bone loss", "nu", "kxx", "kxt", "ktt", "kz", "torsion")
    for law in ("stretched", "uniform"):
        for loss in (0.0, 4.0):
            for nu in (0.3, 0.4, 0.45, 0.49):
                print(law, loss, nu, *(f"{v:.8g}" for v in meshed(law, loss).stiffness(nu)), sep="\t", flush=True)
    line("disc: S", "nu", "Ea/E", "tilt/(E I/t)", "shear/(G A/t)")
    for shape in (1.0, 2.0, 5.0, 10.0):
        radius, thickness = 2.0 * shape, 1.0
        for nu in (0.3, 0.45, 0.49, 0.4999):
            kxx, kxt, ktt, axial, _ = disc(120, 10, radius, thickness).stiffness(nu)
            area, second = np.pi * radius**2, np.pi * radius**4 / 4
            # The upper plate tilts about its own centre at z = t: motion of the origin is tilt times -t.
            tilt = ktt - 2 * thickness * kxt + thickness**2 * kxx
            line(shape, nu, axial * thickness / area, tilt * thickness / second, kxx * thickness / area * 2 * (1 + nu))


if __name__ == "__main__":
    main()
