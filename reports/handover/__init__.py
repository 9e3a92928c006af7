"""Could we hand over today? Everything that is still lacking, with whose turn it is and since when."""
