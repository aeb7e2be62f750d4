import type { Ledger } from '../../context.ts';
import type { Typed } from '../../reading.ts';
import { allStandingTickets, type Ticket } from '../../tickets/queries.ts';
import type { MassUnit } from '../../units/mass.ts';
import { ticketName } from '../compute.ts';

/** What is asked of an export beside its name: a unit for its weights, and the filters of the page it belongs to. */
export interface ExportQuery {
  /** Null for the units that the export has of itself. */
  readonly unit: MassUnit | null;
  readonly typed: Typed;
}

/** One file that can be exported: its columns in order, and its rows as cells by column. */
export interface ExportFile<Column extends string = string> {
  readonly name: string;
  /** One sentence for the page. */
  readonly sentence: string;
  readonly columns: readonly Column[];
  /** The columns that hold free text, which a spreadsheet might take for a formula. */
  readonly texts: readonly Column[];
  /** Of what grows with the years one after the other, so that no file has to fit into memory. */
  rows(ledger: Ledger, query: ExportQuery): Iterable<Readonly<Record<Column, string>>>;
}

/** Keeps the names of the columns as types, so that a row cannot leave one out. */
export const exportFile = <const Column extends string>(file: ExportFile<Column>): ExportFile => file;

/** Every standing ticket in the order of sale, with the name that tells it apart from others of its number. */
export function namedTickets({ db }: Ledger): { ticket: Ticket; name: string }[] {
  const usedAt = new Map<number, Set<string>>();
  return allStandingTickets(db).map((ticket) => {
    const used = usedAt.get(ticket.yard_id) ?? new Set<string>();
    usedAt.set(ticket.yard_id, used);
    return { ticket, name: ticketName(ticket.number, used) };
  });
}
