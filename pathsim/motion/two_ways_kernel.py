"""A cheap look at which joint values may be near an alignment, as a kernel."""

from __future__ import annotations

import numpy as np

from pathsim.kernels.jit import kernel
from pathsim.kernels.vectors import KernelArray

#: Entries of the numbers: constant, cosine and sine part of joint 5's sine, the same of joint 3's
#: and the size of that; and of the wrist's centre ahead of axis 1, where it starts, and constant,
#: cosine and sine part of joint 3 for the cosine and for the sine of joint 2.
FIFTH, THIRD, THIRD_SIZE, START, ALONG, BESIDE, NUMBERS = 0, 3, 6, 7, 8, 11, 14


@kernel
def mark_near(numbers: KernelArray, q: KernelArray, first: int, wide: float, over: float,
              near: KernelArray) -> int:  # fmt: skip
    """Mark in ``near (n,)`` which rows of ``q (n, axes)`` may be near an alignment; count them.

    ``numbers (NUMBERS,)``; ``first``: the column of joint 1; ``wide``, ``over``: below which sine,
    and below which distance in m, is near.
    """
    count = 0
    for i in range(len(q)):
        two, three, five = q[i, first + 1], q[i, first + 2], q[i, first + 4]
        c3, s3 = np.cos(three), np.sin(three)
        fifth = numbers[FIFTH] + numbers[FIFTH + 1] * np.cos(five)
        fifth += numbers[FIFTH + 2] * np.sin(five)
        third = numbers[THIRD] + numbers[THIRD + 1] * c3 + numbers[THIRD + 2] * s3
        along = numbers[ALONG] + c3 * numbers[ALONG + 1] + s3 * numbers[ALONG + 2]
        beside = numbers[BESIDE] + c3 * numbers[BESIDE + 1] + s3 * numbers[BESIDE + 2]
        centre = numbers[START] + np.cos(two) * along + np.sin(two) * beside
        near[i] = (
            abs(fifth) <= wide or abs(third) <= wide * numbers[THIRD_SIZE] or abs(centre) <= over
        )
        count += near[i]
    return count
