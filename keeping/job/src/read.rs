use crate::document::{Document, FORMAT};
use crate::problem::Problem;
use crate::verify::verify;

/// A document larger than this is refused unread: ten thousand samples fit in it.
pub const MAX_DOCUMENT_BYTES: usize = 4 << 20;

/// Reads a document and checks what its types can't: names that must differ, references, signs, ranges. Everything found is
/// returned at once, in the order of the file. A type or syntax error comes alone: behind it nothing can be trusted.
pub fn read(text: &str) -> Result<Document, Vec<Problem>> {
    if text.len() > MAX_DOCUMENT_BYTES {
        return Err(vec![at_top(
            format!("the document has {} bytes; at most {MAX_DOCUMENT_BYTES} are read", text.len()),
            "split the job, or move long traces out of it",
        )]);
    }
    let tree = toml_edit::Document::parse(text).map_err(|e| vec![syntax(text, e.span(), e.message())])?;
    // The format is looked at before the rest, so that a newer document is told apart from a broken one.
    if let Some(problem) = wrong_format(text, &tree) {
        return Err(vec![problem]);
    }
    let document: Document = toml::from_str(text).map_err(|e| vec![syntax(text, e.span(), e.message())])?;
    let mut problems: Vec<(usize, Problem)> = verify(&document).into_iter().map(|finding| place(text, &tree, finding)).collect();
    problems.sort_by_key(|(offset, _)| *offset);
    if problems.is_empty() { Ok(document) } else { Err(problems.into_iter().map(|(_, problem)| problem).collect()) }
}

fn wrong_format(text: &str, tree: &toml_edit::Document<&str>) -> Option<Problem> {
    let item = tree.as_table().get("format");
    if item.and_then(|item| item.as_str()) == Some(FORMAT) {
        return None;
    }
    let found = match item {
        None => "the document does not say its format".to_string(),
        Some(item) => format!("the document's format is {}, this version reads \"{FORMAT}\"", item.to_string().trim()),
    };
    let offset = item.and_then(|item| item.span()).map(|span| span.start);
    let way_out = match item {
        None => format!("put `format = \"{FORMAT}\"` on the first line"),
        Some(_) => "open it with the version that wrote it; nothing was changed".to_string(),
    };
    Some(Problem { file: "job.toml".into(), place: offset.map(|o| line_column(text, o)), key: "format".into(), text: found, way_out })
}

/// A finding of the check: the key it is about, as steps into the tree.
pub(crate) struct Finding {
    pub path: Vec<Step>,
    pub text: String,
    pub way_out: String,
}

/// One step into the document's tree.
#[derive(Clone, Debug)]
pub(crate) enum Step {
    Key(&'static str),
    Name(String),
    Index(usize),
}

fn place(text: &str, tree: &toml_edit::Document<&str>, finding: Finding) -> (usize, Problem) {
    let offset = span_of(tree.as_item(), &finding.path).unwrap_or(0);
    let problem = Problem {
        file: "job.toml".into(),
        place: Some(line_column(text, offset)),
        key: spelled(&finding.path),
        text: finding.text,
        way_out: finding.way_out,
    };
    (offset, problem)
}

/// Where the deepest part of the path that exists starts, as a byte offset.
fn span_of(root: &toml_edit::Item, path: &[Step]) -> Option<usize> {
    let mut offset = None;
    let mut tables = Node::Item(root);
    for step in path {
        let Some(next) = tables.child(step) else { break };
        offset = next.start().or(offset);
        tables = next;
    }
    offset
}

enum Node<'a> {
    Item(&'a toml_edit::Item),
    Value(&'a toml_edit::Value),
    Table(&'a toml_edit::Table),
}

impl<'a> Node<'a> {
    fn child(&self, step: &Step) -> Option<Node<'a>> {
        match (self, step) {
            (Node::Item(item), Step::Index(i)) => match item.as_array_of_tables() {
                Some(tables) => tables.get(*i).map(Node::Table),
                None => item.as_array()?.get(*i).map(Node::Value),
            },
            (Node::Value(value), Step::Index(i)) => value.as_array()?.get(*i).map(Node::Value),
            (Node::Table(_), Step::Index(_)) => None,
            (node, Step::Key(key)) => node.named(key),
            (node, Step::Name(name)) => node.named(name),
        }
    }

    fn named(&self, key: &str) -> Option<Node<'a>> {
        match self {
            Node::Item(item) => match item.as_table_like()?.get(key)? {
                toml_edit::Item::Value(value) => Some(Node::Value(value)),
                other => Some(Node::Item(other)),
            },
            Node::Table(table) => match table.get(key)? {
                toml_edit::Item::Value(value) => Some(Node::Value(value)),
                other => Some(Node::Item(other)),
            },
            Node::Value(value) => value.as_inline_table()?.get(key).map(Node::Value),
        }
    }

    fn start(&self) -> Option<usize> {
        match self {
            Node::Item(item) => item.span(),
            Node::Value(value) => value.span(),
            Node::Table(table) => table.span(),
        }
        .map(|span| span.start)
    }
}

/// Line and column, from 1, of a key spelled like `photo[0].axis`, or of the nearest thing above it; `None` where nothing of it is there.
pub fn locate(text: &str, key: &str) -> Option<(usize, usize)> {
    let tree = toml_edit::Document::parse(text).ok()?;
    let mut path = Vec::new();
    for part in key.split(['.', '[']) {
        match part.strip_suffix(']') {
            Some(index) => path.push(Step::Index(index.parse().ok()?)),
            None => path.push(Step::Name(part.to_string())),
        }
    }
    span_of(tree.as_item(), &path).map(|offset| line_column(text, offset))
}

fn spelled(path: &[Step]) -> String {
    let mut out = String::new();
    for step in path {
        match step {
            Step::Index(i) => out.push_str(&format!("[{i}]")),
            Step::Key(key) if out.is_empty() => out.push_str(key),
            Step::Key(key) => out.push_str(&format!(".{key}")),
            Step::Name(name) => out.push_str(&format!(".{name}")),
        }
    }
    out
}

fn syntax(text: &str, span: Option<std::ops::Range<usize>>, message: &str) -> Problem {
    Problem {
        file: "job.toml".into(),
        place: span.map(|span| line_column(text, span.start)),
        key: String::new(),
        text: message.trim().replace('\n', "; "),
        way_out: "`ringer schema` prints every key with its meaning".into(),
    }
}

fn at_top(text: String, way_out: &str) -> Problem {
    Problem { file: "job.toml".into(), place: None, key: String::new(), text, way_out: way_out.into() }
}

/// Line and column from 1; columns count characters.
fn line_column(text: &str, offset: usize) -> (usize, usize) {
    let before = text.get(..offset.min(text.len())).unwrap_or(text);
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
    (line, column)
}
