"""What is done with the register: one function, one transaction each. The clock and identifiers are made here."""
