//! The geometry engine: banks, strips, the partition, areas, and the validators.
