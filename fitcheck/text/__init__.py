"""Everything that is said in words: the catalogue of labels, numbers with units, limits as phrases."""
