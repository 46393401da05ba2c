"""The spreadsheets people keep their register in: read row by row, matched by name, nothing guessed in silence."""
