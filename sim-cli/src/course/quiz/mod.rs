//! Questions worked out from the model, and what became of the answers.
//!
//! [`question`] holds what a question is made of, [`metering`], [`running`] and [`repairs`] the
//! questions of the lessons, [`kinds`] the list of them. [`answers`] are read from a file,
//! [`marking`] marks them, [`result`] is what the command found.

pub mod answers;
mod arriving;
pub mod kinds;
pub mod marking;
mod metering;
pub mod question;
mod repairs;
pub mod result;
mod running;
