"""Paint as it came and as it was mixed: batches, mixes, and whether either may be used."""
