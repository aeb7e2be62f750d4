/** One thing that was found: its name, which is the link, what else is said of it, and the words that matched. */
export interface Hit {
  href: string;
  name: string;
  facts: string;
  /** The lines of its own words that matched; '' when its name did. */
  text: string;
}

/** What is searched with: the text as typed, its words, and the same as a question to the kept words. */
export interface Asked {
  text: string;
  words: string[];
  match: string;
}

/** Facts beside a name, those that are there. */
export const factsOf = (...facts: (string | null)[]): string =>
  facts.filter((fact) => fact !== null && fact !== '').join(' · ');
