"""Commands, a module for each group; heavy imports stay inside the functions."""
