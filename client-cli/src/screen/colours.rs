//! Colours, by what they say. Pipes by medium: ISO 14726 (fresh water blue, sea water green, fuel brown, lubricating oil
//! orange, air grey). Alerts: MSC.302(87) with its symbols' shapes. No colour ever stands alone: a word or a shape says the
//! same, so `NO_COLOR` loses nothing.

use deadship_run::view::Flows;
use ratatui::style::{Color, Modifier, Style};

/// What something is, for the eye.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Ink {
    /// Running text.
    Plain,
    /// What matters less.
    Faint,
    /// Headings, names that count.
    Strong,
    /// The chosen row.
    Chosen,
    /// The bar at the top.
    Bar,
    /// An alarm.
    Alarm,
    /// A warning.
    Warning,
    /// A caution.
    Caution,
    /// Works, is live, is well.
    Live,
    /// Does not work, is dead: no fault by itself.
    Dead,
    /// Sea water.
    SeaWater,
    /// Fresh water.
    FreshWater,
    /// Fuel.
    Fuel,
    /// Lubricating oil.
    LubeOil,
    /// Air.
    Air,
    /// What is typed.
    Typed,
    /// A refusal.
    Refused,
}

impl Ink {
    /// All of them, for tests and the legend.
    #[cfg(test)]
    pub(crate) const ALL: [Ink; 17] = [
        Ink::Plain,
        Ink::Faint,
        Ink::Strong,
        Ink::Chosen,
        Ink::Bar,
        Ink::Alarm,
        Ink::Warning,
        Ink::Caution,
        Ink::Live,
        Ink::Dead,
        Ink::SeaWater,
        Ink::FreshWater,
        Ink::Fuel,
        Ink::LubeOil,
        Ink::Air,
        Ink::Typed,
        Ink::Refused,
    ];

    /// The colour of what flows; what is no pipe has none of its own.
    pub(crate) fn of(flows: Flows) -> Ink {
        match flows {
            Flows::SeaWater => Ink::SeaWater,
            Flows::FreshWater => Ink::FreshWater,
            Flows::Fuel => Ink::Fuel,
            Flows::LubeOil => Ink::LubeOil,
            Flows::Air => Ink::Air,
            _ => Ink::Plain,
        }
    }

    /// The colour of an alert's priority.
    pub(crate) fn of_priority(priority: &str) -> Ink {
        match priority {
            "alarm" => Ink::Alarm,
            "warning" => Ink::Warning,
            _ => Ink::Caution,
        }
    }
}

/// The ground of every screen: black of the fixed part of the 256 colours, so that contrast does not hang on a theme.
pub(crate) const GROUND: u8 = 16;

/// With or without colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Palette {
    coloured: bool,
}

impl Palette {
    /// With colours or without.
    pub(crate) const fn new(coloured: bool) -> Palette {
        Palette { coloured }
    }

    /// As the environment wants it: `NO_COLOR` set to anything means none.
    pub(crate) fn from_environment() -> Palette {
        Palette::new(std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty()))
    }

    /// Foreground and background of an ink, as indices of the 256 colours.
    pub(crate) const fn indices(ink: Ink) -> (u8, u8) {
        match ink {
            Ink::Plain => (252, GROUND),
            Ink::Faint => (246, GROUND),
            Ink::Strong => (231, GROUND),
            Ink::Chosen => (16, 252),
            Ink::Bar => (231, 236),
            Ink::Alarm => (203, GROUND),
            Ink::Warning => (214, GROUND),
            Ink::Caution => (227, GROUND),
            Ink::Live => (120, GROUND),
            Ink::Dead => (246, GROUND),
            Ink::SeaWater => (71, GROUND),
            Ink::FreshWater => (75, GROUND),
            Ink::Fuel => (137, GROUND),
            Ink::LubeOil => (208, GROUND),
            Ink::Air => (250, GROUND),
            Ink::Typed => (231, GROUND),
            Ink::Refused => (217, GROUND),
        }
    }

    /// The style of an ink.
    pub(crate) fn style(self, ink: Ink) -> Style {
        let weight = match ink {
            Ink::Strong | Ink::Alarm | Ink::Typed => Modifier::BOLD,
            Ink::Chosen | Ink::Bar if !self.coloured => Modifier::REVERSED,
            _ => Modifier::empty(),
        };
        let style = Style::new().add_modifier(weight);
        if !self.coloured {
            return style;
        }
        let (front, back) = Palette::indices(ink);
        style.fg(Color::Indexed(front)).bg(Color::Indexed(back))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Red, green and blue of one of the 240 fixed ones of the 256 colours: a cube of six steps, then 24 greys (the
    /// table of xterm, which terminals share; from memory).
    fn rgb(index: u8) -> [f64; 3] {
        let step = |step: u8| if step == 0 { 0.0 } else { f64::from(55 + 40 * u32::from(step)) };
        match index {
            16..=231 => {
                let cube = index - 16;
                [step(cube / 36), step(cube / 6 % 6), step(cube % 6)]
            }
            232..=255 => [f64::from(8 + 10 * u32::from(index - 232)); 3],
            _ => panic!("colour {index} hangs on the terminal's theme"),
        }
    }

    /// Relative luminance and contrast as WCAG 2.2 defines them.
    fn luminance(index: u8) -> f64 {
        let linear = |part: f64| {
            let part = part / 255.0;
            if part <= 0.04045 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
        };
        let [red, green, blue] = rgb(index).map(linear);
        0.2126 * red + 0.7152 * green + 0.0722 * blue
    }

    fn contrast(one: u8, other: u8) -> f64 {
        let (one, other) = (luminance(one), luminance(other));
        (one.max(other) + 0.05) / (one.min(other) + 0.05)
    }

    #[test]
    fn the_contrast_of_the_standard_is_computed_right() {
        // WCAG 2.2: black on white is 21:1.
        assert!((contrast(16, 231) - 21.0).abs() < 1e-9);
    }

    #[test]
    fn everything_can_be_read() {
        for ink in Ink::ALL {
            let (front, back) = Palette::indices(ink);
            let contrast = contrast(front, back);
            // WCAG 2.2, 1.4.3: at least 4.5:1 for text.
            assert!(contrast >= 4.5, "{ink:?}: {contrast:.1}:1");
        }
    }

    #[test]
    fn without_colour_there_is_none() {
        for ink in Ink::ALL {
            let style = Palette::new(false).style(ink);
            assert_eq!((style.fg, style.bg), (None, None), "{ink:?}");
        }
    }
}
