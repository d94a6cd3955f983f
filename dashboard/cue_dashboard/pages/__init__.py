"""The pages, one module each, and what their controls do."""
