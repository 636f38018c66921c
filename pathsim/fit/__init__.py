"""Holding a description of an arm against readings, and finding the cheapest explanation."""

from pathsim.fit.description import Description, Reading, Residual, residuals
from pathsim.fit.explanations import Explanation
from pathsim.fit.search import Verdict, explain
from pathsim.fit.trials import Candidate

__all__ = [
    "Candidate",
    "Description",
    "Explanation",
    "Reading",
    "Residual",
    "Verdict",
    "explain",
    "residuals",
]
