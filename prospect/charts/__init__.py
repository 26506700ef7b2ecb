"""Numbers to plots: texture triangle, plasticity chart, firing curve, hole strips, colour swatches."""
