"""The arm as pure mathematics: forward, Jacobian, inverse, branches, singularity measures."""

from pathsim.arm.chain import Arm
from pathsim.arm.dimensions import Dimensions
from pathsim.arm.inverse import Follower, follower
from pathsim.arm.readings import ReadingsMap

__all__ = ["Arm", "Dimensions", "Follower", "ReadingsMap", "follower"]
