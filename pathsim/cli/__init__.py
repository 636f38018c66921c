"""The command line: ``main`` is the program, each other module what one command does."""
