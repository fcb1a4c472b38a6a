//! Readings of made parts to verdicts, tone lots, and what the bench has learnt.
