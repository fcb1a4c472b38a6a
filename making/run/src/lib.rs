//! Starts, loads, plate packing, the pot's ledger, costs.
