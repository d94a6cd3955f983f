"""From strokes and results to answers: the practice log and what it teaches."""
