"""From stroke to white: tip on ball, slide and roll, ball on ball, cushion, set-ups."""
