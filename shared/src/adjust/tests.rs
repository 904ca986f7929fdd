//! The adjustment against published networks and an independent solution.
