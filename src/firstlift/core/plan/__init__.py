"""Before the pull and after it: does the method apply, can this pull decide, is it safe, what next."""
