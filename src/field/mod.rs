//! The field engine: a case goes in, the Maxwell capacitance matrix comes out, with its error bars.
