//! Purfle, the work-order service of a violin-family repair shop. The map of the house:

#![forbid(unsafe_code)]

pub mod act; // one act on an order: transaction, version, story, once
pub mod admin; // the shop's settings and the data folder
pub mod again; // a form that could not be kept, to be sent once more
pub mod api; // the JSON API
pub mod app; // what every request has at hand
pub mod bench; // checks, findings, steps, approvals, play tests
pub mod bulk; // many orders written at once
pub mod catalogue; // causes, descriptors, jobs, cautions
pub mod changed; // what stands now beside what was typed
pub mod climate; // the air of the shop, and what the wood makes of it
pub mod clock; // the only one who asks the time
pub mod counter; // customers, instruments, orders, intake, pickup
pub mod db; // the only one who knows there are two databases
pub mod demo; // an invented shop with a history worth reading
pub mod diagnosis; // what the answers say of the causes
pub mod error; // what can go wrong, told as page and as JSON
pub mod form; // what was typed
pub mod log; // what the program tells whoever looks after it
pub mod money; // amounts, rates, rounding
pub mod old_book; // the history a shop brings with it
pub mod once; // an act with a key is done once
pub mod page; // frame and assets
pub mod pieces; // long answers, handed over as they are made
pub mod printing; // papers and codes
pub mod reports; // what keeps coming back
pub mod routes; // every address on one screen
pub mod same_site; // what writes comes from a page of ours, or from no page
pub mod serve; // the loop that takes connections
pub mod staff; // people, sign-in, sessions
pub mod words; // minutes and counts as people say them
