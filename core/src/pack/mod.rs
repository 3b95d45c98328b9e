//! Handing over: bags that anybody can check.
