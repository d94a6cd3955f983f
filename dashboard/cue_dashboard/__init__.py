"""Answers for people: the pages and the command line."""
