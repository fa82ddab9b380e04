//! End-to-end tests, oracles, published tables and properties.
