"""Shapes of the sample cells, drawn as closed solids in millimetres."""
