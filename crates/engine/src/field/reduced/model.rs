//! The model of a chamber: its two states, and answers from them.

use super::super::answer::{Accuracy, FieldAnswer, GridSummary, Phases, Settings, SolverSummary};
use super::super::bounds::Energies;
use super::super::round::{Entries, State, entries, states};
use super::ReducedError;
use super::chamber::{Chamber, Design, Outside};
use super::state::{FourEnergies, Material, ReducedState};
use crate::case::Case;
use crate::grid::Grid;
use crate::stop::Stop;
use crate::units::VACUUM_PERMITTIVITY;
use ndarray::Array2;
use std::sync::Arc;

/// What a reduced model is made with.
#[derive(Clone, Debug)]
pub struct ReducedSettings<'a> {
    /// What is left out in the second state, if there is one ([`Case::without`]).
    pub without: Option<&'a str>,
    /// Driven conductors by name.
    pub drive: &'a [String],
    /// Those of them that are told among each other by charges only ([`Settings::apart`]).
    pub apart: &'a [String],
    /// Who may ask for an end.
    pub stop: Stop,
}

/// How large a model is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Extent {
    /// Designs that were solved.
    pub designs: usize,
    /// Cells of its grid, after symmetry.
    pub cells: usize,
    /// Most vectors of any of its spaces.
    pub vectors: usize,
    /// Most terms of any of its energies.
    pub terms: usize,
    /// Bytes that it takes while it answers.
    pub bytes: usize,
}

/// A reduced model of one chamber.
pub struct ReducedModel {
    chamber: Arc<Chamber>,
    without: Option<String>,
    drive: Vec<String>,
    apart: Vec<String>,
    /// What the entries of every state are.
    looks: Vec<State>,
    states: Vec<ReducedState>,
    designs: usize,
}

/// Grids that answers move about in: one for each thread.
pub struct Scratch {
    grids: Vec<Grid>,
}

impl ReducedModel {
    /// Makes a model of a chamber: solves its reference and `designs`, learns from `pool` how energies depend on the design,
    /// and checks that with `others`. All must lie in the chamber.
    ///
    /// # Errors
    /// See [`ReducedError`].
    pub fn new(
        chamber: Arc<Chamber>,
        [designs, pool, others]: [&[Case]; 3],
        settings: &ReducedSettings<'_>,
    ) -> Result<Self, ReducedError> {
        let ReducedSettings {
            without,
            drive,
            apart,
            stop,
        } = *settings;
        for case in designs.iter().chain(others) {
            chamber.check_painting(stop, case)?;
        }
        let placed = |cases: &[Case]| {
            cases
                .iter()
                .map(|case| chamber.design_of(case))
                .collect::<Result<Vec<_>, _>>()
        };
        let mut solved = vec![chamber.design.clone()];
        solved.extend(placed(designs)?);
        let mut pool = placed(pool)?;
        pool.extend(solved.iter().cloned());
        let others = placed(others)?;
        let case = &chamber.halved.case;
        let rows: Option<Vec<usize>> = drive
            .iter()
            .map(|name| case.conductors.iter().position(|c| &c.name == name))
            .collect();
        let rows = rows.ok_or(Outside::OtherDrives)?;
        let looks = states(case, without, &rows, apart);
        let mut reduced = Vec::new();
        for (number, look) in looks.iter().enumerate() {
            let mut grid = chamber.grid.clone();
            if let (1, Some(name)) = (number, without) {
                let span = grid.open_span_m;
                grid = Grid::paint_until(stop, &case.without(name), grid.axes);
                grid.open_span_m = span;
            }
            reduced.push(ReducedState::of(
                grid,
                &Material {
                    chamber: &chamber,
                    drives: &look.drives,
                    designs: &solved,
                    pool: &pool,
                    others: &others,
                    stop,
                },
            )?);
        }
        Ok(Self {
            without: without.map(str::to_owned),
            drive: drive.to_vec(),
            apart: apart.to_vec(),
            looks,
            states: reduced,
            designs: solved.len(),
            chamber,
        })
    }

    /// Fineness M of its grid.
    pub fn fineness(&self) -> f64 {
        self.chamber.fineness
    }

    /// The chamber it answers for.
    pub fn chamber(&self) -> &Chamber {
        &self.chamber
    }

    /// How large it is.
    pub fn extent(&self) -> Extent {
        let sizes: Vec<[usize; 4]> = self.states.iter().map(ReducedState::sizes).collect();
        let most = |at: [usize; 2]| {
            sizes
                .iter()
                .flat_map(|s| at.map(|at| s[at]))
                .max()
                .unwrap_or(0)
        };
        Extent {
            designs: self.designs,
            cells: self.chamber.grid.cells(),
            vectors: most([0, 2]),
            terms: most([1, 3]),
            bytes: self.states.iter().map(ReducedState::bytes).sum(),
        }
    }

    /// Room to answer in.
    pub fn scratch(&self) -> Scratch {
        Scratch {
            grids: self.states.iter().map(|state| state.grid.clone()).collect(),
        }
    }

    /// The answers to some cases, which [`judged`](crate::field::judged) judges: many at once cost much less than one after
    /// the other. None of them where the model was not made for what the settings ask.
    ///
    /// # Errors
    /// Case by case: it is none of the chamber, or its energies make no matrix that can be solved.
    pub fn answers(
        &self,
        cases: &[&Case],
        without: Option<&str>,
        settings: &Settings,
        scratch: &mut Scratch,
    ) -> Vec<Result<FieldAnswer, ReducedError>> {
        let is_made_for = without == self.without.as_deref()
            && settings.drive.as_ref() == Some(&self.drive)
            && settings.apart == self.apart
            && !settings.derivatives;
        let design_of = |case: &&Case| match is_made_for {
            true => self.chamber.design_of(case),
            false => Err(Outside::OtherDrives),
        };
        let designs: Vec<Result<Design, Outside>> = cases.iter().map(design_of).collect();
        let inside: Vec<&Design> = designs
            .iter()
            .filter_map(|design| design.as_ref().ok())
            .collect();
        let mut found = self.of_designs(&inside, scratch).into_iter();
        let answer = |design: Result<Design, Outside>| -> Result<FieldAnswer, ReducedError> {
            design?;
            found.next().flatten().ok_or(ReducedError::NotDefinite)
        };
        designs.into_iter().map(answer).collect()
    }

    fn of_designs(&self, designs: &[&Design], scratch: &mut Scratch) -> Vec<Option<FieldAnswer>> {
        let states = self.states.iter().zip(&mut scratch.grids);
        let of_states: Vec<_> = states
            .map(|(state, grid)| state.energies(&self.chamber, grid, designs))
            .collect();
        let one = |at: usize| {
            let of_design: Option<Vec<&[FourEnergies; 2]>> =
                of_states.iter().map(|state| state[at].as_ref()).collect();
            let of_design = of_design?;
            let [all, half] = [0, 1].map(|part| {
                let energies = of_design.iter().zip(&self.looks);
                energies
                    .map(|(energies, look)| self.scaled(&energies[part], look))
                    .collect::<Vec<Energies>>()
            });
            Some(self.assembled(&all, &half))
        };
        (0..designs.len()).map(one).collect()
    }

    fn scaled(&self, energies: &FourEnergies, look: &State) -> Energies {
        let scale = VACUUM_PERMITTIVITY * self.chamber.halved.factor;
        let looks = look.looks.clone();
        // Where charges tell an entry, those of a network are its energy.
        let told = |inner: &Array2<f64>, outer: &Array2<f64>| {
            Array2::from_shape_fn(inner.dim(), |at| match looks.is_by_charges(at) {
                true => outer[at] * scale,
                false => inner[at] * scale,
            })
        };
        Energies {
            node: &energies.node * scale,
            trilinear: told(&energies.trilinear, &energies.node),
            flux: told(&energies.flux, &energies.cell),
            cell: &energies.cell * scale,
            looks,
            flux_slack: energies.slack.iter().map(|slack| slack * scale).collect(),
            share: Array2::zeros((look.drives.len(), 0)),
        }
    }

    /// The answer that energies give, with what those of half of the designs say of the reduction.
    fn assembled(&self, all: &[Energies], half: &[Energies]) -> FieldAnswer {
        let without = self.without.as_deref();
        let Entries {
            mut with,
            mut shift,
            estimated,
        } = entries(&self.looks, all, without, self.chamber.fineness);
        let lost: Vec<Energies> = all
            .iter()
            .zip(half)
            .map(|(all, half)| all.minus(half))
            .collect();
        with.widen(&lost[0].reduction_error());
        let interpolation = self
            .states
            .iter()
            .map(ReducedState::interpolation_error)
            .fold(0.0, f64::max);
        with.loosen(2.0 * interpolation);
        if let (Some(shift), [full, absent]) = (&mut shift, &lost[..]) {
            shift.without.widen(&absent.reduction_error());
            shift.without.loosen(2.0 * interpolation);
            let change = full.select(&self.looks[1].rows).minus(absent);
            shift.estimated_error += &change.reduction_error();
        }
        FieldAnswer {
            with,
            shift,
            by_permittivity: Vec::new(),
            by_permittivity_without: Vec::new(),
            derivatives: None,
            derivatives_without: None,
            grid: GridSummary {
                cells: self.chamber.grid.cells(),
                shape: self.chamber.grid.cell_dims().to_vec(),
                fineness: self.chamber.fineness,
                mirrors: self.chamber.halved.mirrors.clone(),
            },
            solver: SolverSummary {
                iterations: Vec::new(),
                residual: 0.0,
                seconds: 0.0,
                phases: Phases::default(),
            },
            accuracy: Accuracy::of_entries(estimated, 0.0),
            potentials: None,
        }
    }
}
