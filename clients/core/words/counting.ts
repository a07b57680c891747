// Numbers and what is counted, as a language has them: its own grouping of digits, its own plural.

/** What stands behind a number, for each kind of plural that the language has; `other` where a kind has none of its own. */
export type Forms = Partial<Record<Intl.LDMLPluralRule, string>> & { other: string };

/** Says a count with what is counted, in the language of that tag. */
export function counting(language: string): (count: number, forms: Forms) => string {
  const rules = new Intl.PluralRules(language);
  const digits = new Intl.NumberFormat(language);
  return (count, forms) => `${digits.format(count)} ${forms[rules.select(count)] ?? forms.other}`;
}
