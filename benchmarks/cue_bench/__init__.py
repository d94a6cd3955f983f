"""A stroke maker with known truth, and the measurements made with it."""
