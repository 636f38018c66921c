"""Check a cell folder and print the five tightest places of its program.

python examples/check_a_cell.py [CELL FOLDER]
"""

import sys
from pathlib import Path

import pathsim
from pathsim.caution import CAUTION

SAMPLES = Path(__file__).parents[1] / "sample_cells"


def main(folder: Path) -> None:
    """Print findings, then the tightest pairs with what stands."""
    result = pathsim.check(pathsim.load_cell(folder))
    for finding in result.findings:
        print(f"{finding.level}: {finding.text}")
    table = result.clearances
    scene = table[table["of"] == "scene"]
    for row in scene[scene["lower"].argsort()[:5]]:
        # Rounded down: a guaranteed number may be shown smaller, never larger.
        lower = int(row["lower"] * 1e4) / 10
        print(f"move {row['move']}: {row['piece']} to {row['body']}, {lower} mm guaranteed")
    print(CAUTION)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else SAMPLES / "gate_hinge_no_retract")
