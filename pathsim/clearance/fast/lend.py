"""Arrays lent to a kernel: it does not count who uses them.

Each time an array is taken out of a record or handed to a function, its users are counted up
and down, by operations that lock memory; in the search that was two fifths of all time. A lent
array has no counter. It is valid only while the caller keeps the array that it was lent from:
kernels lend at their entry what Python holds until they return, and nothing that they make.
"""

from __future__ import annotations

from typing import Any

from numba.core import cgutils
from numba.extending import intrinsic
from numba.np.arrayobj import make_array

from pathsim.clearance.fast.records import BoxTree, Chain, Desk, Motion, SphereTree
from pathsim.kernels.jit import kernel


@intrinsic  # type: ignore[untyped-decorator]
def lend(_context: Any, array: Any) -> Any:
    """Return the same array without its counter."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        kind = make_array(signature.args[0])
        original = kind(context, builder, arguments[0])
        lent = kind(context, builder)
        cgutils.copy_struct(lent, original)
        lent.meminfo = cgutils.get_null_value(original.meminfo.type)
        lent.parent = cgutils.get_null_value(original.parent.type)
        return lent._getvalue()

    return array(array), generate


@kernel
def lend_tree(t: BoxTree) -> BoxTree:
    """Lend all of a standing body."""
    return BoxTree(lend(t.box), lend(t.links), lend(t.triangles))


@kernel
def lend_piece(t: SphereTree) -> SphereTree:
    """Lend all of a piece."""
    return SphereTree(lend(t.sphere), lend(t.brick), lend(t.links), lend(t.triangles))


@kernel
def lend_chain(c: Chain) -> Chain:
    """Lend a chain."""
    return Chain(lend(c.fixed), lend(c.ends), lend(c.slides))


@kernel
def lend_motion(m: Motion) -> Motion:
    """Lend stretches of knots."""
    return Motion(
        lend(m.whole),
        lend(m.numbers),
        lend(m.poses),
        lend(m.bends),
        lend(m.ways),
        lend(m.q),
        lend(m.times),
    )


@kernel
def lend_desk(d: Desk) -> Desk:
    """Lend room to work in."""
    return Desk(
        lend(d.store),
        lend(d.points),
        lend(d.outline),
        lend(d.lines),
        lend(d.found),
        lend(d.guess),
        lend(d.counts),
    )
