"""Ids of the page Progress."""

PLAYER = "progress-player"
BESIDE = "progress-beside"
WHICH = "progress-which"
WHICH_BOX = "progress-which-box"
FOUND = "progress-found"
GRAPH = "progress-graph"
OVER = "progress-over"
