use super::{bare, want};
use crate::JobSheet;
use crate::station::{Block, Cell, Station, Table};
use crate::words::{bounded, plain};

/// Sizes on the card; more do not fit a calm quarter of an hour with a caliper.
const MOST_SIZES: usize = 14;

/// Is it right? A card to write the readings of the first parts on, beside the sizes they were made to.
pub fn check(sheet: &JobSheet) -> Station {
    let sizes = &sheet.result.dimensions;
    let mut station = bare(sheet, "check", "Is it right?", false);
    station.answer = "read the first parts".into();
    if sizes.is_empty() {
        station.wants.push(want("Sizes to check against come with the profile.", ""));
        return station;
    }
    let row = |size: &result::Dimension| {
        let blank = || Cell::number("");
        vec![Cell::words(bounded(&size.name, 80)), Cell::number(plain(size.used_mm, 2)), blank(), blank(), blank()]
    };
    let rows = sizes.iter().filter(|size| size.kind != "position").take(MOST_SIZES).map(row).collect();
    station.blocks.push(Block::Words("Read three parts from different places on the plate, each size twice, at room temperature and after the last cure. Write the mean.".into()));
    station.blocks.push(Block::Table(Table {
        caption: "Card for readings, mm".into(),
        columns: ["size", "made to", "part 1", "part 2", "part 3"].map(String::from).into(),
        shares: vec![0.32, 0.17, 0.17, 0.17, 0.17],
        rows,
    }));
    station.wants.push(want("Readings of made parts. Until they are in, nothing here is called right.", ""));
    station
}
