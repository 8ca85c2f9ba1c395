//! Events of long work. Libraries report, the caller decides how to show them and when to stop.

use std::ops::ControlFlow;

/// A step of the way from a specification to a result, in the order in which they run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Stage {
    /// Lattice, snap and cut along the root.
    Lattice,
    /// Smoothing of tooth and bone.
    Improve,
    /// Insertion of the ligament layers.
    Ligament,
    /// Curved mid-side nodes and their guard.
    Curve,
    /// Element matrices and the global system.
    Assembly,
    /// Ordering and factorisation, or set-up of a preconditioner.
    Factor,
    /// The six unit loads.
    Solve,
    /// Compliance, centres, ligament stress.
    Mechanics,
    /// Figures and tables.
    Figures,
}

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Event {
    /// A stage begins.
    Started(Stage),
    /// Part of a stage is done: `done` of `total` steps.
    Progress {
        /// The running stage.
        stage: Stage,
        /// Steps finished.
        done: usize,
        /// Steps in all.
        total: usize,
    },
    /// A stage ended.
    Finished(Stage),
}

/// Receiver of events. Returning [`ControlFlow::Break`] asks the work to stop with its `Interrupted` error.
pub trait Observer: Sync {
    /// Called from the thread that runs the work, between steps.
    fn on_event(&self, event: Event) -> ControlFlow<()>;
}

/// Observer that ignores every event.
#[derive(Debug, Clone, Copy, Default)]
pub struct Silent;

impl Observer for Silent {
    fn on_event(&self, _event: Event) -> ControlFlow<()> {
        ControlFlow::Continue(())
    }
}
