import type { Ledger } from '../context.ts';
import type { Flag } from '../db/columns.ts';
import { coverShortfall, openBin, refuseFuture } from '../ledger/acts.ts';
import { balanceOf, binAccount, loadAccount } from '../ledger/queries.ts';
import { postTransfer, reverseGiven, reverseTransfers, standingTransfers } from '../ledger/transfers.ts';
import { Refusal } from '../refusal.ts';
import { noteEvent } from '../trail.ts';
import { type Day, writeDay } from '../units/day.ts';
import { findManifest, insertLoadReturn, insertLoadReturnUndone, type Load } from './queries.ts';

/** Moves an unsold load back to the bin it came from. The caller has made sure that no ticket pays for it. */
export function postLoadReturn(
  ledger: Ledger,
  load: Load,
  returnedOn: Day,
  reason: string,
  undoesLoading: Flag = 0,
): void {
  const { db, clock } = ledger;
  openBin(ledger, load.bin_id, '');
  refuseFuture(ledger, returnedOn, 'returnedOn');
  const loadedOn = findManifest(db, load.manifest_id)?.loaded_on ?? null;
  if (loadedOn !== null && returnedOn < loadedOn) {
    const say = `This is before ${writeDay(loadedOn)}, the day the manifest was loaded. Check the day.`;
    throw new Refusal('day_before_loading', 'returnedOn', say);
  }
  if (load.load_return_id !== null)
    throw new Refusal('load_returned', '', `Load ${load.label} was already brought back.`);
  const account = loadAccount(db, load.id);
  const id = insertLoadReturn(db, {
    manifest_line_id: load.id,
    returned_on: returnedOn,
    recorded_at: clock.now(),
    reason,
    undoes_loading: undoesLoading,
  });
  postTransfer(ledger, {
    from: account,
    to: binAccount(db, load.bin_id),
    gradeId: load.grade_id,
    massUg: balanceOf(db, account, load.grade_id),
    occurredOn: returnedOn,
    reason: undoesLoading === 1 ? 'loading taken back' : 'brought back unsold',
    document: { kind: 'load_return', id },
  });
  if (undoesLoading === 0) noteEvent(ledger, 'brought a load back', 'manifest_line', load.id);
}

/**
 * Takes a load's loading back: it returns to its bin on the day it left, and what the load-out weight booked as a count
 * difference is reversed, so that the bin is as if it had never been loaded.
 */
export function postLoadingUndone(ledger: Ledger, load: Load, loadedOn: Day): void {
  postLoadReturn(ledger, load, loadedOn, '', 1);
  const account = loadAccount(ledger.db, load.id);
  const counted = standingTransfers(ledger.db, 'manifest_line', load.id).filter(
    (transfer) => transfer.to_account_id !== account && transfer.from_account_id !== account,
  );
  reverseGiven(ledger, counted, 'loading taken back');
}

/**
 * Takes a return back: the load was sold after all, and waits for its ticket line again.
 * @param bookShortfall a bin that holds less than the load by now is booked as a count difference instead of asked about
 */
export function postLoadReturnUndone(ledger: Ledger, load: Load, bookShortfall: boolean): void {
  const { db, clock } = ledger;
  if (load.load_return_id === null) throw new Refusal('already_undone', '', `Load ${load.label} is not in its bin.`);
  if (load.undoes_loading === 1) {
    throw new Refusal('manifest_not_loaded', '', 'This loading was taken back. Load its copy, a new draft, instead.');
  }
  const [returned] = standingTransfers(db, 'load_return', load.load_return_id);
  if (returned === undefined) throw new Error(`return ${load.load_return_id} moved nothing`);
  coverShortfall(ledger, {
    binId: load.bin_id,
    leavingUg: returned.mass_ug,
    // A reversal counts for the day of what it reverses, and what it needs must be there that day.
    day: returned.occurred_on,
    confirmed: bookShortfall,
    // Booked on the load, because every transfer of the return itself is about to be reversed.
    document: { kind: 'manifest_line', id: load.id },
  });
  reverseTransfers(ledger, 'load_return', load.load_return_id, 'not brought back after all');
  insertLoadReturnUndone(db, load.load_return_id, clock.now());
  noteEvent(ledger, 'took a return back', 'manifest_line', load.id);
}
