"""Compiled kernels: how they are compiled, where they are kept, and whether they are ready.

Importing this package imports no compiler; ``jit`` does.
"""
