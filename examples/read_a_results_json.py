"""Read the JSON of a result without pathsim: only the standard library is used to read it."""

import json
import sys
import tempfile
from pathlib import Path

SAMPLES = Path(__file__).parents[1] / "sample_cells"


def written() -> Path:
    """Return the file named on the command line, or one that pathsim writes here."""
    if len(sys.argv) > 1:
        return Path(sys.argv[1])
    import pathsim

    result = pathsim.check(pathsim.load_cell(SAMPLES / "gate_hinge_no_retract"))
    return result.write_json(Path(tempfile.mkdtemp()) / "result.json")


document = json.loads(written().read_text(encoding="utf-8"))
if document["format"] != "pathsim-result":
    sys.exit("that file is no result of pathsim")
print(f"{document['cell']['name']}: {'clear' if document['is_clear'] else 'not clear'}")
for move in document["moves"]:
    if not move["is_whole"]:
        print(f"move {move['number']} was not checked to its end")
    for pair in move["pairs"]:
        if pair["touches"]:
            print(f"move {move['number']}: {pair['moving']} touches {pair['standing']}")
for item in document["left_out"]:
    if not item["is_agreed"]:
        print(f"not checked: {item['what']}")
print(document["caution"])
