"""Pieces that several pages are built from."""
