//! Measured sizes to the round sizes the maker meant; tables of fits, drills, threads, stock.
