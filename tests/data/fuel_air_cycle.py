"""Work of the ideal constant-volume fuel-air cycle by mixture: writes fuel_air_cycle.csv.

Iso-octane and air at 350 K and 1 atm, no residual gas, compressed 9 times as a frozen gas, burnt
at constant volume to equilibrium, expanded in equilibrium at constant entropy; work a mass of air
against that at lambda 1. Species and their data: NASA Glenn polynomials as Cantera ships them
(nasa_gas.yaml). The mixtures lie between the knots of `sim_core::engine::work`, which came from
another computation. The tests only read the table: CI does not need Python.

    pip install cantera; python3 tests/data/fuel_air_cycle.py

Written with Python 3.11.7, Cantera 3.2.0. At 300 K, or compressed 8 or 10 times, no row moves by more than
0.008.
"""

import csv
from pathlib import Path

import cantera

FUEL = "C8H18,isooctane"
GAS = [FUEL, *"O2 N2 CO2 H2O CO H2 H O OH NO N CH4 NH3 HCN".split()]
SPECIES = [one for one in cantera.Species.list_from_file("nasa_gas.yaml") if one.name in GAS]


def work(ratio, start_k=350.0, compression=9.0):
    """Net work of a cycle (J for each kg of air)."""
    gas = cantera.Solution(thermo="ideal-gas", species=SPECIES)
    gas.TPX = start_k, cantera.one_atm, {FUEL: 1.0, "O2": 12.5 * ratio, "N2": 12.5 * 3.773 * ratio}
    air = 1.0 - gas[FUEL].Y[0]
    begun, volume, entropy = gas.u, 1.0 / gas.density, gas.s
    gas.SV = entropy, volume / compression
    compressed, elements = gas.u, gas.Y
    gas.TP = 2800.0, 8.0 * gas.P
    gas.Y = elements
    gas.equilibrate("TP")
    gas.UV = compressed, volume / compression
    gas.equilibrate("UV", rtol=1e-10)
    gas.SV = gas.s, volume
    gas.equilibrate("SV", rtol=1e-10)
    return (begun - gas.u) / air


SOURCE = "Ideal constant-volume fuel-air cycle, compression 9, iso-octane, 350 K; Cantera 3.2.0 with NASA Glenn data (fuel_air_cycle.py)"
if __name__ == "__main__":
    at_one = work(1.0)
    with Path(__file__).with_name("fuel_air_cycle.csv").open("w", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow("lambda work_relative_to_lambda_1 rel_tol grade source".split())
        for ratio in (0.725, 0.75, 0.775, 0.825, 0.875, 0.925, 0.975, 1.025, 1.075, 1.15, 1.25):
            rows.writerow([ratio, round(work(ratio) / at_one, 4), 0.005, "B", SOURCE])
