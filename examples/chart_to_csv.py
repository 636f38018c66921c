"""Write the guaranteed clearance over time as CSV, for a plotting program.

python examples/chart_to_csv.py chart.csv
"""

import csv
import sys
from pathlib import Path

import pathsim

SAMPLES = Path(__file__).parents[1] / "sample_cells"


def main(out: Path) -> None:
    """Write a row for each stretch of time: what holds in all of it, and what is asked for."""
    session = pathsim.Session()
    chart = session.profile(session.check(pathsim.load_cell(SAMPLES / "collar_seam")))
    with out.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["from s", "to s", "move", "guaranteed mm", "margin mm"])
        for k, guaranteed in enumerate(chart.guaranteed):
            if guaranteed == guaranteed:  # not a number between two moves, and where unchecked
                row = (chart.t[k], chart.t[k + 1], chart.move[k])
                writer.writerow([*row, guaranteed * 1e3, chart.margin[k] * 1e3])
    print(f"{len(chart.guaranteed)} stretches of time; at {chart.cap * 1e3:.0f} mm or more")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("chart.csv"))
