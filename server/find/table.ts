/** The words of documents, kept by triggers; see migrations/0005_find.sql for the kinds behind the row ids. */
export interface FoundTable {
  rowid: number;
  text: string;
  /** FTS5 takes the whole table's name on the left of `match`. */
  found: string;
}
