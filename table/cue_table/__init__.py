"""From stroke to white: tip on ball, slide and roll, ball on ball, cushion, set-ups.

What leads where, one idea a module:

- ``ball``, ``cloth``, ``tip``, ``collision``, ``cushion``: the pieces, closed forms where there are
  any; ``contact`` integrates the ball's contact with a cushion and ``contact_grid`` keeps the
  answers; ``conditions`` holds a table's and a cue's values together.
- ``stun``: pace and tip height for dead stun, for a white that stops dead, and the room for error.
- ``setup``, ``sizes``, ``landing``, ``area``: positions and where the white should end.
- ``state``, ``events``, ``motion``, ``aim``, ``runs``, ``shot``: whole shots, many at once, and
  what they did.
- ``fan``, ``choose``: a player's spread, and which way of playing a shot forgives most.
- ``results``, ``fit``: what results say about the table.
- ``plan`` (with ``plan_draw``, ``plan_ink``): the one drawing of the table; ``pictures``: that and
  the map of chances.

Left out: the cue's elevation and the swerve, hop and jump it gives, the nap of the cloth, rounded
pocket jaws, and what becomes of balls the white runs into.
"""
