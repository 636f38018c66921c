"""Cures for what a check found, each checked before it is shown, and why things happen."""

from pathsim.advice.advise import advise, best_first
from pathsim.advice.change import Change, changed
from pathsim.advice.proposal import Advice, Proposal
from pathsim.advice.trial import Bench

__all__ = ["Advice", "Bench", "Change", "Proposal", "advise", "best_first", "changed"]
