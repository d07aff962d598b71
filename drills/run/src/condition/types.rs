//! Types of a condition: found before it is ever evaluated, so that nothing can go wrong in the middle of a run.

use super::Source;
use cel::common::ast::{Expr, LiteralValue, operators};
use deadship_plant::file::toml_reader::nearest;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Type {
    Number,
    Truth,
    Text,
}

impl Type {
    fn name(self) -> &'static str {
        match self {
            Type::Number => "a number",
            Type::Truth => "true or false",
            Type::Text => "a text",
        }
    }
}

/// What the names of a condition stand for.
struct Known<'a> {
    binds: &'a [(String, Source)],
    decisions: &'a [(String, Vec<String>)],
}

impl Known<'_> {
    fn source(&self, name: &str) -> Option<Source> {
        self.binds.iter().find(|(bound, _)| bound == name).map(|(_, source)| *source)
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
}

/// Checks that the whole is true or false.
pub(super) fn check(
    expr: &cel::common::ast::IdedExpr,
    binds: &[(String, Source)],
    decisions: &[(String, Vec<String>)],
) -> Result<(), String> {
    match type_of(&expr.expr, &Known { binds, decisions })? {
        Type::Truth => Ok(()),
        other => Err(format!(
            "the condition is {}, it must be true or false: compare it with something",
            other.name()
        )),
    }
}

fn type_of(expr: &Expr, known: &Known<'_>) -> Result<Type, String> {
    match expr {
        Expr::Literal(LiteralValue::Boolean(_)) => Ok(Type::Truth),
        Expr::Literal(LiteralValue::Double(_)) => Ok(Type::Number),
        Expr::Literal(LiteralValue::String(_)) => Ok(Type::Text),
        Expr::Ident(name) => match known.source(name) {
            Some(Source::Reading { words: [], .. } | Source::Time) => Ok(Type::Number),
            Some(Source::Reading { .. } | Source::Decided(_)) => Ok(Type::Text),
            Some(Source::Alert(_) | Source::Fault(..) | Source::Done(_)) => Ok(Type::Truth),
            None => Err(format!("`{name}` has no meaning in a condition")),
        },
        Expr::Call(call) if call.target.is_none() => {
            let args: Result<Vec<Type>, String> =
                call.args.iter().map(|arg| type_of(&arg.expr, known)).collect();
            let args = args?;
            if matches!(call.func_name.as_str(), operators::EQUALS | operators::NOT_EQUALS) {
                check_words(&call.args[0].expr, &call.args[1].expr, known)?;
                check_words(&call.args[1].expr, &call.args[0].expr, known)?;
            }
            type_of_call(&call.func_name, &args)
        }
        _ => Err("the condition holds something that has no meaning in it".to_owned()),
    }
}

fn type_of_call(operator: &str, args: &[Type]) -> Result<Type, String> {
    use Type::{Number, Text, Truth};
    let said = operator.replace('_', " ");
    let need = |wanted: Type, gives: Type| match args.iter().find(|arg| **arg != wanted) {
        None => Ok(gives),
        Some(arg) => {
            Err(format!("`{}` joins what is {}; here is {}", said.trim(), wanted.name(), arg.name()))
        }
    };
    match operator {
        operators::LOGICAL_AND | operators::LOGICAL_OR | operators::LOGICAL_NOT => need(Truth, Truth),
        operators::ADD
        | operators::SUBSTRACT
        | operators::MULTIPLY
        | operators::DIVIDE
        | operators::NEGATE => need(Number, Number),
        operators::LESS | operators::LESS_EQUALS | operators::GREATER | operators::GREATER_EQUALS => {
            need(Number, Truth)
        }
        operators::EQUALS | operators::NOT_EQUALS => match args {
            [Number, _] => need(Number, Truth),
            [Text, _] => need(Text, Truth),
            _ => need(Truth, Truth),
        },
        operators::CONDITIONAL => match args {
            [Truth, a, b] if a == b => Ok(*a),
            _ => Err("`? :` needs a condition and two values of one type".to_owned()),
        },
        _ => Err(format!("`{}` has no meaning in a condition", said.trim())),
    }
}

/// A word that a reading never has would make a condition that is never true.
fn check_words(reading: &Expr, literal: &Expr, known: &Known<'_>) -> Result<(), String> {
    let (Expr::Ident(name), Expr::Literal(LiteralValue::String(text))) = (reading, literal) else {
        return Ok(());
    };
    let Some(source) = known.source(name) else { return Ok(()) };
    let words = known.words(source);
    let it = if matches!(source, Source::Decided(_)) { "the decision" } else { "the reading" };
    let text = text.inner();
    if words.is_empty() || words.contains(&text) {
        return Ok(());
    }
    match nearest(text, words.iter().copied()) {
        Some(near) => Err(format!("{it} is never \"{text}\": did you mean \"{near}\"?")),
        None => Err(format!("{it} is never \"{text}\"; its words are {}", words.join(", "))),
    }
}
