//! A sheet as one HTML page to print.

use maud::{DOCTYPE, Markup, PreEscaped, html as markup};

use super::{Sheet, SheetLine, SheetPhrase};
use crate::figure;
use crate::review::caution::CAUTION;
use crate::review::html::{PAPER, STYLE, margins};
use crate::safe_text;

/// What a sheet looks like besides what all reports do: large enough for a music stand.
const SHEET_STYLE: &str = "
table.sheet { font-size: 1.02rem; } table.sheet td { padding: .28rem .6rem .28rem 0; }
table.sheet td.attack { width: 34%; } table.sheet td.reply { width: 30%; border-left: 2px solid var(--ink); padding-left: .6rem; }
table.sheet td.drawn { width: 13mm; padding-block: .1rem; line-height: 0; } td.drawn svg { width: 11mm; height: 11mm; --you: var(--ink); --line: #7d8793; }
.own { font-weight: 750; } .d1 { padding-left: 1.4rem !important; } .d2 { padding-left: 2.8rem !important; }
tr.across td { color: var(--quiet); font-style: italic; } .finding { border-left: 4px solid var(--mark); padding-left: .5rem; font-style: normal; font-size: .88rem; color: var(--ink); }
section.phrase-sheet { display: flow-root; } figure.marks { float: right; width: 60mm; margin: 0 0 .5rem 1rem; break-inside: avoid; } figure.marks svg { display: block; width: 100%; max-height: 60mm; } figure.marks figcaption { font-size: .85rem; } section.phrase-sheet > .scroll, section.phrase-sheet > table { clear: both; }
@media print {
  table.sheet { font-size: 10pt; } section.phrase-sheet { break-inside: auto; }
  h2, section.phrase-sheet > p { break-after: avoid; } table.sheet thead { display: table-header-group; }
  table.sheet tr { break-inside: avoid; } table.sheet tbody tr:first-child { break-after: avoid; }
}
@media screen and (max-width: 40rem) {
  table.sheet, table.sheet tbody, table.sheet tr { display: block; } table.sheet thead { display: none; }
  table.sheet tr { border-top: 1px solid var(--ink); padding: .3rem 0; }
  table.sheet td, table.sheet td.attack, table.sheet td.reply { display: inline-block; width: auto; border: 0; padding: .1rem .6rem .1rem 0; }
  table.sheet td.attack, table.sheet td.reply { display: block; }
}
";

/// The sheet as a page.
pub fn html(sheet: &Sheet) -> String {
    let own = sheet.of.is_some();
    let page = markup! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (sheet.fight) ": fight sheet" @if let Some(of) = &sheet.of { ", " (of) } }
                style { (PreEscaped(STYLE)) (PreEscaped(PAPER)) (PreEscaped(SHEET_STYLE)) (PreEscaped(figure::STYLE)) (PreEscaped(margins(&sheet.head()))) }
            }
            body.report {
                header {
                    h1 { (sheet.fight) @if let Some(of) = &sheet.of { ": " (of) } }
                    p.quiet { (sheet.head()) }
                    p { (sheet.tempo) ". " (sheet.fighters.join("; ")) "." @if !sheet.bystanders.is_empty() { " On the stage besides: " (sheet.bystanders.join(", ")) "." } }
                    @for caution in &sheet.cautions { p { strong { (caution) } } }
                }
                main { @for phrase in &sheet.phrases { (a_phrase(phrase, own)) } }
                footer { p.caution { (CAUTION) } }
            }
        }
    };
    safe_text::page(page)
}

fn a_phrase(phrase: &SheetPhrase, own: bool) -> Markup {
    markup! {
        section.phrase-sheet {
            h2 { (phrase.number) ". " (phrase.name) }
            @if let Some((plan, key)) = &phrase.plan { figure.marks { (PreEscaped(plan)) figcaption { (key) } } }
            p.quiet { (phrase.length) @for place in &phrase.places { br; (place) } }
            @if !phrase.near.is_empty() { p.near { strong { "Passing near" } @for said in &phrase.near { br; (said) } } }
            @for finding in &phrase.findings { p.finding { (finding) } }
            table.sheet {
                thead { tr { th scope="col" { "Move" } th.num scope="col" { "Beat" } th scope="col" { "Picture" } @if own { th.num scope="col" { "After" } } th scope="col" { "Attack" } th scope="col" { "Reply" } th scope="col" { "Sound, words" } } }
                tbody { @for it in &phrase.lines { (a_line(it, own)) } }
            }
            @if let Some(fastest) = &phrase.fastest { p.quiet { (fastest) } }
        }
    }
}

fn a_line(it: &SheetLine, own: bool) -> Markup {
    let depth = match it.depth {
        0 => "",
        1 => " d1",
        _ => " d2",
    };
    let class = |base: &str, own: bool| format!("{base}{depth}{}", if own { " own" } else { "" });
    markup! {
        @if it.across {
            tr.across {
                td {}
                td.num { (it.beat) }
                td {}
                @if own { td {} }
                td colspan="3" class=(depth.trim()) { (it.attack) (findings(it)) }
            }
        } @else {
            tr {
                td.quiet { (it.numbers) }
                td.num { (it.beat) }
                td.drawn { @if let Some(picture) = &it.picture { (PreEscaped(picture)) } }
                @if own { td.num { (it.after.as_deref().unwrap_or("")) } }
                td class=(class("attack", it.own.0)) { (it.attack) (findings(it)) }
                td class=(if it.own.1 { "reply own" } else { "reply" }) { (it.reply) }
                td { (it.sounds) @if !it.text.is_empty() { " “" (it.text) "”" } }
            }
        }
    }
}

fn findings(it: &SheetLine) -> Markup {
    markup! { @for finding in &it.findings { div.finding { (finding) } } }
}
