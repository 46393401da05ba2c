"""What each command takes: one module a command, light enough to be read at every start."""
