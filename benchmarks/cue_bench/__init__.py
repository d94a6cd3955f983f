"""A stroke maker with known truth, and the measurements made with it."""

import cue_dashboard  # noqa: F401  (before numpy: what is measured runs on as many threads as there)
