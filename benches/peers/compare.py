#!/usr/bin/env python3
"""Run the comparison and write the table. Called by run.sh; standard library only.

Every run is a fresh process. Runs of different solvers on one model alternate; the table shows medians. Results are
kept in results.json under the work directory and the table is rewritten after each round, so a stopped run leaves
what it measured.
"""

import argparse
import datetime
import json
import math
import os
import platform
import statistics
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
LIMIT_S = 300
# Tooth (", short": in a short socket, see the worker) and element size in mm.
MODELS = {
    "small": ("lower central incisor, short", "3"),
    "middle": ("upper first premolar", "1.15"),
    "large": ("upper first premolar", "0.65"),
    "molar": ("upper first molar", "1.2"),
    "million": ("upper first premolar", "0.375"),
    "largest": ("upper first premolar", "0.252"),
    "growth 2": ("lower central incisor, short", "0.6"),
    "growth 3": ("lower central incisor, short", "0.4"),
    "growth 4": ("lower central incisor, short", "0.28"),
    "growth 5": ("lower central incisor, short", "0.235"),
}
# One shape at growing resolution, this project alone.
GROWTH = ["small", "growth 2", "growth 3", "growth 4", "growth 5"]
METHODS = {
    "default": "this project, as it chooses",
    "pardiso": "scikit-fem + MKL PARDISO",
    "cholmod": "scikit-fem + CHOLMOD (METIS, threaded BLAS)",
    "direct_single": "this project's direct solver, f32 factor + CG (faer)",
    "direct_double": "this project's direct solver, f64 factor (faer)",
    "amg": "scikit-fem + smoothed aggregation CG (PyAMG)",
}
PEERS = ["pardiso", "cholmod", "amg"]
DIRECT = ["direct_single", "direct_double"]
# Rounds in order, what matters most first: the model and the solvers that alternate on it.
PLAN = [
    ("small", ["default", "pardiso", "cholmod", *DIRECT]),
    ("middle", ["default", "pardiso", "cholmod", *DIRECT]),
    *[(model, ["default"]) for model in GROWTH[1:]],
    ("million", ["default"]),
    ("large", ["default", "cholmod", "pardiso", "direct_single"]),
    ("middle", ["default", "pardiso", "cholmod"]),
    ("small", ["default", "pardiso", "cholmod", *DIRECT, "amg"]),
    ("largest", ["default"]),
    *[(model, ["default"]) for model in GROWTH[1:]],
    ("large", ["default", "cholmod"]),
    ("middle", ["default", "pardiso", "cholmod", *DIRECT, "amg"]),
    ("molar", ["default", "pardiso", "cholmod", "direct_single"]),
]
ALONE = ("million", "largest", *GROWTH[1:])
QUICK = [("small", ["default", *PEERS, *DIRECT])]
MARKS = ("<!-- peers -->", "<!-- end of peers -->")


class Comparison:
    def __init__(self, arguments):
        self.worker, self.work = Path(arguments.worker).resolve(), Path(arguments.work).resolve()
        self.table = Path(arguments.table)
        self.path = self.work / "results.json"
        self.results = {"models": {}, "runs": [], "mesh": []}
        if arguments.resume and self.path.exists():
            self.results = json.loads(self.path.read_text())
        self.has_cholmod = self.python("-c", "import sksparse.cholmod").returncode == 0
        self.started = datetime.datetime.now().strftime("%H:%M")

    def python(self, *words, timeout=None):
        # Older OpenBLAS kernels may be forced from outside; the peers get the best of theirs.
        kept = {k: v for k, v in os.environ.items() if k not in ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")}
        command = [sys.executable, *map(str, words)]
        # In the work directory: libraries leave files of their own.
        return subprocess.run(
            command, capture_output=True, text=True, timeout=timeout, env=kept, cwd=self.work, check=False
        )

    def rust(self, *words, timeout=None):
        command = [str(self.worker), *map(str, words)]
        return subprocess.run(command, capture_output=True, text=True, timeout=timeout, check=False)

    def file(self, model):
        return self.work / (model.replace(" ", "_") + ".vtu")

    def export(self, model, tooth, size):
        done = self.rust("export", tooth, size, self.file(model))
        if done.returncode:
            raise SystemExit(done.stderr)
        self.results["models"][model] = {"tooth": tooth, "size_mm": size, **json.loads(done.stdout)}
        print(model, done.stdout.strip(), flush=True)

    def run(self, model, tooth, size, method):
        load = os.getloadavg()[0]
        try:
            if method in PEERS:
                done = self.python(HERE / "peer.py", self.file(model), method, timeout=LIMIT_S)
            else:
                forces = [self.file(model).with_suffix(".forces")] if method.startswith("direct") else []
                done = self.rust("solve", tooth, size, method, *forces, timeout=LIMIT_S)
            failed = done.returncode != 0
            outcome = {"failed": done.stderr.strip()[-300:] or "killed"} if failed else last_json(done.stdout)
        except subprocess.TimeoutExpired:
            outcome = {"failed": f"over {LIMIT_S} s"}
        run = {"words": outcome.get("method"), **outcome, "model": model, "method": method, "load": load}
        self.results["runs"].append(run)
        print({k: v for k, v in run.items() if k != "compliance"}, flush=True)
        self.save()

    def save(self):
        self.path.write_text(json.dumps(self.results, indent=1))
        self.table.write_text(table(self))

    def publish(self):
        """The drawing of the growth beside the table, and the short table inside the README."""
        lines = self.work / "lines.json"
        lines.write_text(json.dumps(growth_lines(self)))
        done = self.rust("plot", lines, self.table.with_name("growth.svg"))
        if done.returncode:
            raise SystemExit(done.stderr)
        readme = HERE.parent.parent / "README.md"
        text = readme.read_text()
        begin, end = (text.index(mark) for mark in MARKS)
        readme.write_text(text[:begin] + MARKS[0] + "\n" + short_table(self) + text[end:])

    def meshers(self, tooth, size):
        surface = self.work / "tooth.off"
        ours = last_json(self.rust("mesh", tooth, size, surface).stdout)
        self.results["mesh"].append({"method": "ours", **ours})
        for method in ("delaunay", "envelope"):
            try:
                done = self.python(HERE / "mesher.py", surface, method, ours["elements"], timeout=LIMIT_S)
                outcome = {"failed": done.stderr.strip()[-300:]} if done.returncode else last_json(done.stdout)
            except subprocess.TimeoutExpired:
                outcome = {"failed": f"over {LIMIT_S} s"}
            self.results["mesh"].append({"method": method, **outcome})
        print(self.results["mesh"], flush=True)
        self.save()


def last_json(text):
    """The object on the last line; libraries may print before it."""
    return json.loads(text.strip().splitlines()[-1])


def machine():
    """Processor and cores."""
    name, cores = platform.processor() or platform.machine(), os.cpu_count()
    try:
        names = [line.split(":", 1)[1].strip() for line in open("/proc/cpuinfo") if line.startswith("model name")]
        name = names[0] if names else name
    except OSError:
        pass
    return f"{name}, {cores} cores"


def medians(runs):
    """Median of every number over the runs that ended; text of the last failure if none did."""
    ended = [run for run in runs if "failed" not in run]
    if not ended:
        return {"failed": runs[-1]["failed"]} if runs else None
    keys = [k for k, v in ended[0].items() if isinstance(v, (int, float))]
    middle = {k: statistics.median(run[k] for run in ended) for k in keys}
    middle.update(runs=len(ended), compliance=ended[0]["compliance"])
    return middle


def disagreement(a, b):
    """Largest difference of two compliances, each entry against its diagonal."""
    scale = [math.sqrt(abs(b[i][i])) for i in range(6)]
    return max(abs(a[i][j] - b[i][j]) / (scale[i] * scale[j]) for i in range(6) for j in range(6))


def exponent(points):
    """Least-squares slope of log time over log size."""
    x, y = [math.log(p[0]) for p in points], [math.log(p[1]) for p in points]
    mx, my = statistics.mean(x), statistics.mean(y)
    return sum((a - mx) * (b - my) for a, b in zip(x, y)) / sum((a - mx) ** 2 for a in x)


def table(comparison):
    results = comparison.results
    loads = [run["load"] for run in results["runs"]]
    lines = [
        "# Comparison with general-purpose solvers",
        "",
        "Written by `benches/peers/run.sh`. Assembly, set-up and six unit loads of one tooth in its socket, plain "
        "quadratic elements, from arrays in memory to the compliance; every run a fresh process, runs of different "
        "solvers alternating, medians. Residual tolerance of iterative methods 1e-8. Memory is the largest of the "
        "whole process: the project's includes its mesher, the others' the Python interpreter.",
        "",
        f"Machine: {machine()}, {platform.system()}; started at {comparison.started} on "
        f"{datetime.date.today().isoformat()}. Load average before the runs "
        f"{min(loads, default=0):.1f} to {max(loads, default=0):.1f} (other work on the machine lengthens wall times; "
        "processor times suffer less).",
    ]
    if not comparison.has_cholmod:
        lines += ["", "CHOLMOD is missing: scikit-sparse could not be installed (libsuitesparse-dev)."]
    growth = {}
    for model, facts in results["models"].items():
        runs = by_method(comparison, model)
        if not runs:
            continue
        lines += [
            "",
            f"## {facts['unknowns']:,} unknowns",
            "",
            f"{facts['tooth'].capitalize()}, element size {facts['size_mm']} mm, {facts['elements']:,} elements.",
            "",
            "| solver | runs | wall s | cpu s | assembly s | set-up s | six loads s | peak MB | iterations | residual "
            "| compliance differs by | wall ratio | cpu ratio | wall ratio, with this project's assembly |",
            "|---|---|---|---|---|---|---|---|---|---|---|---|---|---|",
        ]
        ours = runs.get("default")
        for method, name in METHODS.items():
            run = runs.get(method)
            if run is None:
                continue
            if "failed" in run:
                lines.append(f"| {name} | | {run['failed'].splitlines()[-1]} |" + " |" * 11)
                continue
            growth.setdefault(method, []).append((run["unknowns"], run["wall_s"], run["cpu_s"], model))
            against, wall, cpu, free = "", "", "", ""
            if ours and "failed" not in ours:
                against = f"{disagreement(run['compliance'], ours['compliance']):.0e}" if method != "default" else ""
                wall, cpu = f"{run['wall_s'] / ours['wall_s']:.1f}", f"{run['cpu_s'] / ours['cpu_s']:.1f}"
                free = f"{joined(run, ours) / ours['wall_s']:.1f}"
            lines.append(
                f"| {name} | {run['runs']} | {run['wall_s']:.2f} | {run['cpu_s']:.2f} | {run['assembly_s']:.2f} | "
                f"{run['set_up_s']:.2f} | {run['loads_s']:.2f} | {run['peak_mb']:.0f} | {run['iterations']:.0f} | "
                f"{run['residual']:.0e} | {against} | {wall} | {cpu} | {free if method in PEERS else ''} |"
            )
    fits = []
    for method, points in growth.items():
        shapes = {"one tooth in a short socket": GROWTH, "premolars": ["middle", "large", "million", "largest"]}
        for shape, models in shapes.items():
            chosen = sorted(p for p in points if p[3] in models)
            # The largest is beyond the range of the bar and is left out of the fit.
            chosen = [p for p in chosen if p[0] < 2e6]
            if len(chosen) < 2:
                continue
            wall, cpu = exponent(chosen), exponent([(p[0], p[2]) for p in chosen])
            span = f"{chosen[0][0]:,.0f} to {chosen[-1][0]:,.0f}"
            fits.append(f"| {METHODS[method]} | {shape} | {len(chosen)} | {span} | {wall:.2f} | {cpu:.2f} |")
    if fits:
        lines += ["", "## Growth", "", "Exponent of time over unknowns, least squares. ![growth](growth.svg)", ""]
        lines += ["| solver | shape | sizes | unknowns | wall | cpu |", "|---|---|---|---|---|---|", *fits]
    if results["mesh"]:
        names = {
            "ours": "this project: tooth, ligament in layers and bone, curved ten-node tetrahedra",
            "delaunay": "TetGen: tooth alone from its surface, straight four-node tetrahedra",
            "envelope": "fTetWild: tooth alone from its surface, straight four-node tetrahedra",
        }
        lines += ["", "## Meshers", "", "| mesher | tetrahedra | wall s | cpu s | tetrahedra/s (wall) | (cpu) |"]
        lines += ["|---|---|---|---|---|---|"]
        for run in results["mesh"]:
            if "failed" in run:
                lines.append(f"| {names[run['method']]} | | {run['failed'].splitlines()[-1]} | | | |")
                continue
            n, wall, cpu = run["elements"], run["wall_s"], run["cpu_s"]
            lines.append(
                f"| {names[run['method']]} | {n:,} | {wall:.2f} | {cpu:.2f} | {n / wall:,.0f} | {n / max(cpu, 0.01):,.0f} |"
            )
    return "\n".join(lines) + "\n"


def joined(run, ours):
    """Seconds of a peer's factor and loads, with the fastest assembly there is in front: this project's."""
    return ours["assembly_s"] + run["set_up_s"] + run["loads_s"]


def by_method(comparison, model):
    """Medians of each method that ran on a model."""
    runs = comparison.results["runs"]
    found = {m: medians([r for r in runs if (r["model"], r["method"]) == (model, m)]) for m in METHODS}
    return {m: r for m, r in found.items() if r}


def best(comparison, model):
    """Medians of the project and of the fastest peer of a model."""
    ended = {m: r for m, r in by_method(comparison, model).items() if "failed" not in r}
    peers = [m for m in PEERS if m in ended]
    return ended.get("default"), ended, min(peers, key=lambda m: ended[m]["wall_s"], default=None)


def short_table(comparison):
    """The lines of the README."""
    lines = [
        f"Measured by `benches/peers/run.sh` on {machine()}, {datetime.date.today().isoformat()}; every number of every "
        "run is in [benches/peers/table.md](benches/peers/table.md).",
        "",
        "| unknowns | this project s | iterations | MB | fastest peer | s | MB | ratio of wall time | of processor time "
        "| of wall time, peer's assembly replaced by this project's |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    alone = []
    for model in sorted(comparison.results["models"], key=lambda m: comparison.results["models"][m]["unknowns"]):
        ours, ended, peer = best(comparison, model)
        if not ours:
            continue
        start = f"| {ours['unknowns']:,.0f} | {ours['wall_s']:.2f} | {ours['iterations']:.0f} | {ours['peak_mb']:,.0f} |"
        if peer:
            run = ended[peer]
            fastest = min(joined(ended[m], ours) for m in PEERS if m in ended)
            lines.append(
                f"{start} {METHODS[peer]} | {run['wall_s']:.1f} | {run['peak_mb']:,.0f} | "
                f"{run['wall_s'] / ours['wall_s']:.1f} | {run['cpu_s'] / ours['cpu_s']:.1f} | {fastest / ours['wall_s']:.1f} |"
            )
        elif model in ("million", "largest", GROWTH[-1]):
            alone.append(f"{start} | | | | | |")
    lines += alone
    points = family(comparison)
    if len(points) > 2:
        iterations = [p[2] for p in points]
        lines += [
            "",
            f"Growth, one tooth in a short socket from {points[0][0]:,.0f} to {points[-1][0]:,.0f} unknowns: exponent of wall "
            f"time {exponent(points):.2f}, {min(iterations):.0f} to {max(iterations):.0f} iterations.",
            "",
            "![Time against unknowns, this project and general-purpose solvers](benches/peers/growth.svg)",
        ]
    return "\n".join(lines) + "\n"


def family(comparison):
    """Unknowns, seconds and iterations of the growing shape."""
    runs = [best(comparison, model)[0] for model in GROWTH if model in comparison.results["models"]]
    return sorted((r["unknowns"], r["wall_s"], r["iterations"]) for r in runs if r)


def growth_lines(comparison):
    """The lines of the drawing."""
    lines = []
    names = {"default": "this project, teeth", "pardiso": "PARDISO", "cholmod": "CHOLMOD"}
    for method, name in names.items():
        points = []
        for model in ("small", "middle", "large", "million", "largest"):
            if model == "small" and method == "default":
                continue
            run = best(comparison, model)[1].get(method) if model in comparison.results["models"] else None
            if run:
                points.append((run["unknowns"], run["wall_s"]))
        if points:
            lines.append({"name": name, "points": points})
    # The drawing sets names above and below the ends of the lines in turn.
    short = {"name": "this project, short socket", "points": [p[:2] for p in family(comparison)]}
    return [*lines[:1], short, *lines[1:]]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--worker", required=True)
    parser.add_argument("--work", required=True)
    parser.add_argument("--table", default=HERE / "table.md")
    parser.add_argument("--resume", action="store_true", help="add to the results of an earlier, stopped call")
    parser.add_argument("--quick", action="store_true", help="one small model, one round")
    arguments = parser.parse_args()
    if arguments.quick and Path(arguments.table) == HERE / "table.md":
        arguments.table = Path(arguments.work) / "table.md"
    comparison = Comparison(arguments)
    done = [(run["model"], run["method"]) for run in comparison.results["runs"]]
    for model, methods in QUICK if arguments.quick else PLAN:
        tooth, size = MODELS[model]
        known = comparison.results["models"]
        if model in ALONE:
            known[model] = {"tooth": tooth, "size_mm": size, "elements": 0, "unknowns": 0}
        elif model not in known or not comparison.file(model).exists():
            comparison.export(model, tooth, size)
        for method in methods:
            if (model, method) in done:
                done.remove((model, method))
            elif method != "cholmod" or comparison.has_cholmod:
                comparison.run(model, tooth, size, method)
        if model in ALONE:
            run = comparison.results["runs"][-1]
            known[model].update({key: run.get(key, 0) for key in ("elements", "unknowns")})
        if not comparison.results["mesh"] and model == ("small" if arguments.quick else "million"):
            comparison.meshers(*MODELS["small" if arguments.quick else "middle"])
        comparison.save()
    if not arguments.quick:
        comparison.publish()
    print(table(comparison))


if __name__ == "__main__":
    main()
