//! Hands on a ship: acts by their words.

#[path = "../common/ship_files.rs"]
mod ship_files;

use deadship_plant::Plant;
use deadship_plant::ctx::Found;
use deadship_plant::kind::{Act, Block, ParamType, Verb};
use deadship_plant::unit::parse_quantity;

/// A ship that is worked.
pub struct Hands {
    pub plant: Plant,
}

impl Hands {
    /// The default ship in one of its states.
    pub fn on(state: &str) -> Hands {
        Hands::on_ship("quillmere", state, "")
    }

    /// A ship in one of her states, with more fitted by one more file.
    pub fn on_ship(ship: &str, state: &str, more: &str) -> Hands {
        Hands::on_changed(ship, state, more, ("", ""))
    }

    /// The same with one text in her files replaced by another.
    pub fn on_changed(ship: &str, state: &str, more: &str, (old, new): (&str, &str)) -> Hands {
        let mut files = ship_files::files(ship);
        assert!(files.iter().any(|(_, text)| text.contains(old)), "nothing says {old}");
        if !old.is_empty() {
            files.iter_mut().for_each(|(_, text)| *text = text.replace(old, new));
        }
        files.push(("more.toml".into(), format!("format = 1\n{more}")));
        files.sort();
        let spec = ship_files::read(&files);
        Hands { plant: Plant::new(spec, Some(state)).expect("a known state") }
    }

    /// Dead ship with air made and these sets lined up and primed.
    pub fn lined_up(sets: &[&str]) -> Hands {
        let mut ship = Hands::on("dead ship");
        ship.run(1.0);
        ship.act("open air.receiver.emergency.valve");
        ship.line_up(sets);
        ship
    }

    /// The same with the starting air valve of the emergency receiver shut.
    pub fn lined_up_without_air(sets: &[&str]) -> Hands {
        let mut ship = Hands::on("dead ship");
        ship.run(1.0);
        ship.line_up(sets);
        ship
    }

    fn line_up(&mut self, sets: &[&str]) {
        let ship = self;
        for act in [
            "close air.receiver.emergency.drain",
            "start air.compressor.emergency",
            "open sea.chest.low.valve",
            "open sea.overboard.valve",
            "close sea.me.valve",
            "start sea.pump.harbour",
            "reset fuel.diesel.quick-closing",
            "open fuel.diesel.quick-closing",
            "set fuel.changeover position diesel",
            "start fuel.pump.standby",
        ] {
            ship.act(act);
        }
        for set in sets {
            for part in
                ["sea.inlet", "sea.outlet", "ht.valve", "lt.valve", "fuel.valve", "fuel.standby", "air.valve"]
            {
                ship.act(&format!("open {set}.{part}"));
            }
            ship.act(&format!("start {set}.priming"));
            ship.act(&format!("set {set}.controls turning-gear out"));
            ship.act(&format!("reset {set}.controls"));
        }
        ship.run(700.0);
    }

    /// The first set alone on the main switchboard, harbour pump running.
    pub fn on_the_board() -> Hands {
        let mut ship = Hands::lined_up(&["dg1"]);
        ship.act("start dg1.controls");
        ship.run(20.0);
        ship.act("set dg1.generator excitation on");
        ship.run(8.0);
        ship.act("start msb.insulation");
        ship.run(0.1);
        ship.act("close dg1.breaker");
        ship.run(1.0);
        ship
    }

    /// Power management in manual, where the ship has one: no set comes or goes by itself because of load or alerts.
    pub fn manage_by_hand(&mut self) {
        if self.plant.compiled.component("msb.management").is_some() {
            self.act("set msb.management mode manual");
        }
    }

    pub fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds * 20.0) as u64 {
            self.plant.step().expect("no failure");
        }
    }

    /// Names of alerts in the order in which they came, until one of them.
    pub fn alerts_until(&mut self, last: &str, seconds: f64) -> Vec<String> {
        let compiled = self.plant.compiled.clone();
        let mut came = Vec::new();
        for _ in 0..(seconds * 20.0) as u64 {
            for finding in self.plant.step().expect("no failure") {
                if let Found::AlertOn(index) = finding.what {
                    came.push(compiled.spec.alerts[index].name.clone());
                }
            }
            if came.iter().any(|name| name == last) {
                break;
            }
        }
        came
    }

    /// A reading, SI.
    pub fn value(&self, name: &str) -> f64 {
        let (component, reading) =
            self.plant.compiled.reading(name).unwrap_or_else(|| panic!("no reading {name}"));
        self.plant.reading(component, reading)
    }

    /// Sets a fault at once.
    pub fn fault(&mut self, name: &str, fault: &str, severity: f64) {
        let component = self.plant.compiled.component(name).expect("a component");
        let faults = self.plant.compiled.spec.components[component].kind.faults;
        let index = faults.iter().position(|def| def.name == fault).expect("a fault");
        self.plant.set_fault(component, index, severity, 0.0);
    }

    fn meant(&self, words: &str, remote: bool) -> (usize, Act) {
        let parts: Vec<&str> = words.split(' ').collect();
        let component =
            self.plant.compiled.component(parts[1]).unwrap_or_else(|| panic!("no component {}", parts[1]));
        let acts = self.plant.compiled.spec.components[component].kind.acts;
        let setting = if parts[0] == "set" { parts[2] } else { "" };
        let index = acts.iter().position(|act| act.verb.word() == parts[0] && act.setting == setting);
        let index = index.unwrap_or_else(|| panic!("cannot {words}"));
        let value = match (&acts[index].takes, acts[index].verb) {
            (Some(ParamType::Choice(known)), Verb::Set) => {
                let said = parts[3..].join(" ");
                known.iter().position(|word| *word == said).expect("a known word") as f64
            }
            (Some(ParamType::Quantity { dimension, .. }), _) => {
                parse_quantity(&parts[3..].join(" "), *dimension).expect("a quantity")
            }
            _ => 0.0,
        };
        (component, Act { index, value, remote })
    }

    /// What stands in the way, for a hand at the component.
    pub fn blocks(&self, words: &str) -> Vec<Block> {
        let (component, act) = self.meant(words, false);
        self.plant.permit(component, act)
    }

    /// What stands in the way, from a panel.
    pub fn blocks_remote(&self, words: &str) -> Vec<Block> {
        let (component, act) = self.meant(words, true);
        self.plant.permit(component, act)
    }

    /// Does it; it must be possible.
    pub fn act(&mut self, words: &str) {
        let blocks = self.blocks(words);
        assert!(blocks.is_empty(), "{words}: {blocks:?}");
        let (component, act) = self.meant(words, false);
        self.plant.act(component, act);
    }

    /// Does it from a panel; it must be possible.
    pub fn act_remote(&mut self, words: &str) {
        let blocks = self.blocks_remote(words);
        assert!(blocks.is_empty(), "{words}: {blocks:?}");
        let (component, act) = self.meant(words, true);
        self.plant.act(component, act);
    }

    /// Steps until it is so; the seconds that passed, `None` when the time ran out.
    pub fn until(&mut self, seconds: f64, so: impl Fn(&Hands) -> bool) -> Option<f64> {
        for tick in 0..(seconds * 20.0) as u64 {
            if so(self) {
                return Some(tick as f64 / 20.0);
            }
            self.run(0.05);
        }
        None
    }

    /// Is the switch closed, the machine running?
    pub fn is(&self, name: &str) -> bool {
        self.value(name) > 0.5
    }
}
