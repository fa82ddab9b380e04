//! Corridors and firebreaks.
