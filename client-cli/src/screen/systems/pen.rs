//! Lines drawn from pieces that stay whole, broken between them.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::state::{Shape, StateNow, state_of};
use crate::screen::text::{cut, width};
use ratatui::text::{Line, Span};

/// Lines, each with the component that it is about.
pub(crate) type Drawn = Vec<(Line<'static>, Option<usize>)>;

/// From this width on there is room for more than the most needed.
const ROOMY: usize = 110;

/// A piece of a line that is not broken.
#[derive(Clone, Debug, Default)]
pub(super) struct Piece {
    spans: Vec<(String, Ink)>,
    components: Vec<usize>,
}

impl Piece {
    /// A piece of one ink.
    pub(super) fn new(text: impl Into<String>, ink: Ink) -> Piece {
        Piece { spans: vec![(text.into(), ink)], components: Vec::new() }
    }

    /// Goes on with another ink.
    pub(super) fn and(mut self, text: impl Into<String>, ink: Ink) -> Piece {
        self.spans.push((text.into(), ink));
        self
    }

    /// Goes on with another piece.
    pub(super) fn then(mut self, other: Piece) -> Piece {
        self.spans.extend(other.spans);
        self.components.extend(other.components);
        self
    }

    /// It is about this component.
    pub(super) fn about(mut self, component: usize) -> Piece {
        self.components.push(component);
        self
    }

    /// Width in cells.
    pub(super) fn width(&self) -> usize {
        self.spans.iter().map(|(text, _)| width(text)).sum()
    }
}

/// What draws.
pub(super) struct Pen<'m> {
    /// What is known.
    pub(super) model: &'m Model,
    palette: Palette,
    wide: usize,
    chosen: Option<usize>,
    /// Lines drawn.
    pub(super) drawn: Drawn,
    /// Components in the order in which they are drawn, each once.
    pub(super) order: Vec<usize>,
}

impl<'m> Pen<'m> {
    /// On lines of this width.
    pub(super) fn new(model: &'m Model, palette: Palette, wide: usize, chosen: Option<usize>) -> Pen<'m> {
        Pen { model, palette, wide: wide.max(1), chosen, drawn: Vec::new(), order: Vec::new() }
    }

    /// Is there room for more than the most needed?
    pub(super) fn roomy(&self) -> bool {
        self.wide >= ROOMY
    }

    /// Cells of a line.
    pub(super) fn wide(&self) -> usize {
        self.wide
    }

    /// Is it the chosen component?
    pub(super) fn is_chosen(&self, component: usize) -> bool {
        self.chosen == Some(component)
    }

    /// A component's label in the ink that its state gives.
    pub(super) fn label(&self, component: usize, label: &str, state: &StateNow) -> Piece {
        let ink = match state.shape {
            Shape::Latched => Ink::Alarm,
            Shape::Unseen => Ink::Faint,
            _ => Ink::Plain,
        };
        let ink = if self.is_chosen(component) { Ink::Chosen } else { ink };
        Piece::new(label, ink).about(component)
    }

    /// How a component is.
    pub(super) fn state(&self, component: usize) -> StateNow {
        state_of(self.model, component)
    }

    /// An empty line.
    pub(super) fn gap(&mut self) {
        if !self.drawn.is_empty() {
            self.drawn.push((Line::default(), None));
        }
    }

    /// Pieces in a row, broken between them where the line ends; `first` stands before the first line, `next` before others.
    pub(super) fn row(&mut self, first: &Piece, next: &Piece, pieces: impl IntoIterator<Item = Piece>) {
        let mut line = first.clone();
        let mut empty = true;
        for piece in pieces {
            if !empty && line.width() + piece.width() > self.wide {
                self.put(std::mem::replace(&mut line, next.clone()));
            }
            line = line.then(piece);
            empty = false;
        }
        self.put(line);
    }

    /// One line, cut where it does not fit.
    fn put(&mut self, line: Piece) {
        let mut left = self.wide;
        let mut spans = Vec::with_capacity(line.spans.len());
        for (text, ink) in line.spans {
            let text = cut(&text, left);
            left -= width(&text).min(left);
            if !text.is_empty() {
                spans.push(Span::styled(text, self.palette.style(ink)));
            }
        }
        for &component in &line.components {
            if !self.order.contains(&component) {
                self.order.push(component);
            }
        }
        let chosen = line.components.iter().find(|component| Some(**component) == self.chosen);
        let about = chosen.or(line.components.first()).copied();
        self.drawn.push((Line::from(spans), about));
    }
}
