//! Rules on made-up solvers.
