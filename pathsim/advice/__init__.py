"""Cures for what a check found, each checked before it is shown, and why things happen."""

from pathsim.advice.advise import advise, advise_on
from pathsim.advice.change import Change, changed
from pathsim.advice.proposal import Advice, Proposal
from pathsim.advice.trial import Evaluator
from pathsim.advice.whole import best_first, that_go_together, whole_program

__all__ = [
    "Advice",
    "Change",
    "Evaluator",
    "Proposal",
    "advise",
    "advise_on",
    "best_first",
    "changed",
    "that_go_together",
    "whole_program",
]
