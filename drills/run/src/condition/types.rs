//! Types of a condition: found before it is ever evaluated, so that nothing can go wrong in the middle of a run.

use super::translate::Translated;
use super::{Source, Wrong};
use cel::common::ast::{Expr, IdedExpr, LiteralValue, operators};
use deadship_plant::file::toml_reader::nearest;
use deadship_plant::unit::{Dimension, parse_quantity};

#[derive(Clone, Copy, PartialEq, Eq)]
enum Type {
    /// Of this dimension; `None`: a plain number, or of whatever a product is.
    Number(Option<Dimension>),
    Truth,
    Text,
}

impl Type {
    fn name(self) -> &'static str {
        match self {
            Type::Number(_) => "a number",
            Type::Truth => "true or false",
            Type::Text => "a text",
        }
    }

    fn is_like(self, other: Type) -> bool {
        matches!(
            (self, other),
            (Type::Number(_), Type::Number(_)) | (Type::Truth, Type::Truth) | (Type::Text, Type::Text)
        )
    }
}

/// Checks that the whole is true or false.
pub(super) fn check(expr: &IdedExpr, of: &Translated) -> Result<(), Wrong> {
    match of.type_of(&expr.expr)? {
        Type::Truth => Ok(()),
        other => Err(of.wrong(
            &[expr],
            format!("the condition is {}, it must be true or false: compare it with something", other.name()),
        )),
    }
}

impl Translated {
    fn type_of(&self, expr: &Expr) -> Result<Type, Wrong> {
        match expr {
            Expr::Literal(LiteralValue::Boolean(_)) => Ok(Type::Truth),
            Expr::Literal(LiteralValue::Double(_)) => Ok(Type::Number(None)),
            Expr::Literal(LiteralValue::String(_)) => Ok(Type::Text),
            Expr::Ident(name) => match self.find(name).map(|(source, ..)| source) {
                Some(Source::Reading { words: [], dimension, .. } | Source::Number { dimension, .. }) => {
                    Ok(Type::Number(Some(dimension).filter(|of| *of != Dimension::None)))
                }
                Some(Source::Time) => Ok(Type::Number(Some(Dimension::Time))),
                Some(Source::Reading { .. } | Source::Decided(_)) => Ok(Type::Text),
                Some(Source::Alert(_) | Source::Fault(..) | Source::Done(_)) => Ok(Type::Truth),
                None => Err(self.wrong(&[], format!("`{name}` has no meaning in a condition"))),
            },
            Expr::Call(call) if call.target.is_none() => {
                let args: Result<Vec<Type>, Wrong> =
                    call.args.iter().map(|arg| self.type_of(&arg.expr)).collect();
                let args = args?;
                if matches!(call.func_name.as_str(), operators::EQUALS | operators::NOT_EQUALS) {
                    self.check_words(&call.args[0].expr, &call.args[1].expr)?;
                    self.check_words(&call.args[1].expr, &call.args[0].expr)?;
                }
                self.type_of_call(&call.func_name, &args, &call.args)
            }
            _ => Err(self.wrong(&[], "the condition holds something that has no meaning in it".to_owned())),
        }
    }

    fn type_of_call(&self, operator: &str, args: &[Type], written: &[IdedExpr]) -> Result<Type, Wrong> {
        use Type::{Number, Text, Truth};
        let said = operator.replace('_', " ");
        let said = said.trim();
        let all: Vec<&IdedExpr> = written.iter().collect();
        let need = |wanted: Type, gives: Type| match args.iter().find(|arg| !arg.is_like(wanted)) {
            None => Ok(gives),
            Some(arg) => {
                let message = format!("`{said}` joins what is {}; here is {}", wanted.name(), arg.name());
                Err(Wrong { help: self.words_of(&all), ..self.wrong(&all, message) })
            }
        };
        match operator {
            operators::LOGICAL_AND | operators::LOGICAL_OR | operators::LOGICAL_NOT => need(Truth, Truth),
            operators::NEGATE => need(Number(None), args[0]),
            operators::ADD | operators::SUBSTRACT => {
                need(Number(None), Truth)?;
                self.check_dimensions(args, written)?;
                Ok(sum(operator, args[0], args[1]))
            }
            operators::MULTIPLY => need(Number(None), Number(None)),
            operators::DIVIDE => {
                need(Number(None), Truth)?;
                match is_zero(&written[1].expr) {
                    true => Err(self.wrong(&all, "this is divided by zero".to_owned())),
                    false => Ok(Number(None)),
                }
            }
            operators::LESS | operators::LESS_EQUALS | operators::GREATER | operators::GREATER_EQUALS => {
                need(Number(None), Truth)?;
                self.check_dimensions(args, written)?;
                Ok(Truth)
            }
            operators::EQUALS | operators::NOT_EQUALS => {
                match args {
                    [Number(_), _] => need(Number(None), Truth)?,
                    [Text, _] => need(Text, Truth)?,
                    _ => need(Truth, Truth)?,
                };
                self.check_dimensions(args, written)?;
                Ok(Truth)
            }
            operators::CONDITIONAL => match args {
                [Truth, a, b] if a.is_like(*b) => Ok(*a),
                _ => Err(self.wrong(&all, "`? :` needs a condition and two values of one type".to_owned())),
            },
            _ => Err(self.wrong(&all, format!("`{said}` has no meaning in a condition"))),
        }
    }

    /// A current is not compared with a time.
    fn check_dimensions(&self, args: &[Type], written: &[IdedExpr]) -> Result<(), Wrong> {
        let [Type::Number(Some(one)), Type::Number(Some(other))] = args else { return Ok(()) };
        let is_temperature =
            |of: &Dimension| matches!(of, Dimension::Temperature | Dimension::TemperatureDifference);
        if one == other || is_temperature(one) && is_temperature(other) {
            return Ok(());
        }
        // A unit may be of several dimensions: the other side says which is meant.
        let fits = |expr: &IdedExpr, dimension| match self.named(&expr.expr) {
            Some((Source::Number { .. }, _, text)) => parse_quantity(&spaced(text), dimension).is_ok(),
            _ => false,
        };
        if fits(&written[0], *other) || fits(&written[1], *one) {
            return Ok(());
        }
        let of = |expr: &IdedExpr, dimension: &Dimension| match self.named(&expr.expr) {
            Some((_, _, text)) => format!("`{text}` is of {}", dimension.name()),
            None => format!("one side is of {}", dimension.name()),
        };
        let message = format!("{}, {}", of(&written[0], one), of(&written[1], other));
        Err(self.wrong(&[&written[1], &written[0]], format!("{message}: they cannot be compared")))
    }

    /// A word that a reading never has would make a condition that is never true.
    fn check_words(&self, reading: &Expr, literal: &Expr) -> Result<(), Wrong> {
        let (Expr::Ident(name), Expr::Literal(LiteralValue::String(text))) = (reading, literal) else {
            return Ok(());
        };
        let Some((source, at, reading)) = self.find(name) else { return Ok(()) };
        let words = self.words(source);
        let text = text.inner();
        if words.is_empty() || words.contains(&text) {
            return Ok(());
        }
        const FEW: usize = 3;
        let help = match nearest(text, words.iter().copied()).filter(|_| words.len() > FEW) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("its words are {}", words.join(", ")),
        };
        Err(Wrong { at, message: format!("`{reading}` is never \"{text}\""), help: Some(help) })
    }

    /// The words that something can be; none for what is a number.
    fn words(&self, source: Source) -> Vec<&str> {
        match source {
            Source::Reading { words, .. } => words.to_vec(),
            Source::Decided(index) => self
                .decisions
                .get(index)
                .map_or(Vec::new(), |(_, words)| words.iter().map(String::as_str).collect()),
            _ => Vec::new(),
        }
    }

    /// What the first reading of words among these can be.
    fn words_of(&self, parts: &[&IdedExpr]) -> Option<String> {
        parts.iter().find_map(|part| match self.named(&part.expr)? {
            (source @ (Source::Reading { words: [_, ..], .. } | Source::Decided(_)), _, text) => {
                let words = self.words(source);
                let words: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
                Some(format!("`{text}` is one of {}", words.join(", ")))
            }
            (Source::Reading { dimension, .. }, _, text) if dimension != Dimension::None => {
                Some(format!("`{text}` is a number, of {}", dimension.name()))
            }
            _ => None,
        })
    }

    /// What a name of the translated condition stands for, where it is written first, and how.
    fn find(&self, name: &str) -> Option<(Source, usize, &str)> {
        let index = self.binds.iter().position(|(bound, _)| bound == name)?;
        let (at, text) = self.written.get(index)?;
        Some((self.binds[index].1, *at, text))
    }

    fn named(&self, expr: &Expr) -> Option<(Source, usize, &str)> {
        if let Expr::Ident(name) = expr { self.find(name) } else { None }
    }

    /// Something wrong with these parts: where the first named one of the first of them stands.
    fn wrong(&self, parts: &[&IdedExpr], message: String) -> Wrong {
        let at = parts.iter().find_map(|part| self.first(&part.expr)).unwrap_or(0);
        Wrong { at, message, help: None }
    }

    fn first(&self, expr: &Expr) -> Option<usize> {
        match expr {
            Expr::Call(call) => call.args.iter().find_map(|arg| self.first(&arg.expr)),
            other => self.named(other).map(|(_, at, _)| at),
        }
    }
}

/// What a sum or a difference is of.
fn sum(operator: &str, one: Type, other: Type) -> Type {
    use Dimension::{Temperature, TemperatureDifference};
    match (one, other) {
        (Type::Number(Some(Temperature)), Type::Number(Some(Temperature)))
            if operator == operators::SUBSTRACT =>
        {
            Type::Number(Some(TemperatureDifference))
        }
        (Type::Number(None), other) => other,
        (one, _) => one,
    }
}

/// Every name that stands alone in the condition, or is joined to all else by `&&`.
pub(super) fn joined(expr: &Expr, take: &mut impl FnMut(&str)) {
    match expr {
        Expr::Ident(name) => take(name),
        Expr::Call(call) if call.func_name == operators::LOGICAL_AND => {
            call.args.iter().for_each(|arg| joined(&arg.expr, take));
        }
        _ => {}
    }
}

fn is_zero(expr: &Expr) -> bool {
    matches!(expr, Expr::Literal(LiteralValue::Double(number)) if *number.inner() == 0.0)
}

/// A number and its unit, which in conditions may stand close together.
fn spaced(text: &str) -> String {
    let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | 'e' | 'E' | '+' | '-');
    let end = text.find(|c: char| !is_number(c)).unwrap_or(text.len());
    format!("{} {}", &text[..end], text[end..].trim())
}
