//! Reads and writes lining and materials files (TOML).
