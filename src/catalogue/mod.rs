//! The catalogue: what can buzz, what to ask, and what mends it, as the trade knows it and the shop changed it.

pub mod answer;
pub mod browse;
pub mod cause;
pub mod cause_change;
pub mod cause_form;
pub mod cause_page;
pub mod caution;
pub mod descriptor;
pub mod descriptor_change;
pub mod descriptor_page;
pub mod entry;
pub mod job;
pub mod job_change;
pub mod job_form;
pub mod job_page;
pub mod new_cause;
pub mod new_job;
pub mod new_question;
pub mod percent;
pub mod question;
pub mod question_form;
pub mod seed;
pub mod source;
pub mod telling;
pub mod telling_page;
pub mod tie;
