"""Reference trace of the freely running engine: an integration of its own, in Python.

It integrates the same equations of motion as `sim_core::run::open_loop::OpenLoopRun` (manifold, crank,
floating plate without friction or stop, wall film, sums of air and fuel), but shares no line
with it: the equations are written anew, a rig's numbers are read from sim-core/rigs, and scipy
integrates. It reads free_run_drive.csv beside it and writes free_run.csv, against which the
tests hold the program. They only read that file: CI does not need Python.

    python3 tests/data/free_run.py           writes free_run.csv (ten seconds)
    python3 tests/data/free_run.py --check   writes nothing; compares methods and steps (a minute)

Written with Python 3.11.7, numpy 2.4.6, scipy 1.17.1.

The rates have kinks: edges of the funnel, choked or not, the straight end of the orifice law,
slits shut or full open. Steps of at most 0.2 ms at a
tolerance of 1e-12 make them harmless: half the step and another method (Radau) move no column
by more than 1e-10 of its largest value, nor did stopping at each kink, tried once and left
out. A start state is a guess near an idle; it need not be a balance.
"""

import csv
import sys
import tomllib
from bisect import bisect_right
from math import exp, pi, sqrt
from pathlib import Path

import numpy
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

HERE = Path(__file__).resolve().parent
RIGS = HERE.parent.parent / "sim-core" / "rigs"

# Start of each run: manifold (bar), speed (rad/s), plate (mm), plate speed (m/s), film (mg).
START = {
    "idle-to-full": (0.34, 74.0, 1.4, 0.0, 60.0),
    "high-and-cold": (0.33, 75.0, 1.6, 0.0, 150.0),
}
COLUMNS = [
    "run", "time_s", "manifold_bar", "speed_rad_s", "plate_mm", "plate_m_s", "film_mg",
    "air_in_g", "air_out_g", "fuel_in_g", "fuel_out_g",
]
# Size in SI of one of each column; and what the solver's states, of order 1, are counted in.
SHOWN = numpy.array([1e5, 1.0, 1e-3, 1.0, 1e-6, 1e-3, 1e-3, 1e-3, 1e-3])
SOLVED = numpy.array([1e5, 100.0, 1e-3, 0.1, 1e-4, 1e-3, 1e-3, 1e-3, 1e-3])
ROW_EVERY_S = 0.05

R_AIR = 287.05287  # J/(kg K)
GAMMA = 1.4
CHOKED_BELOW = (2 / (GAMMA + 1)) ** (GAMMA / (GAMMA - 1))
STRAIGHT_ABOVE = 0.999
BAR, MBAR, MM, ZERO_C = 1e5, 100.0, 1e-3, 273.15


def psi(ratio):
    """Flow function of the pressure ratio, downstream over upstream (isentropic nozzle)."""
    if ratio <= CHOKED_BELOW:
        return sqrt(GAMMA) * (2 / (GAMMA + 1)) ** ((GAMMA + 1) / (2 * (GAMMA - 1)))
    if ratio >= 1:
        return 0.0
    if ratio > STRAIGHT_ABOVE:
        return psi(STRAIGHT_ABOVE) * (1 - ratio) / (1 - STRAIGHT_ABOVE)
    work = 2 * GAMMA / (GAMMA - 1) * (1 - ratio ** ((GAMMA - 1) / GAMMA))
    return ratio ** (1 / GAMMA) * sqrt(work)


class Engine:
    """A rig in its conditions."""

    def __init__(self, rig, conditions, film_at_rad_s):
        with open(RIGS / f"{rig}.toml", "rb") as file:
            self.rig = tomllib.load(file)
        air, lever, fuel = self.rig["air"], self.rig["lever"], self.rig["metering"]
        engine, moving = self.rig["engine"], self.rig["moving"]
        given = dict(pair.split("=") for pair in conditions.split())
        ethanol = {"e0": 0.0, "e5": 0.05, "e10": 0.10}[given.pop("fuel", "e0")]
        known = {"altitude_m": 0, "leak_kg_h": 0, "coolant_degc": 90, "fuel_degc": 30,
                 "ambient_degc": 20, "screw": 0}
        assert given.keys() <= known.keys(), given
        given = known | {key: float(value) for key, value in given.items()}

        # Outside: ISO 2533 gives the pressure, the temperature is given.
        self.ambient_pa = 101325.0 * (1 - 0.0065 * given["altitude_m"] / 288.15) ** 5.25588
        self.ambient_k = given["ambient_degc"] + ZERO_C
        self.air_kg_m3 = self.ambient_pa / (R_AIR * self.ambient_k)
        self.leak_choked_kg_s = given["leak_kg_h"] / 3600

        # Plate: the system pressure on the plunger, by the lever, is what its air carries.
        self.radius_m = air["plate_radius_mm"] * MM
        self.edges_m = [height * MM for height in air["funnel_height_mm"]]
        self.gaps_m = [(air["rim_clearance_mm"] + gap) * MM for gap in air["funnel_gap_mm"]]
        self.per_plate = lever["plunger_arm_mm"] / lever["plate_arm_mm"]
        plunger_m2 = pi / 4 * (fuel["plunger_mm"] * MM) ** 2
        self.carries_n = fuel["system_pressure_bar"] * BAR * plunger_m2 * self.per_plate

        # Slits: where they open, and the fuel in them (ASTM D1250 for the density).
        turn_mm = lever["pitch_mm"] * lever["plate_arm_mm"] / lever["screw_arm_mm"]
        self.opening_m = (lever["zero_height_mm"] - given["screw"] * turn_mm) * MM
        self.widths_m = [width * MM for width in fuel["slit_width_mm"]]
        self.slit_height_m = fuel["slit_height_mm"] * MM
        rho_15 = (1 - ethanol) * 745.0 + ethanol * 794.0
        alpha = 346.4228 / rho_15**2 + 0.4388 / rho_15
        warmer = alpha * (given["fuel_degc"] - 15)
        self.fuel_kg_m3 = rho_15 * exp(-warmer * (1 + 0.8 * warmer))
        self.fuel_pa_s = 0.55e-3 * exp(1000 * (1 / (given["fuel_degc"] + ZERO_C) - 1 / 293.15))

        # Engine.
        self.exhaust_pa = self.ambient_pa + engine["exhaust_mbar"] * MBAR
        self.volume_m3 = engine["displacement_l"] * 1e-3
        thick_oil = max(1.0, exp(0.011 * (90 - given["coolant_degc"])))
        self.rubbing = engine["rubbing_scale"] * thick_oil
        self.charge_k = engine["charge_k"] * sqrt(self.ambient_k / 293.15)
        self.pa_per_kg = R_AIR * self.charge_k / (moving["manifold_l"] * 1e-3)

        # Wall film: more of it and slower in the cold, quicker at speed.
        cold = min(2.0, max(0.0, (90 - given["coolant_degc"]) / 70))
        idle_rad_s = self.rig["controller"]["idle_rpm"] * pi / 30
        self.wets = min(0.8, moving["film_share"] * (1 + cold))
        self.dries_s = moving["film_s"] * (1 + 2.3 * cold) * (idle_rad_s / film_at_rad_s) ** 0.7

    # Below: manifold pressure p (Pa), speed w (rad/s), plate height z (m), plate speed v (m/s).
    def inlet_kg_s(self, area_m2, p, z):
        """Flow past plate and throttle in a row, and the drop over the plate, by root finding."""
        def throttle(drop):
            upstream = self.ambient_pa - drop
            return area_m2 * upstream / sqrt(R_AIR * self.ambient_k) * psi(p / upstream)
        def excess(drop):
            return self.plate_kg_s(drop, z) - throttle(drop)
        drop = brentq(excess, 0.0, self.ambient_pa - 1.0, xtol=1e-11, rtol=1e-15)
        return throttle(drop), drop

    def leak_kg_s(self, p):
        return self.leak_choked_kg_s * psi(p / self.ambient_pa) / psi(0.0)

    def breathed_kg_s(self, p, w):
        part = self.rig["engine"]
        eps, kappa = part["compression"], part["polytropic"]
        by_residual = (eps - (self.exhaust_pa / p) ** (1 / kappa)) / (eps - 1)
        by_speed = part["filling_0"] + part["filling_1_s"] * w + part["filling_2_s2"] * w**2
        density = p / (R_AIR * self.charge_k)
        return max(0.0, by_residual) * max(0.0, by_speed) * density * self.volume_m3 * w / (4 * pi)

    def demand_pa(self, p, w):
        n = w * 60 / (2 * pi) / 1000
        rubs = (0.97 + 0.15 * n + 0.05 * n**2) - (0.05 + 0.018 * n**2)
        mean = self.rubbing * rubs + self.rig["engine"]["accessories_bar"]
        return mean * BAR + self.exhaust_pa - p

    def plate_kg_s(self, drop_pa, z):
        """Flow past the plate by Bernoulli."""
        z = min(max(z, self.edges_m[0]), self.edges_m[-1])
        i = min(bisect_right(self.edges_m, z), len(self.edges_m) - 1)
        (low, high), (narrow, wide) = self.edges_m[i - 1 : i + 1], self.gaps_m[i - 1 : i + 1]
        gap = narrow + (wide - narrow) * (z - low) / (high - low)
        area = pi * ((self.radius_m + gap) ** 2 - self.radius_m**2)
        discharge = self.rig["air"]["plate_discharge"]
        return discharge * area * sqrt(2 * self.air_kg_m3 * drop_pa)

    def fuel_kg_s(self, z, slit_drop_pa):
        part = self.rig["metering"]
        h = min((z - self.opening_m) * self.per_plate, self.slit_height_m)
        if h <= 0 or slit_drop_pa <= 0:
            return 0.0
        jet = sqrt(2 * slit_drop_pa / self.fuel_kg_m3)
        total = 0.0
        for w in self.widths_m:
            reynolds = self.fuel_kg_m3 * jet * (2 * w * h / (w + h)) / self.fuel_pa_s
            discharge = part["slit_discharge"] / (1 + part["slit_half_reynolds"] / reynolds)
            total += discharge * w * h * self.fuel_kg_m3 * jet
        return total


class Segment:
    """An engine, driven in straight lines from `t0` to `t1`: a row of the drive."""

    def __init__(self, engine, t0, row):
        self.engine, self.t0, self.t1 = engine, t0, float(row["until_s"])
        self.inlet_m2 = [float(row[f"inlet_{end}_mm2"]) * 1e-6 for end in ("start", "end")]
        self.imep_pa = [float(row[f"imep_{end}_bar"]) * BAR for end in ("start", "end")]
        self.brake_nm = float(row["brake_nm"])
        part = engine.rig["metering"]
        actuator = part["actuator_zero_bar"]
        actuator += part["actuator_slope_bar_ma"] * float(row["current_ma"])
        self.slit_drop_pa = max(0.0, actuator - part["spring_bar"]) * BAR

    def line(self, ends, t):
        along = (t - self.t0) / (self.t1 - self.t0)
        return (1 - along) * ends[0] + along * ends[1]

    def rates(self, t, scaled):
        e, moving = self.engine, self.engine.rig["moving"]
        p, w, z, v, film = (scaled * SOLVED).tolist()[:5]
        inlet, drop = e.inlet_kg_s(self.line(self.inlet_m2, t), p, z)
        air_in, air_out = inlet + e.leak_kg_s(p), e.breathed_kg_s(p, w)
        surplus = self.line(self.imep_pa, t) - e.demand_pa(p, w)
        torque = surplus * e.volume_m3 / (4 * pi) - self.brake_nm
        force = drop * pi * e.radius_m**2 - e.carries_n - moving["plate_damping_ns_m"] * v
        fuel_in, dried = e.fuel_kg_s(z, self.slit_drop_pa), film / e.dries_s
        return numpy.array([
            e.pa_per_kg * (air_in - air_out), torque / moving["inertia_kg_m2"],
            v, force / moving["plate_kg"], e.wets * fuel_in - dried,
            air_in, air_out, fuel_in, fuel_in - e.wets * fuel_in + dried,
        ]) / SOLVED


def trace(max_step=2e-4, method="DOP853"):
    """Rows of every run: name, then time and states as shown."""
    with open(HERE / "free_run_drive.csv", newline="") as file:
        drive = list(csv.DictReader(file))
    rows = []
    options = dict(method=method, rtol=1e-12, atol=1e-13, max_step=max_step)
    for run, start in START.items():
        engine, t = None, 0.0
        x = numpy.array([*start, 0.0, 0.0, 0.0, 0.0]) * SHOWN / SOLVED
        rows.append((run, t, *(x * SOLVED / SHOWN)))
        for row in (row for row in drive if row["run"] == run):
            engine = engine or Engine(row["rig"], row["conditions"], start[1])
            segment = Segment(engine, t, row)
            steps = range(1, int(segment.t1 / ROW_EVERY_S) + 2)
            times = {round(k * ROW_EVERY_S, 9) for k in steps} | {segment.t1}
            for end in sorted(at for at in times if t < at <= segment.t1):
                found = solve_ivp(segment.rates, (t, end), x, **options)
                assert found.success, found.message
                x, t = found.y[:, -1], end
                rows.append((run, t, *(x * SOLVED / SHOWN)))
    return rows


def check():
    """Prints the range of each column, and how far another step or method moves it."""
    rows = trace()
    base = numpy.array([row[2:] for row in rows])
    for run in START:
        own = numpy.array([row[2:] for row in rows if row[0] == run])
        for column, low, high in zip(COLUMNS[2:], own.min(axis=0), own.max(axis=0)):
            print(f"{run} {column}: {low:.6g} to {high:.6g}")
    others = {"half the step": dict(max_step=1e-4), "Radau": dict(method="Radau")}
    for name, options in others.items():
        other = numpy.array([row[2:] for row in trace(**options)])
        moved = abs(other - base).max(axis=0) / abs(base).max(axis=0)
        for column, by in zip(COLUMNS[2:], moved):
            print(f"{name}, {column}: {by:.1e} of its largest value")


def main():
    lines = [COLUMNS] + [[run, *(f"{n:.15g}" for n in numbers)] for run, *numbers in trace()]
    with open(HERE / "free_run.csv", "w", newline="") as file:
        file.writelines(",".join(line) + "\n" for line in lines)


if __name__ == "__main__":
    check() if "--check" in sys.argv[1:] else main()
