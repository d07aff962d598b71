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

/// Checks that the whole is true or false.
pub(super) fn check(expr: &cel::common::ast::IdedExpr, binds: &[(String, Source)]) -> Result<(), String> {
    match type_of(&expr.expr, binds)? {
        Type::Truth => Ok(()),
        other => Err(format!(
            "the condition is {}, it must be true or false: compare it with something",
            other.name()
        )),
    }
}

fn type_of(expr: &Expr, binds: &[(String, Source)]) -> Result<Type, String> {
    match expr {
        Expr::Literal(LiteralValue::Boolean(_)) => Ok(Type::Truth),
        Expr::Literal(LiteralValue::Double(_)) => Ok(Type::Number),
        Expr::Literal(LiteralValue::String(_)) => Ok(Type::Text),
        Expr::Ident(name) => match source_of(name, binds) {
            Some(Source::Reading { words: [], .. } | Source::Time) => Ok(Type::Number),
            Some(Source::Reading { .. }) => Ok(Type::Text),
            Some(Source::Alert(_) | Source::Fault(..) | Source::Done(_)) => Ok(Type::Truth),
            None => Err(format!("`{name}` has no meaning in a condition")),
        },
        Expr::Call(call) if call.target.is_none() => {
            let args: Result<Vec<Type>, String> =
                call.args.iter().map(|arg| type_of(&arg.expr, binds)).collect();
            let args = args?;
            if matches!(call.func_name.as_str(), operators::EQUALS | operators::NOT_EQUALS) {
                check_words(&call.args[0].expr, &call.args[1].expr, binds)?;
                check_words(&call.args[1].expr, &call.args[0].expr, binds)?;
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
fn check_words(reading: &Expr, literal: &Expr, binds: &[(String, Source)]) -> Result<(), String> {
    let (Expr::Ident(name), Expr::Literal(LiteralValue::String(text))) = (reading, literal) else {
        return Ok(());
    };
    let Some(Source::Reading { words, .. }) = source_of(name, binds) else { return Ok(()) };
    let text = text.inner();
    if words.is_empty() || words.contains(&text) {
        return Ok(());
    }
    match nearest(text, words.iter().copied()) {
        Some(near) => Err(format!("the reading is never \"{text}\": did you mean \"{near}\"?")),
        None => Err(format!("the reading is never \"{text}\"; its words are {}", words.join(", "))),
    }
}

fn source_of(name: &str, binds: &[(String, Source)]) -> Option<Source> {
    binds.iter().find(|(bound, _)| bound == name).map(|(_, source)| *source)
}
