//! The job document: types, reading with good errors, schema, atomic store.
