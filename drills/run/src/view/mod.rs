//! What a screen shows: the ship as a drawing, which does not change, and how things stand.
//!
//! Readings are not in it: who shows a screen asks for them apart, because they change far more often.

mod chart;
mod situation;

pub use chart::{
    Chart, ChartAct, ChartCheck, ChartComponent, ChartExpect, ChartFault, ChartKind, ChartList, ChartNode,
    ChartPlace, ChartReading, ChartStep, Flows,
};
pub(crate) use situation::resets;
pub use situation::{
    AlertNow, AskedNow, CrewNow, ExpectNow, FaultPlanned, FaultSetNow, OrderNow, Situation, StepNow,
};

#[cfg(test)]
mod tests;
