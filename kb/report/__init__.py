"""Reports for paper files and for other programs."""
