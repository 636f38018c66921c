"""Cures for what a check found, each checked before it is shown, and why things happen."""

from pathsim.advice.advise import advise, advise_on, best_first, that_go_together
from pathsim.advice.change import Change, changed
from pathsim.advice.proposal import Advice, Proposal
from pathsim.advice.trial import Evaluator

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
]
