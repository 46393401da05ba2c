"""The first schema, as it was released: never edited; a change is a new step."""
