//! The course: lessons, figures, questions and sheets for a class. All of it is worked out by
//! the program's own commands, for any rig.
//!
//! - [`lessons`]: the pages of the lessons and their answers, read by their headings.
//! - [`number_binding`]: numbers of a page, each bound to the command that gives it.
//! - [`lesson_commands`]: the commands of a lesson, run for a rig.
//! - [`figure`]: the figures of the lessons, each by its name.
//! - [`quiz`]: kinds of questions, answers read from a file, marks.
//! - [`class`]: the files of a lesson for a trainee or an instructor.
//! - [`folder_index`]: what of them is printed, shown and kept.
//! - [`sheet_request`]: the rig, the reader and the paper that sheets are made for.
//! - [`lesson_plan`]: the cases that are predicted, seen and answered; votes, wrong answers.
//! - [`worksheet`], [`printed_quiz`], [`plain_text`]: what stands on worksheet, key and quiz.
//! - [`sheet`]: where it stands: the layout of pages.
//!
//! The course uses results and their writers. Only its commands use it: `quiz`, `class`,
//! `chart`. It gets the program it runs commands of as a parameter, [`crate::command::Program`].

pub mod class;
pub mod figure;
pub mod folder_index;
pub mod lesson_commands;
pub mod lesson_plan;
pub mod lessons;
pub mod number_binding;
pub mod paper_size;
pub mod plain_text;
pub mod printed_quiz;
pub mod quiz;
pub mod sheet;
pub mod sheet_request;
pub mod worksheet;
