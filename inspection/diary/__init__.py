"""Who and what was there: the entries of a project's day, notes to the next shift, the inspector's signature."""
