"""Parts of scripts/fuzz: what is tried, how inputs are made, and the two ways of looking for failures."""
