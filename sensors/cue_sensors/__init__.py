"""From the air to samples: recordings, packet decoders, the clock and the rehearsal sensor."""
