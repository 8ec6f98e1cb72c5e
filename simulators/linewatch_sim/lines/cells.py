"""Solutions of the works as electrical cells. Invented, near what is common practice."""

from __future__ import annotations

from linewatch_sim.lines.first import BRIGHT_NICKEL, CHROMIUM, COPPER_STRIKE, ELECTROCLEANER
from linewatch_sim.rows import CellRow

ACID_COPPER = CellRow(
    id="acid-copper",
    reversible_v=0.05,
    tafel_v=0.07,
    exchange_a_per_dm2=0.04,
    limiting_a_per_dm2=14.0,
    solution_v_per_a_per_dm2=0.40,
    usual_degc=25.0,
    deposit=(("Cu(II)", 1.0),),
    efficiency_ratio=0.98,
    efficiency_slope=0.002,
    usual_a_per_dm2=3.5,
)
BARREL_ELECTROCLEANER = CellRow(
    id="barrel-electrocleaner",
    reversible_v=1.5,
    tafel_v=0.11,
    exchange_a_per_dm2=0.05,
    limiting_a_per_dm2=30.0,
    solution_v_per_a_per_dm2=2.6,
    usual_degc=65.0,
    usual_a_per_dm2=1.8,
)
BARREL_ZINC = CellRow(
    id="barrel-zinc",
    reversible_v=0.35,
    tafel_v=0.11,
    exchange_a_per_dm2=0.02,
    limiting_a_per_dm2=4.0,
    solution_v_per_a_per_dm2=6.6,
    usual_degc=27.0,
    deposit=(("Zn(II)", 1.0),),
    efficiency_ratio=0.96,
    efficiency_slope=0.003,
    usual_a_per_dm2=0.8,
)
BARREL_NICKEL = CellRow(
    id="barrel-nickel",
    reversible_v=0.55,
    tafel_v=0.13,
    exchange_a_per_dm2=0.01,
    limiting_a_per_dm2=4.0,
    solution_v_per_a_per_dm2=7.6,
    usual_degc=55.0,
    deposit=(("Ni(II)", 1.0),),
    efficiency_ratio=0.94,
    efficiency_slope=0.004,
    usual_a_per_dm2=0.9,
)
SULFAMATE = CellRow(
    id="sulfamate-nickel",
    reversible_v=0.6,
    tafel_v=0.13,
    exchange_a_per_dm2=0.015,
    limiting_a_per_dm2=25.0,
    solution_v_per_a_per_dm2=0.60,
    usual_degc=50.0,
    deposit=(("Ni(II)", 1.0),),
    efficiency_ratio=0.97,
    efficiency_slope=0.003,
    usual_a_per_dm2=5.0,
)
CELLS: tuple[CellRow, ...] = (
    ELECTROCLEANER,
    COPPER_STRIKE,
    ACID_COPPER,
    BRIGHT_NICKEL,
    CHROMIUM,
    BARREL_ELECTROCLEANER,
    BARREL_ZINC,
    BARREL_NICKEL,
    SULFAMATE,
)
