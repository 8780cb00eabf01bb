//! What commands found, as data: structs that serialise to the JSON of their command and give
//! the rows of its CSV. Tables, charts, quiz and sheets read the same structs.

pub mod claims;
pub mod parts;
pub mod point;
pub mod sweep;
pub mod trace;
