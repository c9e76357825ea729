//! The stages of a work order: which may follow which, doing what, and by whom.

use serde::Serialize;

use crate::error::{Error, Result};
use crate::staff::Roles;

/// Where an order stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, sqlx::Type, utoipa::ToSchema)]
#[sqlx(type_name = "text", rename_all = "snake_case")]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    Received,
    Inspecting,
    AwaitingApproval,
    Approved,
    InRepair,
    PlayTest,
    Ready,
    Collected,
    Returned,
}

/// What people do that may move an order on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Move {
    /// Somebody looked for a cause: a check, or a finding.
    Look,
    /// The steps as planned cost no more than was agreed.
    PlanWithin,
    /// The steps as planned cost more than was agreed.
    PlanBeyond,
    /// The last step that was planned was dropped, and none was done.
    PlanNothing,
    Approve,
    Decline,
    /// The customer wants no more done than what is done already.
    DeclineRest,
    /// A step was done, and others wait.
    Work,
    /// The last step was done.
    AllDone,
    Quiet,
    StillBuzzes,
    /// It goes back without repair: nothing found, or not worth it.
    GiveBack,
    /// Taken up again before it was handed back.
    Reopen,
    HandBack,
}

/// Who may do it, beside the owner.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    Counter,
    Bench,
    Either,
}

use By::{Bench, Counter, Either};
use Stage::{
    Approved, AwaitingApproval, Collected, InRepair, Inspecting, PlayTest, Ready, Received, Returned,
};

/// The whole of it: from where, doing what, to where, by whom. What is not here is refused.
pub const MOVES: &[(Stage, Move, Stage, By)] = &[
    (Received, Move::Look, Inspecting, Either),
    (Inspecting, Move::Look, Inspecting, Either),
    (AwaitingApproval, Move::Look, AwaitingApproval, Either),
    (Approved, Move::Look, Approved, Either),
    (InRepair, Move::Look, InRepair, Either),
    (PlayTest, Move::Look, PlayTest, Either),
    (Received, Move::PlanWithin, Approved, Either),
    (Inspecting, Move::PlanWithin, Approved, Either),
    (AwaitingApproval, Move::PlanWithin, Approved, Either),
    (Approved, Move::PlanWithin, Approved, Either),
    (InRepair, Move::PlanWithin, InRepair, Either),
    (PlayTest, Move::PlanWithin, InRepair, Either),
    (Received, Move::PlanBeyond, AwaitingApproval, Either),
    (Inspecting, Move::PlanBeyond, AwaitingApproval, Either),
    (AwaitingApproval, Move::PlanBeyond, AwaitingApproval, Either),
    (Approved, Move::PlanBeyond, AwaitingApproval, Either),
    (InRepair, Move::PlanBeyond, AwaitingApproval, Either),
    (PlayTest, Move::PlanBeyond, AwaitingApproval, Either),
    (AwaitingApproval, Move::PlanNothing, Inspecting, Either),
    (Approved, Move::PlanNothing, Inspecting, Either),
    (Received, Move::Approve, Received, Either),
    (Inspecting, Move::Approve, Inspecting, Either),
    (AwaitingApproval, Move::Approve, Approved, Either),
    (Approved, Move::Approve, Approved, Either),
    (InRepair, Move::Approve, InRepair, Either),
    (Received, Move::Decline, Returned, Either),
    (Inspecting, Move::Decline, Returned, Either),
    (AwaitingApproval, Move::Decline, Returned, Either),
    (Approved, Move::Decline, Returned, Either),
    (AwaitingApproval, Move::DeclineRest, PlayTest, Either),
    (InRepair, Move::DeclineRest, PlayTest, Either),
    (Inspecting, Move::Work, InRepair, Either),
    (Approved, Move::Work, InRepair, Either),
    (InRepair, Move::Work, InRepair, Either),
    (Inspecting, Move::AllDone, PlayTest, Either),
    (Approved, Move::AllDone, PlayTest, Either),
    (InRepair, Move::AllDone, PlayTest, Either),
    (Inspecting, Move::Quiet, Ready, Either),
    (PlayTest, Move::Quiet, Ready, Either),
    (Inspecting, Move::StillBuzzes, Inspecting, Either),
    (InRepair, Move::StillBuzzes, Inspecting, Either),
    (PlayTest, Move::StillBuzzes, Inspecting, Either),
    (Ready, Move::StillBuzzes, Inspecting, Either),
    (Received, Move::GiveBack, Returned, Either),
    (Inspecting, Move::GiveBack, Returned, Bench),
    (AwaitingApproval, Move::GiveBack, Returned, Bench),
    (Approved, Move::GiveBack, Returned, Bench),
    (PlayTest, Move::GiveBack, Returned, Bench),
    (Ready, Move::Reopen, Inspecting, Either),
    (Returned, Move::Reopen, Inspecting, Either),
    (Ready, Move::HandBack, Collected, Counter),
    (Returned, Move::HandBack, Returned, Counter),
];

impl Stage {
    pub const ALL: [Stage; 9] = [
        Received,
        Inspecting,
        AwaitingApproval,
        Approved,
        InRepair,
        PlayTest,
        Ready,
        Collected,
        Returned,
    ];

    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Received => "received",
            Inspecting => "inspecting",
            AwaitingApproval => "awaiting_approval",
            Approved => "approved",
            InRepair => "in_repair",
            PlayTest => "play_test",
            Ready => "ready",
            Collected => "collected",
            Returned => "returned",
        }
    }

    #[must_use]
    pub fn of_code(code: &str) -> Option<Stage> {
        Stage::ALL.into_iter().find(|stage| stage.code() == code)
    }

    /// As it is said in the shop.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Received => "Taken in",
            Inspecting => "Being looked at",
            AwaitingApproval => "Waiting for an answer",
            Approved => "Go ahead",
            InRepair => "In repair",
            PlayTest => "To be played",
            Ready => "Ready",
            Collected => "Collected",
            Returned => "Goes back unrepaired",
        }
    }

    /// The same of a bow, which is tried, or of an instrument.
    #[must_use]
    pub fn words_of(self, bow: bool) -> &'static str {
        match self {
            PlayTest if bow => "To be tried",
            other => other.words(),
        }
    }
}

impl Move {
    /// As part of a sentence: "... cannot be {words} now".
    fn words(self, bow: bool) -> &'static str {
        match self {
            Move::Quiet | Move::StillBuzzes if bow => "tried",
            Move::Look => "looked at",
            Move::PlanWithin | Move::PlanBeyond | Move::PlanNothing => "given other steps",
            Move::Approve => "approved",
            Move::Decline | Move::DeclineRest => "declined",
            Move::Work | Move::AllDone => "worked on",
            Move::Quiet | Move::StillBuzzes => "play-tested",
            Move::GiveBack => "sent back unrepaired",
            Move::Reopen => "taken up again",
            Move::HandBack => "handed back",
        }
    }
}

/// The stage that follows, or why none does.
///
/// # Errors
/// A conflict with the reason, or that this part of the shop does not include it.
pub fn after(stage: Stage, act: Move, roles: Roles) -> Result<Stage> {
    after_of(stage, act, roles, false)
}

/// The same, with the reason in the words of a bow or of an instrument.
///
/// # Errors
/// As [`after`].
pub fn after_of(stage: Stage, act: Move, roles: Roles, bow: bool) -> Result<Stage> {
    let Some(&(_, _, next, by)) = MOVES.iter().find(|row| row.0 == stage && row.1 == act) else {
        let why = match (stage, act) {
            (Collected, _) => "It has been collected. When it comes again, take it in as a new visit.",
            (AwaitingApproval, Move::Work | Move::AllDone) => {
                "The customer has not said yes to the estimate yet."
            }
            (Received, Move::Work | Move::AllDone) => "Plan a step first.",
            (Received, Move::Quiet | Move::StillBuzzes) => "Nobody has looked at it yet.",
            (Approved | InRepair, Move::Quiet) => {
                "There are steps that are not done. Do them or drop them first."
            }
            (Returned, _) => "It goes back unrepaired. Take it up again first.",
            (Ready, Move::PlanWithin | Move::PlanBeyond | Move::Look) => {
                "It is ready to go home. Take it up again first."
            }
            (_, Move::HandBack) => "It is not ready yet.",
            _ => "Its stage does not allow that.",
        };
        return Err(Error::Conflict(format!(
            "{}: it cannot be {} now. {why}",
            stage.words_of(bow),
            act.words(bow)
        )));
    };
    let may = match by {
        Counter => roles.counter(),
        Bench => roles.bench(),
        Either => roles.counter() || roles.bench(),
    };
    if may { Ok(next) } else { Err(Error::NotAllowed) }
}
