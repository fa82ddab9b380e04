//! Rule books: read and checked; a water's facts in, strips and permissions out.

/// A rule book (in work).
pub struct RuleBook;
