//! The bench: hunting the buzz, planning and doing the work, playing it again.

pub mod approval;
pub mod check;
pub mod comeback;
pub mod estimate;
pub mod finding;
pub mod forms;
pub mod hold;
pub mod next;
pub mod play_test;
pub mod step;
pub mod step_form;
pub mod waits;
