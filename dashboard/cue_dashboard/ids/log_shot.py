"""Ids of the drawer in which a shot of the log is put right."""

RULE = "log-edit-rule"
SERIES = "log-edit-series"
MARK_NEW = "log-edit-mark-new"
HISTORY = "log-edit-history"
UNDO = "log-undo"
REDO = "log-redo"
SAID = "log-said"
