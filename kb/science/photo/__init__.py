"""Whether ink moved between two photographs of the same patch: one step a file, arrays in, arrays out.

The only place that uses numpy and OpenCV; who calls it imports it late, because both are an optional extra
and costly to load.
"""
