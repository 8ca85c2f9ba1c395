//! How far a movement is enlarged in a picture: so that its largest shift is a fixed share of the tooth's height, or so that
//! a place of the tooth travels a given distance. The enlarged movement is a true rotation about the same axis, of an angle
//! enlarged as much ([`gomphosis_solver::RigidMotion::carried_on`]), so that the tooth keeps its size and shape.

use clap::ValueEnum;
use gomphosis_solver::PlanarMotion;

use super::Subject;
use super::style::Style;

/// Where travel is measured, on the long axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, ValueEnum)]
pub(crate) enum Spot {
    /// At the height of the attachment
    #[default]
    Attachment,
    /// At the height of the cusp tip or incisal edge
    CuspTip,
    /// At the alveolar crest
    Crest,
}

/// What decides how far a movement is enlarged.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) enum Shown {
    /// The largest shift takes a fixed share of the tooth's height.
    #[default]
    Share,
    /// As far as this.
    As(Enlargement),
}

/// How far a movement is enlarged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Enlargement {
    /// Drawn over true.
    pub(crate) factor: f64,
    because: Because,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Because {
    /// Largest shift over the tooth's height.
    Share(f64),
    Travel {
        mm: f64,
        at: Spot,
    },
}

/// Largest angle that a picture turns the tooth by, degrees.
const LARGEST_TURN_DEG: f64 = 45.0;

/// Steps of enlargement between powers of ten: near enough to each other that a share keeps its first digit.
const ROUND: [f64; 25] = [
    1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.0, 3.2, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 6.5,
    7.0, 8.0, 9.0, 10.0,
];

impl Enlargement {
    /// For motions whose largest shift is `largest_mm`: a round factor that makes it about `share` of the tooth's height.
    /// A tooth that does not move is drawn to scale.
    pub(crate) fn of_share(share: f64, largest_mm: f64, height_mm: f64) -> Self {
        let wanted = share * height_mm / largest_mm;
        let factor = if wanted.is_finite() && wanted > 0.0 { round(wanted) } else { 1.0 };
        Self { factor, because: Because::Share(factor * largest_mm / height_mm) }
    }

    /// So that a place of the tooth travels `mm` under a motion; `tip_rad` is the largest tip of the motions that are drawn.
    ///
    /// # Errors
    /// A sentence, if the place does not travel or the tooth would turn too far to be drawn.
    pub(crate) fn for_travel(
        subject: &Subject<'_>,
        [mm, largest_tip_rad]: [f64; 2],
        at: Spot,
        motion: &PlanarMotion,
    ) -> Result<Self, String> {
        let height = at.height_mm(subject);
        let travel = motion.travel_mm(height).abs();
        let name = at.name(subject);
        // A nanometre for each newton is rounding.
        if travel < 1e-6 * subject.case.load.force_n.abs().max(1e-6) {
            return Err(format!(
                "the {name} does not travel under this load; measure at another place, --at"
            ));
        }
        let factor = mm / travel;
        let turn = (factor * largest_tip_rad).to_degrees().abs();
        if turn > LARGEST_TURN_DEG {
            let most = mm * LARGEST_TURN_DEG / turn;
            return Err(format!(
                "for {mm} mm at the {name} the tooth would turn by {turn:.0} degrees, and a picture shows at most \
                 {LARGEST_TURN_DEG}; up to {} mm can be drawn there",
                (1e3 * most).floor() / 1e3
            ));
        }
        Ok(Self { factor, because: Because::Travel { mm, at } })
    }

    /// How the movement is drawn, in words, for a note.
    pub(crate) fn short(self, style: Style) -> String {
        if self.factor > 1.0 {
            style.tell("movement enlarged {} times", &[&self.number(style, self.factor)])
        } else if self.factor < 1.0 {
            style.tell("movement reduced {} times", &[&self.number(style, 1.0 / self.factor)])
        } else {
            style.say("movement to scale")
        }
    }

    /// The same with its reason.
    pub(crate) fn in_full(self, subject: &Subject<'_>) -> String {
        let (style, short) = (subject.style, self.short(subject.style));
        match self.because {
            Because::Share(share) => {
                let percent = style.fixed(100.0 * share, 0);
                style.tell("{}: the largest shift is {} % of the tooth's height", &[&short, &percent])
            }
            Because::Travel { mm, at } => {
                let travel = style.tell(at.travel_text(subject), &[&style.number(mm)]);
                style.tell("{}: {}", &[&short, &travel])
            }
        }
    }

    /// A factor as a number: round ones as they are, others to three digits.
    fn number(self, style: Style, factor: f64) -> String {
        match self.because {
            Because::Share(_) => style.number(factor),
            Because::Travel { .. } => {
                let decimals = (2.0 - factor.log10().floor()).clamp(0.0, 2.0) as usize;
                style.fixed(factor, decimals)
            }
        }
    }
}

impl Spot {
    fn height_mm(self, subject: &Subject<'_>) -> f64 {
        match self {
            Self::Attachment => subject.height_mm(),
            Self::CuspTip => subject.cusp_height_mm,
            Self::Crest => 0.0,
        }
    }

    fn name(self, subject: &Subject<'_>) -> &'static str {
        match self {
            Self::Attachment => "attachment",
            Self::CuspTip => subject.case.top_name(),
            Self::Crest => "crest",
        }
    }

    fn travel_text(self, subject: &Subject<'_>) -> &'static str {
        match (self, subject.case.top_name()) {
            (Self::Attachment, _) => "the attachment travels {} mm",
            (Self::CuspTip, "incisal edge") => "the incisal edge travels {} mm",
            (Self::CuspTip, "cusp tip") => "the cusp tip travels {} mm",
            (Self::CuspTip, _) => "the top of the stub travels {} mm",
            (Self::Crest, _) => "the root travels {} mm at the crest",
        }
    }
}

/// The nearest round number, or one over a round number below 1.
fn round(wanted: f64) -> f64 {
    if wanted < 1.0 {
        return 1.0 / round(1.0 / wanted);
    }
    let power = 10_f64.powf(wanted.log10().floor());
    let away = |step: f64| (step * power / wanted).ln().abs();
    // `ROUND` is not empty.
    power * ROUND.into_iter().min_by(|a, b| away(*a).total_cmp(&away(*b))).unwrap_or(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_shift_keeps_its_share_within_a_twelfth() {
        for k in 0..400 {
            let largest = 1e-4 * 1.031_f64.powi(k);
            let Enlargement { factor, because } = Enlargement::of_share(0.07, largest, 20.0);
            let share = factor * largest / 20.0;
            assert!((share / 0.07 - 1.0).abs() < 1.0 / 12.0, "{share} of the height with {factor}");
            assert_eq!(because, Because::Share(share));
            let round = factor.max(1.0 / factor);
            let digits = round / 10_f64.powf((round.log10() + 1e-9).floor());
            assert!((10.0 * digits - (10.0 * digits).round()).abs() < 1e-6, "{round} is not round");
        }
        assert_eq!(Enlargement::of_share(0.07, 0.0, 20.0).factor.to_bits(), 1.0_f64.to_bits());
    }
}
