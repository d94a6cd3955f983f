"""One step a file, named after the schema it leads to."""
