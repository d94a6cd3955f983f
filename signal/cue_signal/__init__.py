"""From samples to strokes: attitude, stroke finding, speed, slowing and straightness."""
