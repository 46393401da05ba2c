"""Web-hooks: events of the register, told to other systems, signed, tried again until they arrive."""
