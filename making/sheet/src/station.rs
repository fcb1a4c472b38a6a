//! What a station says, before it is set on screen or paper.

use ink::Figure;

/// One section of the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Station {
    /// Its name, also its address on the page: "evidence", "outline" ...
    pub id: &'static str,
    /// Its place in the job, from 1.
    pub number: usize,
    /// The question it answers.
    pub question: &'static str,
    /// How its answer stands.
    pub state: State,
    /// The answer in one phrase.
    pub answer: String,
    /// Pictures, tables and words, from top to bottom.
    pub blocks: Vec<Block>,
    /// What was taken for true without evidence, and the key of job.toml that changes it.
    pub assumed: Vec<[String; 2]>,
    /// What is least sure, most important first.
    pub doubts: Vec<Doubt>,
    /// What evidence it waits for.
    pub wants: Vec<Want>,
}

/// How an answer stands; told by a sign and a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// From evidence alone.
    Answered,
    /// Something was taken for true.
    Assumed,
    /// There is nothing to answer from yet.
    Waiting,
    /// Evidence and decision, or two pieces of evidence, can't both be right.
    Contradicted,
}

impl State {
    /// The word beside the sign.
    pub fn word(self) -> &'static str {
        match self {
            State::Answered => "answered",
            State::Assumed => "answered, with an assumption",
            State::Waiting => "waiting for evidence",
            State::Contradicted => "contradicted",
        }
    }
}

/// A piece of a section.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A picture.
    Picture {
        /// For paper and wide screens.
        wide: Figure,
        /// The same for a screen as narrow as a hand; absent: the wide one is readable there too.
        narrow: Option<Figure>,
        /// What stands below it.
        caption: String,
    },
    /// Numbers.
    Table(Table),
    /// A paragraph.
    Words(String),
    /// A list of short lines.
    List(Vec<String>),
}

/// Numbers in columns.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// What the table holds.
    pub caption: String,
    /// Column names; the first column names the rows.
    pub columns: Vec<String>,
    /// Width of each column as a share of the whole.
    pub shares: Vec<f64>,
    /// Rows, each as long as `columns`.
    pub rows: Vec<Vec<Cell>>,
}

/// What stands in a table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cell {
    /// Its words or number.
    pub text: String,
    /// How it stands out.
    pub emphasis: Emphasis,
    /// Whether it is set in tabular figures.
    pub figures: bool,
}

/// How a cell stands out; never by colour alone: the text says it too.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Emphasis {
    /// Plain.
    #[default]
    Plain,
    /// What goes on into the job.
    Used,
    /// What the person decided.
    Decided,
    /// What contradicts other evidence.
    Contradicted,
}

impl Cell {
    /// Words.
    pub fn words(text: impl Into<String>) -> Self {
        Cell { text: text.into(), ..Cell::default() }
    }

    /// A number, set in tabular figures.
    pub fn number(text: impl Into<String>) -> Self {
        Cell { text: text.into(), figures: true, ..Cell::default() }
    }

    /// The same, standing out.
    pub fn standing(mut self, emphasis: Emphasis) -> Self {
        self.emphasis = emphasis;
        self
    }
}

/// Something unsure, and what would settle it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// What is unsure.
    pub text: String,
    /// The action that would settle it; may be empty.
    pub settle: String,
}

/// Evidence that is wanted, and how to give it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Want {
    /// What is wanted, and what it would answer.
    pub text: String,
    /// The lines of job.toml that give it.
    pub example: String,
}
