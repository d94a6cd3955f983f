"""Figures as pure functions of results: no log, no page, no browser."""
