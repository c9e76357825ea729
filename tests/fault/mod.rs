//! Faults: what was acknowledged is there once, and what could not be done is said, whatever breaks in between.

mod away;
mod bands;
mod cluster;
mod folder;
mod gone;
mod judge;
mod kill;
mod log;
mod power;
mod proxy;
mod room;
pub mod running;
mod secrets;
