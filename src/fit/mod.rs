//! A set-up fitted to readings: the parameters that may move, moved until the day computed from them agrees with what
//! was read, and how well that is known.

pub mod least_squares;
