"""The arm as pure mathematics: forward, Jacobian, inverse, wrist alignment."""

from pathsim.arm.chain import Arm
from pathsim.arm.inverse import Follower, follower

__all__ = ["Arm", "Follower", "follower"]
