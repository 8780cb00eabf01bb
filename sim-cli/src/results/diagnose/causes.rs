//! The list of what can be found.

use crate::report::{Field, Found, Records, Report, Table};
use serde::{Serialize, Serializer};
use sim_core::diagnose::causes::{NONE, Named};
use std::rc::Rc;

/// What can be found.
struct CauseList(Vec<Named>);

static LISTED: &[Field<Named>] = &[
    Field::new("name", "cause", "", 0, |n| n.name().into()),
    Field::new("words", "what is wrong", "", 0, |n| n.words(1.0).into()),
    Field::new("other_way", "or", "", 0, |n| n.cause.other_way.into()),
    Field::new("full_strength", "full strength", "", 0, |n| n.cause.full.into()),
];

impl Serialize for CauseList {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut names: Vec<String> = self.0.iter().map(Named::name).collect();
        names.push(NONE.into());
        use serde::ser::SerializeStruct;
        let mut object = serializer.serialize_struct("CauseList", 2)?;
        object.serialize_field("names", &names)?;
        object.serialize_field("causes", &Records(LISTED, &self.0))?;
        object.end()
    }
}

impl Found for CauseList {
    fn table(&self) -> Table {
        let mut table = Table::of(LISTED, &self.0);
        let words = "nothing is wrong that the readings show";
        table.rows.push(vec![NONE.into(), words.into(), "".into(), "".into()]);
        table
    }
}

/// The report of the causes.
pub fn causes_report(causes: &[Named]) -> Report {
    let found = Rc::new(CauseList(causes.to_vec()));
    let table = found.table();
    let mut report = Report::of("diagnose causes", found);
    report.table(table);
    report
}
